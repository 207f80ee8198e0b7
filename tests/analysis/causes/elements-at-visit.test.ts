// Issue: elements missing, or logged as changed and left in place (design, section 6, `element-missing`).
import { describe, expect, test } from 'vitest';
import { elementsAtVisit } from '../../../analysis/causes/elements-at-visit.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { type Entry, entrySchema } from '../../../shared/entry.ts';
import { DAY_MS } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 0, 1);
const days = (dropOf: (day: number) => number, count: number): DayRow[] => Array.from({ length: count }, (_, day) => ({ startMs: START_MS + day * DAY_MS, endMs: START_MS + (day + 1) * DAY_MS, elementDropKPa: { value: dropOf(day), se: 0.3 } }) as unknown as DayRow);
const service = (day: number, replaced: readonly string[] = ['particulate-element', 'coalescing-element', 'carbon-element']): Entry => entrySchema.parse({ id: `v${day}`, site: 'a', generator: 'b', startedAt: new Date(START_MS + (day + 0.4) * DAY_MS).toISOString(), finishedAt: new Date(START_MS + (day + 0.5) * DAY_MS).toISOString(), replaced });
/** Loads from 8 to 38 kPa in 100 days, and again after each change. */
const loading = (day: number, changedOn: number): number => 8 + 0.3 * (day < changedOn ? day : day - changedOn);

