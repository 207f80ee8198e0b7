// Issue: what goes on at a moment, where the tank is read rarely and piping sags slowly (design, section 6, "by clock, not by cycles").
import { describe, expect, test } from 'vitest';
import type { SaidOpen } from '../../analysis/causes/clock-view.ts';
import { type ClockState, lookAtClock, startClock } from '../../analysis/clock-watch.ts';
import { type FoldState, startFold } from '../../analysis/generator-fold.ts';
import { generatorsOf, parseRegistry } from '../../shared/registry.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../shared/time.ts';

const NOW_MS = Date.UTC(2026, 5, 10, 12);
const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, cutInKPa: 480, cutOutKPa: 680, risers: [{ id: 'north', setKPa: 180, lowPressureKPa: 135 }] }] }] }));
if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
const registered = generatorsOf(parsed.registry)[0]!;
const said: SaidOpen = { missedStartMs: null, cutShort: null, supplyOpen: false, demandOpen: false, demandOverMs: null, supplyOverMs: null, leaksBack: false, endlessOverMs: null, bleedSaid: [] };

/** At rest since `restMs`, with cycles of ten minutes and an hour; the tank read so often a day. */
function resting(tank: FoldState['tank'], { perDay = 96, restMs = NOW_MS - 40 * MINUTE_MS, lowsKPa = [470, 474, 468, 20, 472] }: { readonly perDay?: number; readonly restMs?: number; readonly lowsKPa?: readonly number[] } = {}): FoldState {
  const fold = startFold();
  fold.frontierMs = NOW_MS;
  fold.running = [0, restMs, NOW_MS, 1, NOW_MS];
  Object.assign(fold.descriptors.run, { phase: 0, sinceMs: restMs });
  fold.tank = tank;
  fold.cycles.last = Array.from({ length: 30 }, (_, index) => [NOW_MS - (31 - index) * 70 * MINUTE_MS, 600, 3600, 538, 675] as const);
  fold.cycles.usual = { longestRunS: 700, longestRestS: 4000, startKPa: 538, stopKPa: 675 };
  fold.spanDays = lowsKPa.map((lowKPa, index) => ({ startMs: NOW_MS - (lowsKPa.length - index) * DAY_MS, starts: 20, spans: { 'tank-pressure': [lowKPa, 675, perDay, 10] } }));
  return fold;
}

const lookAt = (fold: FoldState, clock: ClockState = startClock()) => lookAtClock(clock, fold, { registered, judged: undefined, said, unfed: [] }).present;

