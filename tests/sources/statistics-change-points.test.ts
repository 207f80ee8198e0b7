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

// Source: the same reference: RSS of the best partitions into 4 and 5 segments, the means beside 1898, and R's BIC of each count of changes.
test('pelt() and meanCost() meet the partitions of the Nile with three and four breaks, and the BIC of each', () => {
  const cost = meanCost(NILE);
  const rssOf = (cut: readonly number[]): number => [...cut, 100].reduce((sum, to, i) => sum + cost(cut[i - 1] ?? 0, to), 0);
  for (const [breaks, rss] of [[[28, 68, 83], 1538097], [[28, 45, 68, 83], 1507888], [[15, 30, 45, 68, 83], 1659994]] as const) expect(Math.round(rssOf(breaks))).toBe(rss);
  // The third break alone gains 14,826 and the third and fourth together 45,036: at 20,000 each, both come.
  expect(pelt(100, cost, 20_000, 15)).toEqual([28, 45, 68, 83]);
  const bic = (breaks: readonly number[]): number => 100 * (Math.log(2 * Math.PI) + 1 + Math.log(rssOf(breaks) / 100)) + (2 * breaks.length + 2) * Math.log(100);
  expect([[], [28], [28, 83], [28, 68, 83], [28, 45, 68, 83], [15, 30, 45, 68, 83]].map((breaks) => Math.round(bic(breaks)))).toEqual([1318, 1270, 1276, 1285, 1292, 1311]);
  const mean = (from: number, to: number): number => NILE.slice(from, to).reduce((a, b) => a + b, 0) / (to - from);
  expect([mean(0, 28), mean(28, 100)]).toEqual([1097.75, expect.closeTo(849.9722, 4)]);
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
