// Issue: "A diagnosis that holds up", item 7: the page shows what analysis wrote about the last visit. Looks are invented by hand.
import { expect, test } from 'vitest';
import { secondLooks, sinceVisit } from '../../../dashboard/views/since-visit.ts';
import type { Entry } from '../../../shared/entry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import type { BeforeAfter, Verification } from '../../../shared/review.ts';

const visit = (change: Partial<Entry> = {}): Entry => ({ id: 'v1', site: 's', generator: 'g', kind: 'service', startedAt: '2026-10-15T09:00:00Z', finishedAt: '2026-10-15T11:00:00Z', recordedAt: '2026-10-15T11:00:00Z', replaced: [], adjusted: {}, readings: {}, ...change });
const side = (days: number, dutyRatio: number | null): BeforeAfter => ({ days, dutyRatio, meanRunMin: null, meanRestMin: null, demand: null, delivery: null, unit: 'relative', elementDropKPa: null, nitrogen: null });
const VISITED_MS = Date.parse('2026-10-15T11:00:00Z');
const HOUR_MS = 3_600_000;
const look = (name: Verification['look'], hours: number, verdict: Verification['verdict'], change: Partial<Verification> = {}): Verification => ({ generator: 's/g' as GeneratorKey, visit: 'v1', visitedAtMs: VISITED_MS, look: name, atMs: VISITED_MS + hours * HOUR_MS, verdict, before: side(hours, 0.4), after: side(1, 0.2), says: [`after ${hours} h`], recurrence: null, ...change });
const NOW_MS = VISITED_MS + 100 * HOUR_MS;

test('sinceVisit() takes the newest look that could tell', () => {
  const looks = [look('4 h', 4, 'improved'), look('24 h', 24, 'not improved'), look('days', 48, 'not enough data yet')];
  expect(sinceVisit([visit()], looks, NOW_MS)).toMatchObject({ visit: 'v1', visitedAt: '2026-10-15T11:00:00.000Z', verdict: 'not improved', before: { days: 24 } });
  expect(sinceVisit([visit()], looks.slice(2), NOW_MS)).toMatchObject({ verdict: 'not enough data yet', before: { days: 48 } });
});

test('sinceVisit() says that there is not enough data until a look was due', () => {
  expect(sinceVisit([visit()], [look('4 h', 4, 'improved', { visit: 'another' })], NOW_MS)).toMatchObject({ visit: 'v1', verdict: 'not enough data yet', after: { days: 0, dutyRatio: null } });
});

test('sinceVisit() takes the last finished service, no test, no plan', () => {
  const all = [visit({ id: 'old', startedAt: '2026-09-01T09:00:00Z', finishedAt: '2026-09-01T10:00:00Z' }), visit(), visit({ id: 'test', kind: 'trip-test', startedAt: '2026-10-17T09:00:00Z', finishedAt: '2026-10-17T10:00:00Z' }), visit({ id: 'plan', startedAt: '2026-12-20T09:00:00Z', finishedAt: undefined })];
  expect(sinceVisit(all, [], NOW_MS)?.visit).toBe('v1');
  expect(sinceVisit(all.slice(2), [], NOW_MS)).toBeNull();
});

test('secondLooks() gives the looks at that visit only, newest first', () => {
  const looks = [look('4 h', 4, 'improved'), look('24 h', 24, 'worse', { recurrence: ['f1', 'f2'] }), look('days', 60, 'improved', { visit: 'old' })];
  expect(secondLooks([visit()], looks, NOW_MS)).toEqual([
    { visit: 'v1', visitedAt: '2026-10-15T11:00:00.000Z', look: '24 h', at: '2026-10-16T11:00:00.000Z', verdict: 'worse', says: ['after 24 h'], recurrence: ['f1', 'f2'] },
    { visit: 'v1', visitedAt: '2026-10-15T11:00:00.000Z', look: '4 h', at: '2026-10-15T15:00:00.000Z', verdict: 'improved', says: ['after 4 h'], recurrence: null },
  ]);
  expect(secondLooks([], looks, NOW_MS)).toEqual([]);
});
