// Source: Garwood 1936, Biometrika 28: exact 95 % limits of a Poisson mean, as printed in the usual tables (numbers from memory,
// and the same from the quantiles of chi-squared: low = chi2(2.5 %, 2n) / 2, high = chi2(97.5 %, 2n + 2) / 2).
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { poissonInterval } from '../../analysis/scoring/poisson-interval.ts';

// Two decimals are what the tables print; the next digit is rounded.
const TABLE: readonly (readonly [count: number, low: number, high: number])[] = [[0, 0, 3.69], [1, 0.03, 5.57], [2, 0.24, 7.22], [5, 1.62, 11.67], [10, 4.8, 18.39], [20, 12.22, 30.89], [50, 37.11, 65.92], [100, 81.36, 121.63]];

test('poissonInterval() meets the table of exact limits', () => {
  for (const [count, low, high] of TABLE) {
    const [ours, ourHigh] = poissonInterval(count);
    expect([Math.round(ours * 100) / 100, Math.round(ourHigh * 100) / 100]).toEqual([low, high]);
  }
});

test('poissonInterval() of none has the closed form -ln(tail)', () => {
  for (const confidence of [0.5, 0.8, 0.95, 0.99]) expect(poissonInterval(0, confidence)[1]).toBeCloseTo(-Math.log((1 - confidence) / 2), 9);
});

test('poissonInterval() holds its count, and widens with confidence', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 3000 }), fc.double({ min: 0.5, max: 0.98, noNaN: true }), (count, confidence) => {
      const [low, high] = poissonInterval(count, confidence);
      const [lower, higher] = poissonInterval(count, confidence + 0.01);
      expect(low <= count && count <= high && lower <= low && high <= higher).toBe(true);
    }),
  );
});

test('poissonInterval() refuses what is no count', () => {
  expect(() => poissonInterval(-1)).toThrow(RangeError);
  expect(() => poissonInterval(1.5)).toThrow(RangeError);
});
