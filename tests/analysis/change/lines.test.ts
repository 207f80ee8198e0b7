// World: seeded points on known lines; and identities that hold for any.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { pettitt, supF } from '../../../analysis/change/change-tests.ts';
import { isotonic } from '../../../analysis/change/isotonic.ts';
import { fitLine, predictLine } from '../../../analysis/change/line-fit.ts';
import { logNormalCdf, normalCdf, normalQuantile } from '../../../analysis/change/normal.ts';
import { studentCdf, studentQuantile } from '../../../analysis/change/student.ts';
import { mannKendall, theilSen } from '../../../analysis/change/trend.ts';
import { correlated, normals, seeded } from './world.ts';

// Ten readings a second apart, in epoch milliseconds: sums of their squares leave a double no digit.
test('fitLine() keeps its digits on epoch milliseconds', () => {
  const times = Array.from({ length: 10 }, (_, i) => 1_764_000_000_000 + 1000 * i);
  const fit = fitLine(times, times.map((_, i) => 5 + 0.25 * i + (i % 2 === 0 ? 0.1 : -0.1)));
  const plain = fitLine(times.map((_, i) => i), times.map((_, i) => 5 + 0.25 * i + (i % 2 === 0 ? 0.1 : -0.1)));
  expect((fit?.slope ?? 0) * 1000).toBeCloseTo(plain?.slope ?? NaN, 12);
  expect((fit?.slopeSe ?? 0) * 1000).toBeCloseTo(plain?.slopeSe ?? NaN, 12);
});

test('fitLine() with a weight of 2 is the fit with the point given twice', () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: -50, max: 50 }), { minLength: 3, maxLength: 20 }), (values) => {
      const times = values.map((_, i) => i);
      const weighted = fitLine(times, values, times.map((i) => (i % 2 === 0 ? 2 : 1)));
      const twice = fitLine(times.flatMap((i) => (i % 2 === 0 ? [i, i] : [i])), values.flatMap((value, i) => (i % 2 === 0 ? [value, value] : [value])));
      expect(weighted?.slope).toBeCloseTo(twice?.slope ?? NaN, 9);
      expect(weighted?.level).toBeCloseTo(twice?.level ?? NaN, 9);
    }),
  );
});

test('predictLine() holds one more point as often as it says', () => {
  const normal = normals(seeded(31));
  let held = 0;
  for (let k = 0; k < 2000; k++) {
    const fit = fitLine([0, 1, 2, 3, 4, 5, 6, 7], Array.from({ length: 8 }, (_, i) => 3 - i + normal()));
    if (fit === undefined) throw new Error('no fit');
    const { low, high } = predictLine(fit, 12, 0.8);
    const next = 3 - 12 + normal();
    if (low <= next && next <= high) held++;
  }
  expect(Math.abs(held / 2000 - 0.8)).toBeLessThan(0.027); // 3 binomial sd
});

test('theilSen() holds the slope as often as it says, wild values or not', () => {
  const normal = normals(seeded(32));
  let held = 0;
  for (let k = 0; k < 600; k++) {
    const times = Array.from({ length: 30 }, (_, i) => i);
    const fit = theilSen(times, times.map((t) => 0.1 * t + normal() * (t % 7 === 3 ? 20 : 1)), { confidence: 0.9 });
    if (fit !== undefined && fit.slopeLow <= 0.1 && fit.slopeHigh >= 0.1) held++;
  }
  expect(held / 600).toBeGreaterThan(0.86);
  expect(held / 600).toBeLessThan(0.96);
});

// The price in the doc comment, counted on 1,500 series; 3 binomial sd.
test.each([[0, 0.05], [0.3, 0.145], [0.5, 0.231]])('mannKendall() on 60 unchanged values with correlation %d gives p < 0.05 in %d of them', (correlation, share) => {
  const next = correlated(normals(seeded(33)), correlation);
  let below = 0;
  for (let k = 0; k < 1500; k++) if ((mannKendall(Array.from({ length: 60 }, next))?.p ?? 1) < 0.05) below++;
  expect(Math.abs(below / 1500 - share)).toBeLessThan(3 * Math.sqrt((share * (1 - share)) / 1500) + 0.005);
});

