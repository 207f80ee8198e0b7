// Issue: an oxygen cell that ages reads less oxygen, so that nitrogen looks better than it is (design, section 6).
import { describe, expect, test } from 'vitest';
import { purerAlone } from '../../../analysis/causes/purer-alone.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { entrySchema } from '../../../shared/entry.ts';
import { generatorsOf, parseRegistry, type RegisteredGenerator } from '../../../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 2, 1);
function registeredAt(nitrogenAt: string): RegisteredGenerator {
  const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, nitrogenAt }] }] }));
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  return generatorsOf(parsed.registry)[0]!;
}
const days = (nitrogenOf: (day: number) => number, more: (day: number) => Partial<DayRow> = () => ({}), count = 80): DayRow[] =>
  Array.from({ length: count }, (_, day) => ({ startMs: START_MS + day * DAY_MS, endMs: START_MS + (day + 1) * DAY_MS, coveredS: 86_400, holdingRatio: 1, runS: 9000, starts: 15, longestRunS: 700, unit: 'NL/min', roomC: 20, nitrogen: { value: nitrogenOf(day) + 2e-4 * Math.sin(5 * day), se: 2e-4 }, delivery: { value: 20 * (1 + 0.01 * Math.sin(7 * day)), se: 0.2 }, demand: { value: 2, se: 0.1 }, heard: {}, ...more(day) }) as unknown as DayRow);
/** Oxygen of 1.8 % comes down to 0.9 in 20 days. */
const drifts = (day: number): number => 1 - 0.018 * 0.5 ** Math.max(0, Math.min(1, (day - 40) / 20));
const causeOf = (rows: readonly DayRow[], entries: Parameters<typeof purerAlone>[1] = [], at = 'product'): string | undefined => purerAlone(rows, entries, registeredAt(at), 0)?.cause;

describe('purerAlone()', () => {
  test('tells a cell by gas that gets purer while as much is made', () => {
    expect(causeOf(days(drifts))).toBe('sensor-fault');
    expect(purerAlone(days(drifts), [], registeredAt('product'), 0)).toMatchObject({ aside: true, evidence: [{ says: 'Nitrogen reads 99.10 % after 98.20 %, while as much is made as before in runs as long: nothing gets purer by itself. Its cell ages or has drifted, and nitrogen is poorer than it looks.' }] });
  });

  test('is silent where less is made, runs are longer, or the room alone explains it', () => {
    expect(causeOf(days(drifts, (day) => (day < 50 ? {} : { delivery: { value: 17, se: 0.2 } })))).toBeUndefined();
    expect(causeOf(days(drifts, (day) => (day < 50 ? {} : { starts: 9 })))).toBeUndefined();
    // Less on one of the last days: a drain that sticks now and then.
    expect(causeOf(days(drifts, (day) => (day === 77 ? { delivery: { value: 14, se: 0.2 } } : {})))).toBeUndefined();
    expect(causeOf(days((day) => 1 - 0.018 * 1.0104 ** -(day / 4), (day) => ({ roomC: 20 - day / 4 })))).toBeUndefined();
  });

  test('is silent in tanks and piping, which get purer by right, and where a service came between', () => {
    expect(causeOf(days(drifts), [], 'piping')).toBeUndefined();
    expect(causeOf(days(drifts), [entrySchema.parse({ id: 'v', site: 'a', generator: 'b', startedAt: isoFromMs(START_MS + 41 * DAY_MS) })])).toBeUndefined();
  });
});
