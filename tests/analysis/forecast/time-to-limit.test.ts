// World: seeded ramps whose crossing is known.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { driftModels, runDrift, tempered } from '../../../analysis/forecast/drift-filter.ts';
import { forecastOf, type LimitAnswer, type LimitQuestion, timeToLimit } from '../../../analysis/forecast/time-to-limit.ts';
import { normals, seeded } from '../change/world.ts';
import { drawRamp, type Ramp } from './ramps.ts';

const DAY_MS = 86_400_000;
const NOW = Date.UTC(2026, 5, 1);
/** Values one a day, the last one half a day ago. */
const pointsOf = (values: readonly number[], se = 0.01) => values.map((value, i) => ({ atMs: NOW - (values.length - i - 0.5) * DAY_MS, value, se }));
const daysUntil = (ms: number | null | undefined): number => (ms === null || ms === undefined ? Infinity : (ms - NOW) / DAY_MS);
const ask = (values: readonly number[], more: { limit?: number; side?: 'above' | 'below'; horizonDays?: number; trendPrior?: number; se?: number; limitSe?: number; crossedBy?: 'level' | 'days'; shape?: NonNullable<LimitQuestion['shape']>; beganMs?: number } = {}): LimitAnswer | undefined => {
  const { se = 0.01, ...rest } = more;
  return timeToLimit({ points: pointsOf(values, se), limit: 1, side: 'above', nowMs: NOW, horizonDays: 365, ...rest });
};
const steady = (n: number, perDay: number, from = 0.2, scatter = 0.01, seed = 1): number[] => {
  const normal = normals(seeded(seed));
  return Array.from({ length: n }, (_, i) => from + perDay * (i + 0.5) + scatter * normal());
};

// The promise: shares of truths inside the ranges. 400 ramps of each kind; 3 binomial sd below what 1,000 others gave (README).
test.each<[Ramp['kind'], number, number]>([['steady', 0.55, 0.85], ['accelerating', 0.4, 0.74], ['decelerating', 0.44, 0.74]])('timeToLimit() holds the crossing of %s ramps in its 50 %% range in %d and in its 80 %% range in %d', (kind, half, most) => {
  let [asked, in50, in80] = [0, 0, 0];
  for (let seed = 5001; seed <= 5400; seed++) {
    const { ramp, scatter, seenDays, values } = drawRamp(kind, seed);
    const answer = ask(values, { se: scatter / 2 });
    const truth = ramp.crossing - seenDays > 365 ? Infinity : ramp.crossing - seenDays;
    if (answer === undefined || truth <= 0) continue;
    asked++;
    if (daysUntil(answer.crossesMs.p25) <= truth && truth <= daysUntil(answer.crossesMs.p75)) in50++;
    if (daysUntil(answer.crossesMs.p10) <= truth && truth <= daysUntil(answer.crossesMs.p90)) in80++;
  }
  expect(asked).toBeGreaterThan(350);
  expect(in50 / asked).toBeGreaterThan(half);
  expect(in80 / asked).toBeGreaterThan(most);
});

test('timeToLimit() says no end in sight for a level without a slope far below its limit', () => {
  let wrong = 0;
  for (let seed = 1; seed <= 100; seed++) {
    const answer = ask(steady(60, 0, 0.2, 0.03, seed));
    expect(answer?.crossesMs.p50 ?? null).toBeNull();
    if (answer?.state !== 'no-end-in-sight') wrong++;
  }
  expect(wrong).toBeLessThanOrEqual(8); // these give the slope 10 % at some day of the year to come; 5 measured
});

test('timeToLimit() of a clear ramp is near the truth and narrow', () => {
  const answer = ask(steady(60, 0.01)); // 0.8 a day at last; crosses 20 days on
  expect(Math.abs(daysUntil(answer?.crossesMs.p50) - 20)).toBeLessThan(2.5);
  expect(daysUntil(answer?.crossesMs.p90) - daysUntil(answer?.crossesMs.p10)).toBeLessThan(17); // the pace to come is taken to differ by a third either way: 15.0 measured, 11 with the pace kept
  expect(answer?.slopePerDay).toBeCloseTo(0.01, 2);
  expect(answer?.slopeProbability).toBeGreaterThan(0.99);
  expect(answer?.probability).toBeGreaterThan(0.95);
});

test('timeToLimit() gives now for all when the level is past the limit, with few points too', () => {
  for (const values of [steady(60, 0.015), [1.2, 1.1, 1.3], [2]]) {
    expect(ask(values)).toMatchObject({ state: 'past', crossesMs: { p10: NOW, p25: NOW, p50: NOW, p75: NOW, p90: NOW } });
  }
  expect(ask([0.2, 0.3, 0.4, 0.5])).toBeUndefined();
  expect(ask([])).toBeUndefined();
});

