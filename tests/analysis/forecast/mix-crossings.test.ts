// Reference: mixtures whose quantiles follow by hand.
import { expect, test } from 'vitest';
import { mixCrossings, soonerCrossings } from '../../../analysis/forecast/mix-crossings.ts';

const DAY_MS = 86_400_000;
const at = (...days: readonly (number | null)[]) => {
  const [p10, p25, p50, p75, p90] = days.map((day) => (day === null ? null : day * DAY_MS)) as [number | null, number | null, number | null, number | null, number | null];
  return { p10, p25, p50, p75, p90 };
};

test('mixCrossings() of an answer with itself is that answer', () => {
  const one = { crossesMs: at(10, 20, 30, 60, 90), probability: 0.95 };
  expect(mixCrossings(one, one, 0, 365)).toEqual(one.crossesMs);
  const open = { crossesMs: at(100, 200, null, null, null), probability: 0.4 };
  expect(mixCrossings(open, open, 0, 365)).toEqual(open.crossesMs);
});

test('mixCrossings() is as wide as the two are apart, whichever comes first', () => {
  const soon = { crossesMs: at(10, 11, 12, 13, 14), probability: 1 };
  const late = { crossesMs: at(110, 111, 112, 113, 114), probability: 1 };
  const mixed = mixCrossings(soon, late, 0, 365);
  expect(mixed).toEqual(mixCrossings(late, soon, 0, 365));
  // Half of the chance lies with each: its 25 % is the middle of the first, its 75 % that of the second.
  expect((mixed.p25 ?? 0) / DAY_MS).toBeCloseTo(12, 1);
  // A third of a day later, as a tenth of the first is spread up to the horizon.
  expect(Math.abs((mixed.p75 ?? 0) / DAY_MS - 112)).toBeLessThan(0.4);
});

test('mixCrossings() of one in sight and one that never comes has no date beyond half of the chance', () => {
  const mixed = mixCrossings({ crossesMs: at(10, 20, 30, 40, 50), probability: 1 }, { crossesMs: at(null, null, null, null, null), probability: 0 }, 0, 100);
  expect((mixed.p10 ?? 0) / DAY_MS).toBeCloseTo(16.7, 1); // 20 % of the first
  expect((mixed.p25 ?? 0) / DAY_MS).toBeCloseTo(30, 6);
  expect([mixed.p75, mixed.p90]).toEqual([null, null]);
});

test('soonerCrossings() takes the sooner date at each share, and a date before none', () => {
  expect(soonerCrossings(at(10, 40, 50, null, null), at(20, 30, null, 90, null))).toEqual(at(10, 30, 50, 90, null));
});