test('mannKendall() with times left out, in order, or with both turned round is the same', () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 0, max: 9 }), { minLength: 3, maxLength: 25 }), (values) => {
      const plain = mannKendall(values);
      expect(mannKendall(values, values.map((_, i) => 100 + 3 * i))).toEqual(plain);
      const turned = mannKendall(values.toReversed(), values.map((_, i) => -i));
      expect(turned?.s).toBe(plain?.s);
    }),
  );
});

test('supF() is right about its p, and pettitt() is cautious', () => {
  const normal = normals(seeded(34));
  const counts = { f: 0, u: 0 };
  for (let k = 0; k < 2000; k++) {
    const values = Array.from({ length: 60 }, normal);
    if ((supF(values)?.p ?? 1) < 0.05) counts.f++;
    if ((pettitt(values)?.p ?? 1) < 0.05) counts.u++;
  }
  expect(Math.abs(counts.f / 2000 - 0.05)).toBeLessThan(0.018);
  expect(counts.u / 2000).toBeLessThan(0.05);
});

test('isotonic() never falls, keeps the weighted sum, and leaves what already rises', () => {
  fc.assert(
    fc.property(fc.array(fc.tuple(fc.integer({ min: -20, max: 20 }), fc.integer({ min: 1, max: 5 })), { maxLength: 30 }), (pairs) => {
      const [values, weights] = [pairs.map(([value]) => value), pairs.map(([, weight]) => weight)];
      const fit = isotonic(values, weights);
      for (let i = 1; i < fit.length; i++) expect(fit[i]).toBeGreaterThanOrEqual(fit[i - 1] as number);
      const sum = (list: readonly number[]): number => list.reduce((total, value, i) => total + value * (weights[i] as number), 0);
      expect(sum(fit)).toBeCloseTo(sum(values), 6);
      expect(isotonic(fit, weights)).toEqual(fit);
    }),
  );
});

// Source: Abramowitz & Stegun 1964, tables 26.1 and 26.10, from memory: Φ(1) 0.841344746068543, Φ(−3) 0.001349898031630, t(0.975; 1) 12.7062, t(0.975; 2) 4.30265, t(0.95; 10) 1.81246.
test('normalCdf() and studentQuantile() meet the tables', () => {
  expect(normalCdf(1)).toBeCloseTo(0.841344746068543, 14);
  expect(normalCdf(-3)).toBeCloseTo(0.00134989803163, 14);
  expect(studentQuantile(0.975, 1)).toBeCloseTo(12.7062, 4);
  expect(studentQuantile(0.975, 2)).toBeCloseTo(4.30265, 5);
  expect(studentQuantile(0.95, 10)).toBeCloseTo(1.81246, 5);
});

test('normalQuantile() and studentQuantile() undo their shares, deep in the tails too', () => {
  fc.assert(
    fc.property(fc.double({ min: -14, max: -0.001, noNaN: true }), fc.double({ min: 0.5, max: 300, noNaN: true }), (log10, freedom) => {
      const p = 10 ** log10;
      expect(normalCdf(normalQuantile(p)) / p).toBeCloseTo(1, 9);
      expect(Math.exp(logNormalCdf(normalQuantile(p))) / p).toBeCloseTo(1, 9);
      if (log10 > -8) expect(studentCdf(studentQuantile(p, freedom), freedom) / p).toBeCloseTo(1, 7);
    }),
  );
  expect(logNormalCdf(-100)).toBeCloseTo(-5005.5242086942, 6);
});

test('lines, trends and tests of too little are undefined, and misuse is refused', () => {
  expect(fitLine([1, 2], [1, 2])).toBeUndefined();
  expect(fitLine([1, 1, 1], [1, 2, 3])).toBeUndefined();
  expect(theilSen([1, 2], [1, 2])).toBeUndefined();
  expect(theilSen([1, 1, 1], [1, 2, 3])).toBeUndefined();
  expect(mannKendall([1, 1, 1, 1])).toBeUndefined();
  expect(pettitt([1, 2])).toBeUndefined();
  expect(supF([1, 2, 3])).toBeUndefined();
  expect(() => fitLine([1, 2, 3], [1, 2])).toThrow(RangeError);
  expect(() => fitLine([1, 2, 3], [1, 2, 3], [1, 0, 1])).toThrow(RangeError);
  expect(() => theilSen([1, 2, 3], [1, 2, 3], { confidence: 1 })).toThrow(RangeError);
  expect(() => isotonic([1], [0])).toThrow(RangeError);
  expect(() => normalQuantile(2)).toThrow(RangeError);
});