test('timeToLimit() is not moved by one wild value', () => {
  const values = steady(60, 0.01);
  const wild = values.with(50, 5);
  expect(Math.abs(daysUntil(ask(wild)?.crossesMs.p50) - daysUntil(ask(values)?.crossesMs.p50))).toBeLessThan(2);
});

test('timeToLimit() sees a fall to a limit below as the mirror of a rise', () => {
  const values = steady(40, 0.01);
  const rise = ask(values);
  const fall = ask(values.map((value) => 98 - value), { limit: 97, side: 'below' });
  for (const p of ['p10', 'p25', 'p50', 'p75', 'p90'] as const) expect(Math.abs(daysUntil(fall?.crossesMs[p]) - daysUntil(rise?.crossesMs[p]))).toBeLessThan(0.01);
  expect(fall?.slopePerDay).toBeCloseTo(-(rise?.slopePerDay ?? NaN), 6);
});

test('timeToLimit() widens with scatter and with distance', () => {
  const width = (answer: LimitAnswer | undefined): number => daysUntil(answer?.crossesMs.p75) - daysUntil(answer?.crossesMs.p25);
  expect(width(ask(steady(40, 0.01, 0.2, 0.04)))).toBeGreaterThan(width(ask(steady(40, 0.01))));
  expect(width(ask(steady(30, 0.005)))).toBeGreaterThan(width(ask(steady(30, 0.02))));
});

test('timeToLimit() widens by how well the limit is known, and moves its middle little', () => {
  const [known, unsure] = [ask(steady(60, 0.01)), ask(steady(60, 0.01), { limitSe: 0.1 })];
  const width = (answer: LimitAnswer | undefined): number => daysUntil(answer?.crossesMs.p90) - daysUntil(answer?.crossesMs.p10);
  // 0.1 of the limit is 10 days of this slope: 25 days between the 10 % and 90 % of a normal distribution.
  expect(width(unsure)).toBeGreaterThan(width(known) + 8);
  expect(Math.abs(daysUntil(unsure?.crossesMs.p50) - daysUntil(known?.crossesMs.p50))).toBeLessThan(3);
});

test("timeToLimit() dates days before the level for what days scatter, and not for what their values err", () => {
  const values = steady(60, 0.005, 0.2, 0.08);
  const early = (se: number): number => daysUntil(ask(values, { se })?.crossesMs.p50) - daysUntil(ask(values, { se, crossedBy: 'days' })?.crossesMs.p50);
  expect(early(0.001)).toBeGreaterThan(4);
  expect(early(0.2)).toBe(0);
});

test('timeToLimit() of what wears gives no date from a few flat days far from the limit, where any slope is thought possible it does', () => {
  const dated = (shape: NonNullable<LimitQuestion['shape']>): number => Array.from({ length: 100 }, (_, seed) => ask(steady(20, 0, 0.2, 0.03, seed + 1), { se: 0.01, trendPrior: 0.3, shape })).filter((answer) => answer?.crossesMs.p10 !== null).length;
  const [wears, any] = [dated({ usualDays: 2000, agedDays: 180 }), dated('any')];
  expect(wears).toBeLessThanOrEqual(4); // 3 measured
  expect(any).toBeGreaterThanOrEqual(wears + 4); // 8 measured
});

test('timeToLimit() of what wears follows a slope that is plain, however long such things usually take', () => {
  const answer = ask(steady(60, 0.01), { shape: { usualDays: 1000, agedDays: 180 } });
  expect(Math.abs(daysUntil(answer?.crossesMs.p50) - 20)).toBeLessThan(4);
});

// Source: Gott 1993, Nature 363:315: of changes T old, half go on for another T, a third for another 2 T.
test('timeToLimit() takes a change to end as it began: of one that would cross at its present age again, half never do', () => {
  const values = steady(40, 0.01, 0.2, 0.005);
  const probability = (limit: number): number => ask(values, { limit, se: 0.005, beganMs: NOW - 40 * DAY_MS, horizonDays: 1000 })?.probability ?? NaN;
  // Levels that the slope reaches after another age and another two; five ends stand for all, so the shares come in fifths.
  expect(Math.abs(probability(0.6 + 0.4) - 1 / 2)).toBeLessThan(0.15);
  expect(Math.abs(probability(0.6 + 0.8) - 1 / 3)).toBeLessThan(0.15);
  expect(ask(values, { limit: 1, se: 0.005, horizonDays: 1000 })?.probability).toBeGreaterThan(0.9);
});

