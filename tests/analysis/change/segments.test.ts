// World: seeded normal values whose changes are known.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { onsetRange } from '../../../analysis/change/onset-range.ts';
import { calmOutliers } from '../../../analysis/change/outliers.ts';
import { lineCost, meanCost, pelt } from '../../../analysis/change/pelt.ts';
import { segment } from '../../../analysis/change/segments.ts';
import { correlated, normals, seeded } from './world.ts';

/** The best cut by trying all: what PELT must equal. */
function optimal(n: number, cost: (from: number, to: number) => number, penalty: number, minLength: number): number {
  const best = Array<number>(n + 1).fill(Infinity);
  best[0] = -penalty;
  for (let end = minLength; end <= n; end++) for (let start = 0; start <= end - minLength; start++) best[end] = Math.min(best[end] as number, (best[start] as number) + cost(start, end) + penalty);
  return best[n] as number;
}

test('pelt() pays no more than the best of all cuts', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ min: -5, max: 5, noNaN: true }), { minLength: 2, maxLength: 40 }), fc.double({ min: 0.1, max: 30, noNaN: true }), fc.integer({ min: 1, max: 5 }), fc.boolean(), (values, penalty, minLength, line) => {
      const cost = line ? lineCost(values) : meanCost(values);
      const n = values.length;
      const cut = pelt(n, cost, penalty, minLength);
      const ends = [0, ...cut, n];
      for (const [i, end] of ends.slice(1).entries()) expect(n < minLength || end - (ends[i] as number) >= minLength).toBe(true);
      const paid = ends.slice(1).reduce((sum, end, i) => sum + cost(ends[i] as number, end), penalty * cut.length);
      if (n >= minLength) expect(paid).toBeLessThanOrEqual(optimal(n, cost, penalty, minLength) + 1e-7);
    }),
    { numRuns: 300 },
  );
});

// Source: the shape of the example in the manual of the R package changepoint: four times 50 values with means 0, 5, 10, 3.
test('segment() finds the changes at 50, 100 and 150', () => {
  const normal = normals(seeded(10));
  expect(segment([0, 5, 10, 3].flatMap((mean) => Array.from({ length: 50 }, () => mean + normal())))).toEqual([50, 100, 150]);
});

test('segment() sees a change of scatter with the model for it, and of slope with the model for that', () => {
  const normal = normals(seeded(11));
  const scatter = segment(Array.from({ length: 120 }, (_, i) => normal() * (i < 60 ? 1 : 5)), { model: 'mean-variance' });
  expect(scatter).toHaveLength(1);
  expect(Math.abs((scatter[0] ?? 0) - 60)).toBeLessThanOrEqual(4);
  const slope = segment(Array.from({ length: 120 }, (_, i) => normal() + Math.max(0, i - 60) * 0.6), { model: 'line' });
  expect(slope).toHaveLength(1);
  expect(Math.abs((slope[0] ?? 0) - 60)).toBeLessThanOrEqual(8);
});

test('segment() ignores one wild value and finds the step beside it', () => {
  const normal = normals(seeded(12));
  const values = Array.from({ length: 80 }, (_, i) => normal() + (i >= 50 ? 3 : 0) + (i === 20 ? 25 : 0));
  expect(segment(values)).toEqual([50]);
});

// The price in the doc comment: share of unchanged series that get a change. Binomial error at 400 series is 0.011 at 0.05.
test.each([[0, 0.02], [0.5, 0.06]])('segment() leaves unchanged series with correlation %d alone but for %d of them', (correlation, most) => {
  const next = correlated(normals(seeded(100)), correlation);
  let found = 0;
  for (let k = 0; k < 400; k++) if (segment(Array.from({ length: 100 }, next)).length > 0) found++;
  expect(found / 400).toBeLessThanOrEqual(most);
});

test('segment() finds a step of 2 sd in 98 of 100 series, within 5 values', () => {
  const normal = normals(seeded(3));
  let near = 0;
  for (let k = 0; k < 200; k++) if (segment(Array.from({ length: 60 }, (_, i) => normal() + (i >= 40 ? 2 : 0))).some((index) => Math.abs(index - 40) <= 5)) near++;
  expect(near / 200).toBeGreaterThan(0.95);
});

test('segment() finds a step on a slope, and no change in a slope alone', () => {
  const normal = normals(seeded(21));
  for (let k = 0; k < 20; k++) {
    const slope = 0.1 + 0.01 * k;
    expect(segment(Array.from({ length: 120 }, (_, i) => normal() + slope * i))).toEqual([]);
    const cut = segment(Array.from({ length: 120 }, (_, i) => normal() + slope * i - (i >= 70 ? 5 : 0)));
    expect(cut).toHaveLength(1);
    expect(Math.abs((cut[0] ?? 0) - 70)).toBeLessThanOrEqual(2);
  }
});

test('segment() takes jumps every ten values for a wander, and three changes however close for changes', () => {
  const normal = normals(seeded(22));
  expect(segment(Array.from({ length: 30 }, () => 8 * normal()).flatMap((level) => Array.from({ length: 10 }, () => level + normal())))).toEqual([]);
  expect(segment([0, 9, 2, 11].flatMap((level) => Array.from({ length: 8 }, () => level + normal())))).toEqual([8, 16, 24]);
});

test('segment() gives nothing for too little, for what is equal, and refuses what is no number', () => {
  expect(segment([])).toEqual([]);
  expect(segment([1, 2, 3])).toEqual([]);
  expect(segment(Array<number>(50).fill(4))).toEqual([]);
  expect(() => segment([1, NaN, 3, 4])).toThrow(RangeError);
});

// A range of places is discrete, so that it holds the truth a little more often than it says, and more so for large steps.
test.each([1, 1.5, 2, 3])('onsetRange() holds the place of a step of %d sd as often as it says', (step) => {
  const normal = normals(seeded(4));
  let [inner, outer] = [0, 0];
  for (let k = 0; k < 500; k++) {
    const range = onsetRange(Array.from({ length: 60 }, (_, i) => normal() + (i >= 40 ? step : 0)));
    if (range === undefined) throw new Error('no range');
    if (range.from <= 40 && range.to >= 40) inner++;
    if (range.outerFrom <= 40 && range.outerTo >= 40) outer++;
  }
  expect(inner / 500).toBeGreaterThan(0.8);
  expect(outer / 500).toBeGreaterThan(0.94);
});

test('calmOutliers() draws in one wild value and leaves a step alone', () => {
  const values = [0, 1, 0, 1, 0, 90, 1, 0, 1, 0, 50, 51, 50, 51, 50, 51, 50, 51];
  const calm = calmOutliers(values);
  expect(calm[5]).toBeLessThan(8);
  expect(calm.filter((_, i) => i !== 5)).toEqual(values.filter((_, i) => i !== 5));
});
