// Issue: what the channels can't split is not split: duty ratio = demand / delivery (design, section 6).
import { expect, test } from 'vitest';
import type { Epoch } from '../../analysis/causes/epochs.ts';
import type { Watched } from '../../analysis/causes/day-series.ts';
import { splitChange } from '../../analysis/standing.ts';
import { DAY_MS } from '../../shared/time.ts';

const epoch = (name: Watched, ln: number, fromMs = 0): Epoch => ({
  name, watchFromMs: 0, learned: true, allowed: 0,
  points: [60, 61, 62].map((day) => ({ startMs: day * DAY_MS, endMs: (day + 1) * DAY_MS, value: ln, se: 0.01 })),
  baseline: { centre: 0, scatter: 0.03, spread: 0.03, correlation: 0.3, usualSe: 0, count: 60, fromMs, toMs: 60 * DAY_MS },
});
const changes = (demand: Epoch, delivery: Epoch, duty: Epoch): readonly (number | null)[] => {
  const { demandChange, deliveryChange } = splitChange(new Map([['demand', demand], ['delivery', delivery], ['duty', duty]]));
  return [demandChange, deliveryChange];
};

test('splitChange() says what moved where the three agree, and nothing where they say another run time than there is', () => {
  expect(changes(epoch('demand', Math.log(1.5)), epoch('delivery', 0), epoch('duty', Math.log(1.5)))).toEqual([0.5, 0]);
  // Starts doubled and run time rose by half, while the slopes of rests say that nothing is drawn.
  expect(changes(epoch('demand', Math.log(0.05)), epoch('delivery', Math.log(1.18)), epoch('duty', Math.log(1.5)))).toEqual([null, null]);
  // Of two baselines one began anew.
  expect(changes(epoch('demand', Math.log(1.5)), epoch('delivery', 0), epoch('duty', 0, 50 * DAY_MS))).toEqual([0.5, 0]);
});