describe('elementsAtVisit()', () => {
  test('is silent where new elements brought the drop back to clean', () => {
    expect(elementsAtVisit(days((day) => loading(day, 100), 110), [service(99)], 'UTC')).toBeUndefined();
  });

  test('says that the old ones stayed where the drop stayed', () => {
    expect(elementsAtVisit(days((day) => loading(day, 1000), 110), [service(99)], 'UTC')!.evidence[0]!.says).toContain('old ones');
    expect(elementsAtVisit(days((day) => loading(day, 1000), 110), [service(99, ['drain'])], 'UTC')).toBeUndefined();
  });

  test('says so of elements that nobody saw clean here, where more stays than clean ones hold back', () => {
    const stays = (dropKPa: number, restKPa = 0): DayRow[] => days(() => dropKPa, 110).map((row) => ({ ...row, dischargeRestKPa: restKPa, feedRestKPa: 0 }));
    expect(elementsAtVisit(stays(42), [service(99)], 'UTC')).toMatchObject({ cause: 'element-missing', evidence: [{ says: 'The visit of 10 Apr says that the elements were changed, and the pressure drop over them stayed at 42 kPa (42 kPa before): no clean ones hold back so much, and the old ones seem to be in place.' }] });
    expect(elementsAtVisit(stays(22), [service(99)], 'UTC')).toBeUndefined();
    // Its two gauges differ by as much when nothing flows; or not all were changed.
    expect(elementsAtVisit(stays(42, 20), [service(99)], 'UTC')).toBeUndefined();
    expect(elementsAtVisit(stays(42), [service(99, ['carbon-element'])], 'UTC')).toBeUndefined();
    expect(elementsAtVisit(days((day) => (day < 100 ? 42 : 32), 110), [service(99)], 'UTC')).toBeUndefined();
  });

  test('says which one was left in where a visit changed the others and the drop stayed', () => {
    expect(elementsAtVisit(days((day) => loading(day, 1000), 110), [service(99, ['carbon-element'])], 'UTC')!.evidence[0]!.says).toMatch(/changed the carbon element, .*: the particulate element and coalescing element were left in and hold back the air\.$/);
    // A spent carbon element holds nothing back.
    expect(elementsAtVisit(days((day) => loading(day, 1000), 110), [service(99, ['particulate-element', 'coalescing-element'])], 'UTC')).toMatchObject({ cause: 'element-missing' });
    const left = elementsAtVisit(days((day) => loading(day, 1000), 110), [service(99, ['particulate-element', 'carbon-element', 'drain'])], 'UTC');
    expect(left).toMatchObject({ cause: 'element-loading', evidence: [{ says: 'The visit of 10 Apr changed the particulate element and carbon element, and the pressure drop over them stayed at 39 kPa (37 kPa before; 9 kPa when it was first seen here): the coalescing element was left in and holds back the air.' }] });
    expect(elementsAtVisit(days((day) => loading(day, 100), 110), [service(99, ['coalescing-element'])], 'UTC')).toBeUndefined();
  });

  test('says that one lacks where the drop fell below that of clean ones', () => {
    const lacks = days((day) => (day < 50 ? loading(day, 1000) : day < 100 ? 8 + 0.3 * (day - 50) : 5), 110);
    expect(elementsAtVisit(lacks, [service(49), service(99)], 'UTC')).toMatchObject({ slot: 'delivery', cause: 'element-missing' });
    // What clean ones hold back was never seen of all of them.
    expect(elementsAtVisit(lacks, [service(49, ['coalescing-element']), service(99)], 'UTC')).toBeUndefined();
  });

  test('says nothing of the first change that is seen: on a generator that hardly runs old elements show no loading for months', () => {
    expect(elementsAtVisit(days((day) => (day < 100 ? 11 : 4.5), 120), [service(99)], 'UTC')).toBeUndefined();
    expect(elementsAtVisit(days((day) => (day < 100 ? 30 : 8), 110), [service(99)], 'UTC')).toBeUndefined();
  });

  test('of the first change that is seen it says so where the membrane gets dirty since: more is made, at less nitrogen', () => {
    const fouling = (more: number, less: number): DayRow[] => days((day) => (day < 100 ? 8.2 : 3.6), 130).map((row, day) => ({ ...row, delivery: { value: 28 * (day < 100 ? 1 : 1.04 + (more * (day - 100)) / 30), se: 0.2 }, nitrogen: { value: 0.994 - (day < 100 ? 0 : (less * (day - 100)) / 30), se: 0.0002 } }));
    const condition = elementsAtVisit(fouling(0.13, 0.006), [service(99)], 'UTC');
    expect(condition).toMatchObject({ cause: 'element-missing', causes: [{ probability: 0.75 }, { cause: 'membrane-decline' }] });
    expect(condition!.evidence[0]!.says).toBe('Since the visit of 10 Apr the pressure drop over the elements is 3.6 kPa (8.2 kPa of clean ones before), and since then 10 % more is made at less nitrogen, 98.86 % instead of 99.40 %: a bowl may have been closed without its element, so that water and oil reach the membrane.');
    expect(elementsAtVisit(fouling(0.13, 0), [service(99)], 'UTC')).toBeUndefined();
    expect(elementsAtVisit(fouling(0, 0.006), [service(99)], 'UTC')).toBeUndefined();
  });

  test('says that a bleed stands open where new elements hold back more and less is made', () => {
    const made = (rows: readonly DayRow[], of: (day: number) => number): DayRow[] => rows.map((row, day) => ({ ...row, delivery: { value: of(day), se: 0.1 } }));
    const more = days((day) => (day < 100 ? 8.2 : 14.4), 105);
    expect(elementsAtVisit(made(more, (day) => (day < 100 ? 15.2 : 14.7)), [service(99)], 'UTC')).toMatchObject({ slot: 'delivery', cause: 'bleed-left-open' });
    expect(elementsAtVisit(made(more, (day) => (day < 100 ? 15.2 : 19)), [service(99)], 'UTC')).toBeUndefined();
    expect(elementsAtVisit(more, [service(99)], 'UTC')).toBeUndefined();
  });

  test('an element that was missing and is back again is no bleed', () => {
    const back = days((day) => (day < 50 ? 14 : day < 100 ? 2 : 15), 105).map((row, day) => ({ ...row, delivery: { value: day < 100 ? 15.2 : 14.9, se: 0.1 } }));
    expect(elementsAtVisit(back, [service(49), service(99)], 'UTC')).toBeUndefined();
    const half = days((day) => (day < 50 ? 14 + 0.1 * day : day < 100 ? 8 : 12.6), 105).map((row, day) => ({ ...row, delivery: { value: day < 100 ? 15.2 : 14.9, se: 0.1 } }));
    expect(elementsAtVisit(half, [service(49), service(99)], 'UTC')).toBeUndefined();
  });

  test('takes a drop that can not be for a gauge and not for elements', () => {
    expect(elementsAtVisit(days((day) => (day < 60 ? 8 : 716), 110), [service(99)], 'UTC')).toBeUndefined();
  });

  test('waits for two days', () => {
    const lacks = (count: number): DayRow[] => days((day) => (day < 50 ? 11 : day < 100 ? 9 : 3.5), count);
    expect(elementsAtVisit(lacks(101), [service(49), service(99)], 'UTC')).toBeUndefined();
    expect(elementsAtVisit(lacks(102), [service(49), service(99)], 'UTC')).toMatchObject({ cause: 'element-missing' });
  });
});
