// World: seeded normal values with a change of known shape, place and size.
import { performance } from 'node:perf_hooks';
import { expect, test } from 'vitest';
import { type ChangeShape, stepOrRamp } from '../../../analysis/change/step-or-ramp.ts';
import { twoLevels } from '../../../analysis/change/two-levels.ts';
import { correlated, normals, seeded } from './world.ts';

const days = (n: number): number[] => Array.from({ length: n }, (_, i) => i);
const toAndFro = (i: number): number => ((i >= 20 && i < 26) || (i >= 35 && i < 40) || (i >= 50 && i < 54) ? 4 : 0);

/** Share of series that get each shape, and of the right ones how often the range of onset holds the truth. */
function tally(change: (i: number) => number, onset: number, shape: ChangeShape, n = 60, correlation = 0): { right: number; held: number; effect: number } {
  const next = correlated(normals(seeded(7)), correlation);
  let [right, held, effect] = [0, 0, 0];
  const runs = 300;
  for (let k = 0; k < runs; k++) {
    const found = stepOrRamp(days(n), Array.from({ length: n }, (_, i) => next() + change(i)), Array<number>(n).fill(0.3));
    if (found?.shape !== shape) continue;
    right++;
    effect += found.effect;
    if (found.onset !== null && found.onset.earliest <= onset && found.onset.latest >= onset) held++;
  }
  return { right: right / runs, held: held / right, effect: effect / right };
}

test.each<[string, (i: number) => number, number, ChangeShape, number, number]>([
  ['a step of 1.5 sd', (i) => (i >= 40 ? 1.5 : 0), 39.5, 'step', 0.8, 1.5],
  ['a step of 3 sd', (i) => (i >= 40 ? 3 : 0), 39.5, 'step', 0.95, 3],
  ['a ramp to 5 sd', (i) => Math.max(0, i - 30) / 6, 30, 'ramp', 0.95, 4.83],
  ['three visits of 4 sd', toAndFro, 19.5, 'comes-and-goes', 0.85, 4],
  ['one visit of 3 sd', (i) => (i >= 30 && i < 40 ? 3 : 0), 29.5, 'comes-and-goes', 0.9, 3],
])('stepOrRamp() calls %s what it is and holds its onset', (_, change, onset, shape, atLeast, size) => {
  const { right, held, effect } = tally(change, onset, shape);
  expect(right).toBeGreaterThan(atLeast);
  expect(held).toBeGreaterThan(0.78);
  expect(Math.abs(effect - size)).toBeLessThan(0.15); // the error of 300 means, and a little that selection adds
});

// The price in the doc comment. 400 series: 3 binomial sd above it.
test.each([[15, 0, 0.07], [60, 0, 0.025], [120, 0, 0.025], [60, 0.4, 0.075]])('stepOrRamp() finds nothing in %i unchanged values with correlation %d but for a share of %d', (n, correlation, most) => {
  const next = correlated(normals(seeded(n)), correlation);
  let found = 0;
  for (let k = 0; k < 400; k++) if (stepOrRamp(days(n), Array.from({ length: n }, next), Array<number>(n).fill(0.3))?.shape !== 'nothing') found++;
  expect(found / 400).toBeLessThanOrEqual(most);
});

test('stepOrRamp() knows the same change in other units and from another day on', () => {
  const normal = normals(seeded(2));
  const values = days(60).map((i) => normal() + (i >= 40 ? 2.5 : 0));
  const plain = stepOrRamp(days(60), values, Array<number>(60).fill(0.3));
  const epoch = stepOrRamp(days(60).map((day) => 1.76e12 + day * 864e5), values.map((value) => 40 - 2 * value), Array<number>(60).fill(0.6));
  expect(epoch?.shape).toBe('step');
  expect(epoch?.effect).toBeCloseTo(-2 * (plain?.effect ?? NaN), 6);
  expect(epoch?.support.step).toBeCloseTo(plain?.support.step ?? NaN, 4);
  expect(((epoch?.onset?.likely ?? 0) - 1.76e12) / 864e5).toBeCloseTo(plain?.onset?.likely ?? NaN, 6);
});

test('stepOrRamp() lets exact values count more than vague ones', () => {
  const normal = normals(seeded(6));
  const vague = (i: number): boolean => i % 2 === 1;
  const near = [0, 0];
  for (let k = 0; k < 100; k++) {
    const values = days(60).map((i) => (i >= 40 ? 2 : 0) + normal() * (vague(i) ? 4 : 0.4));
    for (const [which, errors] of [days(60).map((i) => (vague(i) ? 4 : 0.4)), Array<number>(60).fill(2.8)].entries()) {
      const found = stepOrRamp(days(60), values, errors);
      if (found?.shape === 'step' && Math.abs((found.onset?.likely ?? 0) - 39.5) <= 1.5) near[which] = (near[which] ?? 0) + 1;
    }
  }
  expect(near[0]).toBeGreaterThan(75);
  expect(near[1]).toBeLessThan(30); // the same values, all taken as equally vague
});

test('stepOrRamp() says too little, finds nothing in equal values, and refuses what is no number', () => {
  expect(stepOrRamp(days(7), days(7), days(7))).toBeUndefined();
  expect(stepOrRamp(days(20), Array<number>(20).fill(5), Array<number>(20).fill(0))).toMatchObject({ shape: 'nothing', before: 5, effect: 0 });
  expect(stepOrRamp(days(20), days(20).map((i) => (i < 10 ? 1 : 2)), Array<number>(20).fill(0))).toMatchObject({ shape: 'step', before: 1, effect: 1 });
  expect(() => stepOrRamp([1, 1, 2], [1, 2, 3], [0, 0, 0])).toThrow(RangeError);
  expect(() => stepOrRamp([1, 2, 3], [1, NaN, 3], [0, 0, 0])).toThrow(RangeError);
  expect(() => stepOrRamp([1, 2, 3], [1, 2, 3], [0, -1, 0])).toThrow(RangeError);
});

test('stepOrRamp() gives shares that add up to 1, the best being the shape', () => {
  const normal = normals(seeded(9));
  for (let k = 0; k < 50; k++) {
    const found = stepOrRamp(days(40), days(40).map((i) => normal() + (i * k) / 400), Array<number>(40).fill(0.2));
    const shares = Object.values(found?.probability ?? {});
    expect(shares.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 12);
    expect(Math.max(...shares)).toBe(found?.probability[found.shape]);
  }
});

test('stepOrRamp() takes well under a millisecond for 120 values', () => {
  const normal = normals(seeded(1));
  const values = days(120).map((i) => normal() + (i >= 80 ? 3 : 0));
  const errors = Array<number>(120).fill(0.3);
  for (let i = 0; i < 300; i++) stepOrRamp(days(120), values, errors);
  const spans = Array.from({ length: 9 }, () => {
    const start = performance.now();
    for (let i = 0; i < 50; i++) stepOrRamp(days(120), values, errors);
    return (performance.now() - start) / 50;
  });
  expect(Math.min(...spans)).toBeLessThan(1); // 0.1 to 0.2 ms measured; a shared machine gets room
});

test('twoLevels() finds both levels and every switch', () => {
  const normal = normals(seeded(3));
  const found = twoLevels(days(60).map((i) => 10 + 0.3 * normal() + toAndFro(i)), Array<number>(60).fill(1), 2);
  expect(found?.switches).toEqual([20, 26, 35, 40, 50, 54]);
  expect(found?.first).toBeCloseTo(10, 0);
  expect(found?.other).toBeCloseTo(14, 0);
});
