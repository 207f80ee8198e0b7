// Issue: what is kept of many values stands for all of them, also where reports keep step with the cycle (design, section 6).
import { describe, expect, test } from 'vitest';
import { addThinned, outOfStep, startThinned } from '../../../analysis/cycles/thinned.ts';

function keptOf(values: readonly number[], limit: number): ReturnType<typeof startThinned> {
  const list = startThinned();
  for (const value of values) addThinned(list, value, limit, outOfStep);
  return list;
}

describe('addThinned()', () => {
  test('keeps all while they are few, and then from half of the most to the most, in order, from all over', () => {
    expect(keptOf([3, 1, 2], 8).values).toEqual([3, 1, 2]);
    for (const count of [9, 24, 100, 1000]) {
      const { values, seen } = keptOf(Array.from({ length: count }, (_, index) => index), 8);
      expect(seen).toBe(count);
      expect(values.length).toBeGreaterThanOrEqual(3);
      expect(values.length).toBeLessThanOrEqual(8);
      expect([...values].sort((a, b) => a - b)).toEqual(values);
      expect(values[0]!).toBeLessThan(count / 2);
      expect(values.at(-1)!).toBeGreaterThanOrEqual(count / 2);
    }
  });

  // A quarter of a day of reports in 15, 10 and 5 minutes.
  test.each([24, 36, 72])('of %d values that come round at each fourth or sixth place no place is most of what is kept', (count) => {
    for (const period of [4, 6]) {
      const { values } = keptOf(Array.from({ length: count }, (_, index) => index % period), 8);
      for (let place = 0; place < period; place += 1) expect(values.filter((value) => value === place).length).toBeLessThanOrEqual(values.length / 2);
    }
  });
});
