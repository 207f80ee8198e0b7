// Source: each test names its own.
import { expect, test } from 'vitest';
import { pettitt, supF } from '../../analysis/change/change-tests.ts';
import { baiInterval, onsetRange } from '../../analysis/change/onset-range.ts';
import { meanCost, pelt } from '../../analysis/change/pelt.ts';
import { segment } from '../../analysis/change/segments.ts';
import { NILE } from './data/nile.ts';

// Source: R 4.2.2 with strucchange 1.5.3: one break after observation 28 (1898), RSS 2835157 and 1597457, 95 % interval 1895-1902.
test('segment() and baiInterval() meet the Nile: a change after observation 28, 1895 to 1902', () => {
  expect(segment(NILE)).toEqual([28]);
  const cost = meanCost(NILE);
  expect(Math.round(cost(0, 100))).toBe(2835157);
  expect(Math.round(cost(0, 28) + cost(28, 100))).toBe(1597457);
  expect(baiInterval(NILE, 28)).toEqual({ from: 25, to: 32 });
});

// Source: the same reference: with two breaks 1898 and 1953 and the RSS of 1552924.
test('pelt() finds the two-break partition of the Nile under a lower penalty', () => {
  const cost = meanCost(NILE);
  const cut = pelt(100, cost, 40_000, 15); // R's default leaves 15 values in a segment
  expect(cut).toEqual([28, 83]);
  expect(Math.round(cost(0, 28) + cost(28, 83) + cost(83, 100))).toBe(1552924);
});

// Source: Cobb 1978, "apparent changepoint near 1898"; likelihood of each place. It lies within the interval of strucchange.
test('onsetRange() of the Nile is 1896 to 1899, most likely 1898', () => {
  expect(onsetRange(NILE)).toEqual({ outerFrom: 26, from: 27, likely: 28, to: 28, outerTo: 29 });
});

// Source: strucchange sup F 75.93 (the same statistic worked elsewhere: 75.9298); Pettitt's U 1617 at 28, p 3.591e-07.
test('supF() and pettitt() meet the Nile', () => {
  const f = supF(NILE);
  expect(f?.index).toBe(28);
  expect(f?.statistic).toBeCloseTo(75.9298, 4);
  expect(f?.p).toBeLessThan(1e-14); // R prints 2.22e-16, its own smallest number
  const u = pettitt(NILE);
  expect(u).toMatchObject({ index: 28, statistic: 1617 });
  expect((u?.p ?? 0) / 3.591e-7).toBeCloseTo(1, 4);
});

// Source: Page's data as in the R package trend: |U| 232 at 17, p 0.014556.
test('pettitt() meets the data of Page', () => {
  const values = [-1.05, 0.96, 1.22, 0.58, -0.98, -0.03, -1.54, -0.71, -0.35, 0.66, 0.44, 0.91, -0.02, -1.42, 1.26, -1.02, -0.81, 1.66, 1.05, 0.97, 2.14, 1.22, -0.24, 1.6, 0.72, -0.12, 0.44, 0.03, 0.66, 0.56, 1.37, 1.66, 0.1, 0.8, 1.29, 0.49, -0.07, 1.18, 3.29, 1.84];
  const found = pettitt(values);
  expect(found).toMatchObject({ index: 17, statistic: 232 });
  expect(found?.p).toBeCloseTo(0.014556, 6);
});
