// Issue: one riser's gauge that moves alone is named as such and kept from becoming a leak (design, section 6: one channel moves alone).
import { describe, expect, test } from 'vitest';
import type { SpanDay } from '../../../analysis/causes/data-faults.ts';
import { offRiserGauges, type RisersOff, risersOff } from '../../../analysis/causes/riser-gauges.ts';
import { hiddenSlots } from '../../../analysis/causes/what-hides.ts';
import { entrySchema } from '../../../shared/entry.ts';
import { DAY_MS } from '../../../shared/time.ts';

/** Days on which two risers hold, each at what is given; a day swings by 2 kPa, and by more where it is said. */
const days = (east: readonly number[], west: readonly number[], swing = 2): SpanDay[] => east.map((kPa, index) => ({ startMs: index * DAY_MS, starts: 8, spans: { 'system-pressure.east': [kPa - swing / 2, kPa + swing / 2, 288, 40], 'system-pressure.west': [west[index]! - 1, west[index]! + 1, 288, 40] } as SpanDay['spans'] }));
const still = (count: number, kPa = 230): number[] => Array.from({ length: count }, () => kPa);

/** Fold the days one by one, with the last eight of them kept. */
function fold(all: readonly SpanDay[]): RisersOff[] {
  const seen: RisersOff[] = [];
  for (let index = 0; index < all.length; index += 1) seen.push(risersOff(all.slice(Math.max(0, index - 7), index + 1), seen.at(-1) ?? {}));
  return seen;
}

describe('risersOff()', () => {
  test('a riser that reads an atmosphere more alone is off until it is back, and its way back is no news', () => {
    const east = [...still(8), 280, ...still(20, 331), 300, ...still(16)];
    const seen = fold(days(east, still(east.length)));
    const told = seen.map((off) => offRiserGauges(off, days(east, still(east.length)), []).length);
    expect(told.findIndex((count) => count > 0)).toBe(10);
    expect(told.slice(10, 30).every((count) => count === 1)).toBe(true);
    expect(told.slice(30).every((count) => count === 0)).toBe(true);
  });

  test('is silent where all risers move, where one runs down, where one swings, and with one riser', () => {
    const all = (series: readonly SpanDay[]): number => Object.keys(fold(series).at(-1)!).length;
    expect(all(days([...still(8), ...still(6, 260)], [...still(8), ...still(6, 261)]))).toBe(0);
    expect(all(days([...still(8), 190, 150, 100, 40, 0, 0], still(14)))).toBe(0);
    expect(all(days([...still(8), ...still(6, 260)], still(14), 14))).toBe(0);
    expect(all(days([...still(8), ...still(6, 260)], still(14)).map((day) => ({ ...day, spans: { 'system-pressure.east': day.spans['system-pressure.east' as never] } })))).toBe(0);
  });

  test('tight piping that was topped up in the cold and is warm again stands higher, and its gauge is right', () => {
    const all = (east: number): number => Object.keys(fold(days([...still(8), ...still(6, east)], still(14))).at(-1)!).length;
    expect([all(250), all(258), all(265), all(213)]).toEqual([0, 0, 1, 1]);
  });

  test('hides nothing, since the others and the tank speak for the supply', () => {
    const said = offRiserGauges({ 'system-pressure.east': [230, 0, null] }, days([331], [230]), []);
    expect(said[0]!.evidence[0]!.says).toContain('east went from 230 kPa to 331 kPa');
    expect(hiddenSlots(said, new Set()).size).toBe(0);
    // What moves as a visit ends was set right by it.
    const visit = entrySchema.parse({ id: 'v', site: 'a', generator: 'b', startedAt: new Date(-0.5 * DAY_MS).toISOString(), finishedAt: new Date(-0.4 * DAY_MS).toISOString() });
    expect(offRiserGauges({ 'system-pressure.east': [230, 0, null] }, days([331], [230]), [visit])).toEqual([]);
  });
});
