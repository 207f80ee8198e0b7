// Issue: a bowl that runs over is told by how fast the drop over the elements rises, before the drop itself matters (design, section 6, drain-stuck-closed).
import { describe, expect, test } from 'vitest';
import { isFlooding } from '../../../analysis/causes/flooding.ts';
import type { DayRow } from '../../../shared/cycle.ts';

/** Days of so many hours of running each. */
const rows = (runHours: number, drops: readonly (number | null)[]): DayRow[] => drops.map((kPa) => ({ runS: 3600 * runHours, elementDropKPa: kPa === null ? null : { value: kPa, se: 0.3 } }) as unknown as DayRow);
const noisy = (count: number, of: (day: number) => number): number[] => Array.from({ length: count }, (_, day) => of(day) + 0.4 * Math.sin(9 * day));

describe('isFlooding()', () => {
  test('8 kPa in 17 days of half an hour a day is water, and so is 16 kPa in four weeks after a quiet one', () => {
    expect(isFlooding(rows(0.5, noisy(17, (day) => 8 + 0.5 * day)))).toBe(true);
    expect(isFlooding(rows(0.5, noisy(35, (day) => 8 + 0.6 * Math.max(0, day - 7))))).toBe(true);
  });

  test('the same in many hours of running is dust, and what comes at once is a gauge or a visit', () => {
    expect(isFlooding(rows(6, noisy(17, (day) => 8 + 0.5 * day)))).toBe(false);
    expect(isFlooding(rows(0.5, noisy(21, (day) => (day < 10 ? 8 : 18))))).toBe(false);
    expect(isFlooding(rows(0.5, noisy(21, () => 8)))).toBe(false);
  });

  test('says nothing of less than nine days with a drop', () => {
    expect(isFlooding(rows(0.5, [null, null, ...noisy(8, (day) => 8 + 2 * day)]))).toBe(false);
  });
});
