// Issue: a compressor that never stops is known within the hour, also by its meters (design, section 6).
import { expect, test } from 'vitest';
import { GeneratorFold } from '../../analysis/generator-fold.ts';
import type { Channel } from '../../shared/channels.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { unclaimedGenerator } from '../../shared/registry.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';

const START_MS = Date.UTC(2026, 5, 1);

function folded(channel: Channel, values: readonly (readonly [minute: number, value: number])[]): GeneratorFold['state'] {
  const fold = new GeneratorFold(unclaimedGenerator('a/b' as GeneratorKey), []);
  const waiting = { atMs: values.map(([minute]) => START_MS + minute * MINUTE_MS), channel: values.map(() => channel), value: values.map(([, value]) => value) };
  fold.fold(waiting, values.map((_, index) => index), waiting.atMs.at(-1)!);
  return fold.state;
}

test('an hour meter that keeps pace with the clock says since when, and one that falls behind, a gap or a reset end it', () => {
  const runs = (upToMinute: number): (readonly [number, number])[] => Array.from({ length: upToMinute / 15 + 1 }, (_, index) => [index * 15, 1000 + (index < 2 ? 0 : (index - 1) * 900)] as const);
  expect(folded('run-time', runs(90)).full).toEqual([START_MS + 15 * MINUTE_MS, START_MS + 90 * MINUTE_MS, 5]);
  expect(folded('run-time', [...runs(90), [105, 1000 + 5 * 900 + 300]]).full).toBeNull();
  expect(folded('run-time', [...runs(90), [90 + 180, 1000 + 5 * 900 + 180 * 60]]).full).toBeNull();
  expect(folded('run-time', [...runs(90), [105, 0]]).full).toBeNull();
  expect(folded('run-time', [[0, 1000], [60, 900_000]]).full).toBeNull();
});

test('so does a duty ratio of one', () => {
  expect(folded('duty', [[0, 0.1], [60, 1], [120, 0.99]]).full).toEqual([START_MS, START_MS + 2 * HOUR_MS, 2]);
  expect(folded('duty', [[0, 1]]).full).toBeNull();
  expect(folded('duty', [[0, 0.1], [60, 1], [120, 0.5]]).full).toBeNull();
});
