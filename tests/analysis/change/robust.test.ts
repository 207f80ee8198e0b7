// World: seeded normal values; and identities that hold for any values.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { mad, madOfSorted, median, qn, quantile, sn, sorted, winsorizedMean } from '../../../analysis/change/robust.ts';
import { normals, seeded } from './world.ts';

const many = fc.array(fc.integer({ min: -1000, max: 1000 }), { minLength: 2, maxLength: 30 });

test('mad(), qn() and sn() follow the scale and not the level', () => {
  fc.assert(
    fc.property(many, fc.integer({ min: 1, max: 50 }), fc.integer({ min: -500, max: 500 }), (values, scale, level) => {
      const moved = values.map((value) => level - scale * value);
      for (const spread of [mad, qn, sn]) expect(spread(moved)).toBeCloseTo(scale * (spread(values) ?? NaN), 6);
    }),
  );
});

// The factors for small counts are from memory: unbiased within 1 % is what they are for. 8,000 draws: error below 0.5 %.
test.each([2, 3, 4, 5, 7, 8, 9, 10, 11, 12, 13, 14, 20, 41])('qn() and sn() of %i normal values are 1 on average', (n) => {
  const normal = normals(seeded(n));
  let [q, s] = [0, 0];
  for (let k = 0; k < 8000; k++) {
    const values = Array.from({ length: n }, normal);
    q += qn(values) ?? NaN;
    s += sn(values) ?? NaN;
  }
  expect(Math.abs(q / 8000 - 1)).toBeLessThan(0.025);
  expect(Math.abs(s / 8000 - 1)).toBeLessThan(0.025);
});

test('qn(), sn() and mad() stand four wild values of ten', () => {
  const values = [1, 2, 3, 4, 5, 6, 1e9, 2e9, -1e9, 3e9];
  for (const spread of [mad, qn, sn]) expect(spread(values)).toBeLessThan(20);
});

test('quantile() lies between the values, rises with p, and half of the values are at or below the median', () => {
  fc.assert(
    fc.property(many, fc.double({ min: 0, max: 1, noNaN: true }), fc.double({ min: 0, max: 1, noNaN: true }), (values, a, b) => {
      const [low, high] = [quantile(values, Math.min(a, b)) ?? NaN, quantile(values, Math.max(a, b)) ?? NaN];
      expect(low).toBeLessThanOrEqual(high + 1e-9);
      expect(low).toBeGreaterThanOrEqual(Math.min(...values));
      expect(high).toBeLessThanOrEqual(Math.max(...values));
      const middle = median(values) ?? NaN;
      expect(values.filter((value) => value <= middle).length).toBeGreaterThanOrEqual(values.length / 2);
    }),
  );
});

test('winsorizedMean() is near the mean of good values and far from a wild one', () => {
  const normal = normals(seeded(8));
  const values = Array.from({ length: 60 }, normal);
  const known = winsorizedMean([...values, 1e6]);
  expect(Math.abs(known?.mean ?? NaN)).toBeLessThan(0.4);
  expect(known?.se).toBeCloseTo(1 / Math.sqrt(61), 1);
});

test('robust measures of too little are undefined, and a NaN is refused', () => {
  expect(median([])).toBeUndefined();
  expect(mad([])).toBeUndefined();
  expect(qn([1])).toBeUndefined();
  expect(sn([1])).toBeUndefined();
  expect(winsorizedMean([1])).toBeUndefined();
  expect(() => median([1, NaN])).toThrow(RangeError);
  expect(() => quantile([1], 1.1)).toThrow(RangeError);
});

test('madOfSorted() is mad() of any values about any centre', () => {
  fc.assert(
    fc.property(many, fc.integer({ min: -1200, max: 1200 }), (values, centre) => {
      expect(madOfSorted(sorted(values), centre)).toBeCloseTo(mad(values, centre)!, 9);
      expect(madOfSorted(sorted(values), median(values)!)).toBeCloseTo(mad(values)!, 9);
    }),
  );
});
