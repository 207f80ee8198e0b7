// Issue: "A diagnosis that holds up", item 8: the smallest change that would be seen, so that silence means something.
import { expect, test } from 'vitest';
import { BY_DAY, findShift } from '../../../analysis/causes/find-shift.ts';
import { canShow, type ShownSeries } from '../../../analysis/verify/can-show.ts';
import { normal, startDice } from '../../../simulator/plant/random.ts';

/** A one-sided sum without noise, whose answer can be reckoned by hand. */
const summing = (slack: number, limit: number, sign: 1 | -1) => (values: readonly number[]): boolean => {
  let sum = 0;
  return values.some((value) => (sum = Math.max(0, sum + sign * value - slack)) > limit);
};
const quiet = (change: Partial<ShownSeries> = {}): ShownSeries => ({ series: 'demand', residuals: Array.from({ length: 40 }, () => 0), scatter: 0.05, baselineDays: 40, worse: 1, found: summing(0.05, 0.4, 1), ...change });

test('canShow() finds the smallest change by hand: n·(d − slack) > limit', () => {
  const [demand, delivery] = canShow([quiet(), quiet({ series: 'delivery', worse: -1, found: summing(0.05, 0.4, -1) })])!.smallest;
  // Two whole days within three, nine within ten: ln 1.2840 and ln 1.0992; given to one per cent of a logarithm.
  expect(Math.abs(Math.log1p(demand!.within3Days!) - (0.05 + 0.4 / 2))).toBeLessThan(0.0101);
  expect(Math.abs(Math.log1p(demand!.within10Days!) - (0.05 + 0.4 / 9))).toBeLessThan(0.0101);
  expect(delivery!.within3Days).toBeLessThan(0);
  expect(Math.abs(Math.log1p(delivery!.within3Days!) + 0.25)).toBeLessThan(0.0101);
});

test('canShow() says it in words, and when not even a large change would be seen', () => {
  expect(canShow([quiet()])!.says).toEqual(['A lasting rise of demand of 10 % or more would be seen within 10 days, of 29 % or more within 3 days; from day to day it scatters by 5 %.']);
  expect(canShow([quiet({ found: (values) => values.length > 5 && summing(0.05, 0.4, 1)(values) })])!.says[0]).toMatch(/^A lasting rise of demand of 10 % or more would be seen within 10 days; from/);
  // A loss of less than nothing would be a gain.
  expect(canShow([quiet({ series: 'delivery', worse: -1, found: summing(0.05, 0.4, -1) })])!.says[0]).toMatch(/^A lasting loss of delivery of 9 % or more would be seen within 10 days, of 2[23] % or more within 3 days;/);
  expect(canShow([quiet({ found: () => false })])).toMatchObject({ smallest: [{ within3Days: null, within10Days: null }], says: ['A lasting rise of demand would not surely be seen within 10 days: the days scatter too much.'] });
});

test('canShow() is silent with fewer than 20 good days', () => {
  expect(canShow([quiet({ residuals: Array.from({ length: 19 }, () => 0) })])).toBeNull();
});

// World: independent normal days; the figure was made from 60 days, and is held to 300 fresh beginnings of 10 days.
test('canShow() keeps its word on days that it never saw', () => {
  let found = 0;
  let tries = 0;
  for (let seed = 1; seed <= 6; seed += 1) {
    const dice = startDice(seed, 'can show');
    const scatter = 0.06;
    const days = Array.from({ length: 60 }, () => scatter * normal(dice));
    const baseline = { centre: 0, scatter, spread: scatter, correlation: 0, usualSe: 0, count: 60, fromMs: 0, toMs: 1 };
    const rule = { watchFromMs: 0, floor: 0.035, learnDays: 0, learnBefore: false, cadence: BY_DAY, smallest: 0.08, falseFindingsPerYear: 0.05, wanders: false, creeps: 0 } as const;
    const sees = (values: readonly number[]): boolean => findShift(values.map((value, index) => ({ startMs: index, endMs: index + 1, value, se: 0 })), baseline, rule).shift?.direction === 'up';
    const { within10Days } = canShow([{ series: 'demand', residuals: days, scatter, baselineDays: 60, worse: 1, found: sees }])!.smallest[0]!;
    for (let one = 0; one < 50; one += 1) {
      tries += 1;
      if (sees(Array.from({ length: 9 }, () => scatter * normal(dice) + Math.log1p(within10Days!)))) found += 1;
    }
  }
  // 98 % was asked for; 60 days know their own scatter to 9 %.
  expect(found / tries).toBeGreaterThan(0.92);
});
