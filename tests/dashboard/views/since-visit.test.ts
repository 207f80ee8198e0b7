// Issue: "The main job, end to end": the page shows before and after a visit. Days are invented by hand.
import { expect, test } from 'vitest';
import type { DayRow } from '../../../shared/cycle.ts';
import type { Entry } from '../../../shared/entry.ts';
import { sinceVisit, spanOf } from '../../../dashboard/views/since-visit.ts';

const DAY_MS = 86_400_000;
const START_MS = Date.parse('2026-10-01T00:00:00Z');

function day(index: number, dutyRatio: number, change: Partial<DayRow> = {}): DayRow {
  const startMs = START_MS + index * DAY_MS;
  return {
    day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, coveredS: 86_400, runS: 86_400 * dutyRatio, restS: 86_400 * (1 - dutyRatio), starts: 20, dutyRatio,
    unit: 'NL/min', demand: { value: 5, se: 0.1 }, delivery: { value: 5 / dutyRatio, se: 1 }, nitrogen: { value: 0.98, se: 0.001 }, elementDropKPa: null, holdingRatio: 1, ...change,
  } as DayRow;
}
const visit = (change: Partial<Entry> = {}): Entry => ({ id: 'v1', site: 's', generator: 'g', kind: 'service', startedAt: '2026-10-15T09:00:00Z', finishedAt: '2026-10-15T11:00:00Z', recordedAt: '2026-10-15T11:00:00Z', replaced: [], adjusted: {}, readings: {}, ...change });
const days = (dutyOf: (index: number) => number, change: (index: number) => Partial<DayRow> = () => ({})): DayRow[] => Array.from({ length: 30 }, (_, index) => day(index, dutyOf(index) * (1 + 0.03 * ((index * 7) % 5)), change(index)));
const NOW_MS = START_MS + 30 * DAY_MS;

test('sinceVisit() tells better from worse from the same', () => {
  expect(sinceVisit([visit()], days((index) => (index < 14 ? 0.4 : 0.25)), NOW_MS)?.verdict).toBe('improved');
  expect(sinceVisit([visit()], days((index) => (index < 14 ? 0.25 : 0.4)), NOW_MS)?.verdict).toBe('worse');
  expect(sinceVisit([visit()], days(() => 0.3), NOW_MS)?.verdict).toBe('not improved');
  // 8 % better every day is sure, but no more than weather does.
  expect(sinceVisit([visit()], days((index) => (index < 14 ? 0.3 : 0.276)), NOW_MS)?.verdict).toBe('not improved');
});

test('sinceVisit() calls nothing improved that swings more than it moved', () => {
  const swinging = days((index) => (index < 14 ? 0.4 : 0.3) * (index % 2 === 0 ? 0.2 : 1.8));
  expect(sinceVisit([visit()], swinging, NOW_MS)?.verdict).toBe('not improved');
});

test('sinceVisit() waits for three whole days on both sides', () => {
  const helped = days((index) => (index < 14 ? 0.4 : 0.2));
  expect(sinceVisit([visit()], helped.slice(0, 17), NOW_MS)).toMatchObject({ verdict: 'not enough data yet', after: { days: 2 } });
  expect(sinceVisit([visit()], helped.slice(0, 18), NOW_MS)).toMatchObject({ verdict: 'improved', after: { days: 3 } });
  expect(sinceVisit([visit()], helped.slice(12, 30), NOW_MS)).toMatchObject({ verdict: 'not enough data yet', before: { days: 2 } });
});

test('sinceVisit() leaves out the day of the visit, purging and provisional days, and looks at 14 days on each side', () => {
  const seen = sinceVisit([visit()], days(() => 0.3, (index) => (index === 16 ? { holdingRatio: 0.1 } : index === 29 ? { provisional: true } : {})), NOW_MS);
  // 1 to 14 October before; 16 to 30 October after, without one purging and one provisional day.
  expect([seen?.before.days, seen?.after.days]).toEqual([14, 13]);
});

test('sinceVisit() takes the last finished service, no test, no plan', () => {
  const all = [visit({ id: 'old', startedAt: '2026-09-01T09:00:00Z', finishedAt: '2026-09-01T10:00:00Z' }), visit(), visit({ id: 'test', kind: 'trip-test', startedAt: '2026-10-20T09:00:00Z' }), visit({ id: 'plan', startedAt: '2026-12-20T09:00:00Z', finishedAt: undefined })];
  expect(sinceVisit(all, days(() => 0.3), NOW_MS)?.visit).toBe('v1');
  expect(sinceVisit(all.slice(2), days(() => 0.3), NOW_MS)).toBeNull();
});

test('spanOf() adds up seconds instead of averaging ratios, and mixes no units', () => {
  const span = spanOf([day(0, 0.5, { coveredS: 1000, runS: 500, restS: 500, starts: 1 }), day(1, 0.1, { coveredS: 9000, runS: 900, restS: 8100, starts: 3 }), day(2, 0.1, { coveredS: 0, runS: 0, restS: 0, starts: 0, unit: 'relative', demand: { value: 900, se: 1 } })], 'NL/min');
  expect(span.dutyRatio).toBeCloseTo(1400 / 10_000, 12);
  expect(span.meanRunMin).toBeCloseTo(1400 / 4 / 60, 12);
  expect(span.meanRestMin).toBeCloseTo(8600 / 4 / 60, 12);
  expect(span.demand).toBeCloseTo(5, 12);
  expect(span.elementDropKPa).toBeNull();
  expect(spanOf([], 'relative')).toEqual({ days: 0, dutyRatio: null, meanRunMin: null, meanRestMin: null, demand: null, delivery: null, unit: 'relative', elementDropKPa: null, nitrogen: null });
});