test('tempered() keeps a slope whose values are worth what they are many, and forgets one whose values are worth nothing', () => {
  const model = driftModels({ spanDays: 60, trendPrior: 0.5, shape: { usualDays: 500, agedDays: 0 }, distance: 20 }).find((one) => one.slopePrior > 0 && one.power === 1 && one.slopeWander === 0)!;
  const values = steady(60, 0.01);
  const state = runDrift(model, values.map((_, i) => i), values, values.map(() => 1), { level: 0.2, scatter: 0.01 });
  const whole = tempered(state, 1, true);
  for (const name of ['level', 'slope', 'levelVariance', 'covariance', 'slopeVariance'] as const) expect(whole[name]).toBeCloseTo(state[name], 12);
  const none = tempered(state, 1e-9, true);
  expect(none.slopeVariance).toBeCloseTo(state.priorVariance, 6);
  expect(Math.abs(none.slope)).toBeLessThan(1e-4);
  const half = tempered(state, 0.5, true);
  expect(half.slopeVariance / state.slopeVariance).toBeGreaterThan(1.5);
  expect(half.slopeVariance).toBeLessThan(state.priorVariance);
  expect(tempered(state, 0.5, false)).toMatchObject({ slope: state.slope, slopeVariance: 2 * state.slopeVariance });
});

test('timeToLimit() of a growth in proportion to itself is right when its log is given', () => {
  let held = 0;
  for (let seed = 1; seed <= 200; seed++) {
    const { ramp, scatter, seenDays, values } = drawRamp('exponential', seed);
    const kept = values.filter((value) => value > 0);
    if (kept.length < values.length || ramp.crossing - seenDays <= 0) {
      held++;
      continue;
    }
    const answer = timeToLimit({ points: pointsOf(kept).map((point) => ({ atMs: point.atMs, value: Math.log(point.value), se: scatter / point.value })), limit: 0, side: 'above', nowMs: NOW, horizonDays: 365 });
    if (daysUntil(answer?.crossesMs.p10) <= ramp.crossing - seenDays && ramp.crossing - seenDays <= daysUntil(answer?.crossesMs.p90)) held++;
  }
  expect(held / 200).toBeGreaterThan(0.85); // 0.92 of 2,000; 3 binomial sd
});

test('timeToLimit() gives quantiles that rise, none before now nor beyond the horizon, and the same each time', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ min: -3, max: 3, noNaN: true }), { minLength: 5, maxLength: 60 }), fc.double({ min: -4, max: 4, noNaN: true }), fc.constantFrom('above' as const, 'below' as const), (values, limit, side) => {
      const answer = ask(values, { limit, side, horizonDays: 100, se: 0.1 });
      expect(answer).toEqual(ask(values, { limit, side, horizonDays: 100, se: 0.1 }));
      const { p10, p25, p50, p75, p90 } = answer?.crossesMs ?? {};
      const at = [p10, p25, p50, p75, p90].map(daysUntil);
      for (const [i, day] of at.entries()) {
        expect(Number.isNaN(day)).toBe(false);
        expect(day).toBeGreaterThanOrEqual(i === 0 ? 0 : (at[i - 1] as number));
        expect(day <= 100.001 || day === Infinity).toBe(true);
      }
    }),
    { numRuns: 150 },
  );
});

test('timeToLimit() stands equal values, and refuses what is no number', () => {
  expect(ask(Array<number>(20).fill(0.5), { se: 0 })).toMatchObject({ state: 'no-end-in-sight' });
  expect(ask(Array<number>(20).fill(0), { se: 0 })).toMatchObject({ state: 'no-end-in-sight' });
  expect(() => ask([NaN, 1, 1, 1, 1])).toThrow(RangeError);
  expect(() => timeToLimit({ points: [{ atMs: 2, value: 1, se: 0 }, { atMs: 1, value: 1, se: 0 }], limit: 1, side: 'above', nowMs: NOW, horizonDays: 365 })).toThrow(RangeError);
});

test('forecastOf() says the answer as times, and null beyond the horizon', () => {
  const answer = ask(steady(60, 0.01));
  if (answer === undefined) throw new Error('no answer');
  const forecast = forecastOf('dutyRatio', { ...answer.crossesMs, p90: null });
  expect(forecast).toMatchObject({ limit: 'dutyRatio', latest: null });
  expect(Date.parse(forecast.likely ?? '')).toBe(answer.crossesMs.p50);
});
