// Issue: a compressor that never stops, and a rest that doesn't end, are known by meters too (design, section 6).
import { describe, expect, test } from 'vitest';
import { noteShare, startTold, type ToldByMeter, usualTold } from '../../../analysis/causes/told-by-meter.ts';
import { GeneratorFold } from '../../../analysis/generator-fold.ts';
import type { Channel } from '../../../shared/channels.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { unclaimedGenerator } from '../../../shared/registry.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 5, 1);

function folded(channel: Channel, values: readonly (readonly [minute: number, value: number])[]): ToldByMeter {
  const fold = new GeneratorFold(unclaimedGenerator('a/b' as GeneratorKey), []);
  const waiting = { atMs: values.map(([minute]) => START_MS + minute * MINUTE_MS), channel: values.map(() => channel), value: values.map(([, value]) => value) };
  fold.fold(waiting, values.map((_, index) => index), waiting.atMs.at(-1)!);
  return fold.state.told!;
}

describe('what a meter says of the run under way', () => {
  test('an hour meter that keeps pace with the clock says since when, and one that falls behind, a gap or a reset end it', () => {
    const runs = (upToMinute: number): (readonly [number, number])[] => Array.from({ length: upToMinute / 15 + 1 }, (_, index) => [index * 15, 1000 + (index < 2 ? 0 : (index - 1) * 900)] as const);
    expect(folded('run-time', runs(90)).full).toMatchObject({ sinceMs: START_MS + 15 * MINUTE_MS, times: 5 });
    expect(folded('run-time', [...runs(90), [105, 1000 + 5 * 900 + 300]]).full).toBeNull();
    expect(folded('run-time', [...runs(90), [90 + 180, 1000 + 5 * 900 + 180 * 60]]).full).toBeNull();
    expect(folded('run-time', [...runs(90), [105, 0]]).full).toBeNull();
    expect(folded('run-time', [[0, 1000], [60, 900_000]]).full).toBeNull();
  });

  test('an hour meter that goes by hundredths of an hour says so too, by more and by less than the time that passed', () => {
    const meter = (ranOf: (minute: number) => number): (readonly [number, number])[] => Array.from({ length: 25 }, (_, index) => [5 * index, 36 * Math.floor((1000 + ranOf(5 * index)) / 36)] as const);
    expect(folded('run-time', meter((minute) => 60 * Math.max(0, minute - 20))).full).toMatchObject({ sinceMs: START_MS + 20 * MINUTE_MS });
    // A stop of four minutes ends it.
    expect(folded('run-time', meter((minute) => 60 * Math.max(0, minute - 20) - (minute >= 90 ? 240 : 0))).full!.sinceMs).toBeGreaterThanOrEqual(START_MS + 85 * MINUTE_MS);
  });

  test('so does a duty ratio of one', () => {
    expect(folded('duty', [[0, 0.1], [60, 1], [120, 0.99]]).full).toMatchObject({ sinceMs: START_MS, times: 2 });
    expect(folded('duty', [[0, 1]]).full).toBeNull();
    expect(folded('duty', [[0, 0.1], [60, 1], [120, 0.5]]).full).toBeNull();
  });
});

describe('what a meter says of rests', () => {
  test('a rest lasts from the last report of running to the next, and is known to no less than two reports', () => {
    const told = folded('duty', [[0, 0], [60, 0.2], [120, 0], [180, 0], [240, 0.1], [300, 0], [360, 0]]);
    expect(told.lastRestS).toBe(2 * 3600);
    expect(told).toMatchObject({ restSinceMs: START_MS + 4 * HOUR_MS, atMs: START_MS + 6 * HOUR_MS, spanS: 3600 });
  });

  test('an hour meter says the same, and is heard where a duty ratio is sent too', () => {
    const told = folded('run-time', [[0, 1000], [60, 1600], [120, 1600], [180, 1900]]);
    expect(told.lastRestS).toBe(3600);
    const fold = new GeneratorFold(unclaimedGenerator('a/b' as GeneratorKey), []);
    const at = [0, 60, 90].map((minute) => START_MS + minute * MINUTE_MS);
    fold.fold({ atMs: at, channel: ['run-time', 'run-time', 'duty'], value: [0, 600, 0.9] }, [0, 1, 2], at[2]!);
    expect(fold.state.told!.atMs).toBe(at[1]);
  });

  test('over a gap nothing is known: the rest is counted from its end', () => {
    expect(folded('duty', [[0, 0.1], [60, 0], [60 + 121, 0]])).toMatchObject({ restSinceMs: START_MS + 181 * MINUTE_MS, full: null });
  });
});

describe('usualTold()', () => {
  /** So many days of hourly shares: a run of that share at every `everyH`-th hour. */
  function days(told: ToldByMeter, count: number, everyH: number, share = 0.1): void {
    const hours = count * 24;
    const fromMs = told.atMs;
    for (let hour = 1; hour <= hours; hour += 1) noteShare(told, fromMs + hour * HOUR_MS, hour % everyH === 0 ? share : 0);
  }

  test('is known after a week, by the days before the present one', () => {
    const told = startTold(START_MS);
    days(told, 6, 6);
    expect(usualTold(told)).toBeNull();
    days(told, 1, 6);
    expect(usualTold(told)).toEqual({ restS: 5 * 3600, runS: 360 });
  });

  test('grows by no more than a tenth a day: neither a day-long rest nor a run of a week becomes usual', () => {
    const told = startTold(START_MS);
    days(told, 20, 6);
    days(told, 1, 24);
    days(told, 2, 6);
    expect(usualTold(told)!.restS).toBeCloseTo(1.1 * 5 * 3600, 6);
    days(told, 7, 1, 1);
    expect(usualTold(told)!.runS).toBeLessThan(2 * 3600);
    // What lasts is usual in the end.
    days(told, 60, 12);
    expect(usualTold(told)!.restS).toBeCloseTo(11 * 3600, 6);
    expect(told.days.length).toBeLessThanOrEqual(29);
    expect(told.days.at(-1)![0] % DAY_MS).toBe(0);
  });
});
