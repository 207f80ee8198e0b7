// Issue: a generator states the smallest change that it would show (item 8); silence is judged by that.
import { expect, test } from 'vitest';
import { statedAt, statedChange } from '../../../analysis/scoring/stated-changes.ts';
import { at, START_MS } from './hand-made.ts';

const shown = (within10Days: number | null, series: 'demand' | 'delivery' = 'delivery') => ({ smallest: [{ series, scatter: 0.03, baselineDays: 60, within3Days: null, within10Days }], says: [] });

test('statedChange() takes changes as logarithms, and null where none was stated', () => {
  expect(statedChange(at(30), shown(-0.1))).toEqual({ at: at(30), demand: null, delivery: Math.abs(Math.log1p(-0.1)), demandScatter: null, deliveryScatter: 0.03, cycles: null });
  expect(statedChange(at(30), shown(0.25, 'demand'))).toMatchObject({ demand: Math.log1p(0.25), delivery: null, demandScatter: 0.03 });
  expect(statedChange(at(30), shown(null))).toMatchObject({ delivery: null, deliveryScatter: 0.03 });
  expect(statedChange(at(30), null)).toMatchObject({ demand: null, delivery: null });
});

test('statedAt() gives the newest statement of that time, or the first that was made', () => {
  const all = [statedChange(at(30), shown(-0.1)), statedChange(at(60), shown(-0.2))];
  expect([10, 45, 60, 99].map((day) => statedAt(all, START_MS + day * 86_400_000)?.at)).toEqual([at(30), at(30), at(60), at(60)]);
  expect(statedAt([], START_MS)).toBeUndefined();
});