describe('lookAtClock()', () => {
  test('a tank that was read last in the run before this rest is no tank that waits for a start', () => {
    const inRun = resting([440, NOW_MS - 50 * MINUTE_MS]);
    expect(lookAt(inRun).belowSinceMs).toBeNull();
    expect(lookAt(resting([440, NOW_MS - 10 * MINUTE_MS])).belowSinceMs).toBe(NOW_MS - 10 * MINUTE_MS);
  });

  test('where it is read each quarter of an hour nobody sees where runs start: it waits as low as it is set, and as it is read on other days', () => {
    // 490 kPa is far below the learned start of 538, and above what is registered.
    expect(lookAt(resting([490, NOW_MS - 10 * MINUTE_MS])).belowSinceMs).toBeNull();
    expect(lookAt(resting([490, NOW_MS - 10 * MINUTE_MS], { perDay: 1440 })).belowSinceMs).not.toBeNull();
    // Read at 470 and 468 on other days, 460 is no news; one day of a test doesn't count.
    expect(lookAt(resting([460, NOW_MS - 10 * MINUTE_MS])).belowSinceMs).toBeNull();
    expect(lookAt(resting([450, NOW_MS - 10 * MINUTE_MS])).belowSinceMs).not.toBeNull();
  });

  test('a riser that is told lower than it is set on each day of a week is held there; one that falls on is not', () => {
    const normalKPa = (days: readonly number[]): number | null => {
      const fold = resting([600, NOW_MS - 5 * MINUTE_MS]);
      fold.systems = { 'system-pressure.north': [days.at(-1)!, NOW_MS - MINUTE_MS] };
      fold.spanDays = days.map((kPa, index) => ({ startMs: NOW_MS - (days.length - index) * DAY_MS, starts: 20, spans: { 'system-pressure.north': [kPa - 0.5, kPa + 0.5, 288, 10] } }));
      return lookAtClock(startClock(), fold, { registered, judged: undefined, said, unfed: [] }).normal.systemKPa;
    };
    expect(normalKPa([167, 167, 166, 167, 168, 167, 167])).toBe(167);
    expect(normalKPa([178, 175, 172, 169, 167, 164, 161])).toBe(180);
    expect(normalKPa([167, 167])).toBe(180);
    // It never is more than what is set.
    expect(normalKPa([186, 186, 185, 186, 186, 186, 186])).toBe(180);
  });

  test('tight piping that is not fed sags from hour to hour, and one that wanders does not', () => {
    const piping = (hourly: readonly number[]): boolean => {
      const fold = resting([600, NOW_MS - 5 * MINUTE_MS], { perDay: 288 });
      const clock = startClock();
      clock.systemHours = hourly.map((kPa, index) => [NOW_MS - (hourly.length - index) * HOUR_MS, kPa]);
      fold.systems = { 'system-pressure': [hourly.at(-1)!, NOW_MS - MINUTE_MS] };
      fold.spanDays = fold.spanDays.map((day) => ({ ...day, spans: { ...day.spans, 'system-pressure': [178.5, 180.5, 288, 10] } }));
      return lookAt(fold, clock).systemSinks;
    };
    expect(piping([179.4, 178.8, 178.3, 177.9, 177.4, 176.8])).toBe(true);
    expect(piping([179.4, 178.8, 179.4, 177.9, 178.6, 176.8])).toBe(false);
    // Not yet lower than on other days, or not for long enough.
    expect(piping([180.4, 179.8, 179.3, 178.9, 178.4, 177.6])).toBe(false);
    expect(piping([179.4, 178.3, 176.8])).toBe(false);
  });

  test('of two risers now the one and now the other is the lower one: what is kept of them compares all the same', () => {
    const two = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, risers: [{ id: 'north', setKPa: 200 }, { id: 'south', setKPa: 220 }] }] }] }));
    if ('problems' in two) throw new Error(JSON.stringify(two.problems));
    const clock = startClock();
    const looked = (hour: number, north: number, south: number) => {
      const fold = resting([600, NOW_MS + hour * HOUR_MS]);
      const atMs = NOW_MS + hour * HOUR_MS;
      Object.assign(fold, { frontierMs: atMs, systems: { 'system-pressure.north': [north, atMs], 'system-pressure.south': [south, atMs] } });
      fold.spanDays = fold.spanDays.map((day) => ({ ...day, spans: { ...day.spans, 'system-pressure.north': [196.5, 205, 288, 10], 'system-pressure.south': [216.5, 225, 288, 10] } }));
      return lookAtClock(clock, fold, { registered: generatorsOf(two.registry)[0]!, judged: undefined, said, unfed: [] }).present;
    };
    for (const [hour, south] of [[0, 218], [1, 217.9], [2, 217.8], [3, 217.7], [4, 217.6]] as const) expect(looked(hour, 204, south)).toMatchObject({ systemKPa: south, systemSinks: false });
    // The north one comes down and is the lower one; the south one is where it was.
    expect(looked(5, 197.2, 217.5)).toMatchObject({ systemKPa: 197.2, systemSinks: false, systemFalls: false });
    const last = looked(6, 197, 217.4);
    expect(last).toMatchObject({ systemKPa: 197, systemSinks: false, systemRises: false });
    // As if it had always been this one.
    expect(last.systemHours.map(([, kPa]) => kPa)).toEqual([198, 197.9, 197.8, 197.7, 197.6, 197.2, 197].map((kPa) => expect.closeTo(kPa, 6)));
    // One that is shut off goes below what it ever was, hour by hour.
    const sinks = [[7, 196.4], [8, 195.8], [9, 195.2], [10, 194.6]] as const;
    expect(sinks.map(([hour, north]) => looked(hour, north, 217.4).systemSinks)).toEqual([false, false, false, true]);
  });
});
