// Issue: "The main job, end to end": findings can be acknowledged, shelved, closed with who and when; visits are recorded. Real server, real SQLite file.
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { GeneratorDetail, OverviewRow, Page, ServiceListRow } from '../../../shared/api.ts';
import { lookByDays } from '../../../analysis/verify/did-it-help.ts';
import type { Entry } from '../../../shared/entry.ts';
import type { Finding, RankingReport } from '../../../shared/finding.ts';
import { DAY_MS, daysOf, type InventedServer, iso, keyAt, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
beforeAll(async () => {
  world = await startInvented();
});
afterAll(() => world.stop());

async function get<T>(path: string): Promise<T> {
  return (await (await fetch(`${world.base}/api/v1${path}`)).json()) as T;
}

async function post(path: string, body: unknown): Promise<{ status: number; body: Record<string, unknown> }> {
  const response = await fetch(`${world.base}/api/v1${path}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  return { status: response.status, body: (await response.json()) as Record<string, unknown> };
}

const leadOf = async (index: number): Promise<OverviewRow['lead']> => (await get<Page<OverviewRow>>('/overview')).items[index]?.lead ?? null;

test('POST acknowledge, shelve, unshelve and note show at once in lists and on the page, with who and when', async () => {
  const id = 'invented-finding-1';
  await get('/ranking');
  expect(await post(`/findings/${id}/acknowledge`, { by: ' Ana ' })).toMatchObject({ status: 200, body: { id, state: 'acknowledged' } });
  expect(await leadOf(1)).toMatchObject({ state: 'acknowledged' });
  expect((await get<RankingReport>('/ranking')).findings.find((one) => one.id === id)?.state).toBe('acknowledged');
  expect(await post(`/findings/${id}/acknowledge`, { by: 'Ana' })).toMatchObject({ status: 409 });
  const untilAt = iso(NOW_MS + 2 * DAY_MS);
  expect(await post(`/findings/${id}/shelve`, { by: 'Ana', untilAt, note: 'parts are ordered' })).toMatchObject({ status: 200, body: { shelvedUntil: untilAt } });
  expect(await leadOf(1)).toMatchObject({ shelvedUntil: untilAt });
  expect(await post(`/findings/${id}/unshelve`, { by: 'Ana' })).toMatchObject({ status: 200, body: { shelvedUntil: null } });
  expect(await post(`/findings/${id}/unshelve`, { by: 'Ana' })).toMatchObject({ status: 409, body: { detail: 'This finding is not shelved.' } });
  expect(await post(`/findings/${id}/note`, { by: 'Rui', note: 'rang the site' })).toMatchObject({ status: 200 });
  const detail = await get<GeneratorDetail>('/generators/invented-1/gen-2');
  expect(detail.actions.map((one) => `${one.action} ${one.by}`).sort()).toEqual(['acknowledge Ana', 'note Rui', 'shelve Ana', 'unshelve Ana']);
  expect(world.told.closings).toEqual([]);
});

test('POST close is told to analysis, takes the finding out of the row, and reopen brings it back', async () => {
  const id = 'invented-finding-2';
  expect(await post(`/findings/${id}/reopen`, { by: 'Ana' })).toMatchObject({ status: 409 });
  expect(await post(`/findings/${id}/close`, { by: 'Ana', reason: 'false' })).toMatchObject({ status: 200, body: { state: 'closed', closedReason: 'false', closedAt: iso(NOW_MS) } });
  expect(world.told.closings).toMatchObject([{ finding: id, action: 'close', by: 'Ana', reason: 'false', atMs: NOW_MS }]);
  expect(await leadOf(2)).toBeNull();
  expect((await get<Page<ServiceListRow>>('/service-list')).items.find((one) => one.site === 'invented-2' && one.generator === 'gen-1')?.cause ?? null).toBeNull();
  expect((await get<Page<Finding>>('/findings?open=true')).items.map((one) => one.id)).not.toContain(id);
  expect((await get<Page<Finding>>('/findings?open=false')).items.map((one) => one.id)).toEqual([id]);
  expect(await post(`/findings/${id}/shelve`, { by: 'Ana', untilAt: iso(NOW_MS + DAY_MS) })).toMatchObject({ status: 409, body: { detail: 'This finding is closed (false). Reopen it first.' } });
  world.nowMs += 1000;
  expect(await post(`/findings/${id}/reopen`, { by: 'Ana' })).toMatchObject({ status: 200, body: { state: 'new', closedAt: null } });
  expect(await leadOf(2)).toMatchObject({ finding: id });
  expect((await get<Page<Finding>>('/findings?open=true&limit=2')).items).toHaveLength(2);
});

test('POST refuses what is missing, too long, unknown or in the past, and names it', async () => {
  const id = 'invented-finding-0';
  const cases: readonly [path: string, body: unknown, status: number, detail: RegExp][] = [
    [`/findings/${id}/acknowledge`, {}, 400, /by: /],
    [`/findings/${id}/acknowledge`, { by: '   ' }, 400, /by: /],
    [`/findings/${id}/acknowledge`, { by: 'x'.repeat(81) }, 400, /by: /],
    [`/findings/${id}/acknowledge`, { by: 'Ana', colour: 1 }, 400, /unknown: colour/],
    [`/findings/${id}/shelve`, { by: 'Ana' }, 400, /untilAt: must be an ISO 8601/],
    [`/findings/${id}/shelve`, { by: 'Ana', untilAt: iso(NOW_MS - 1) }, 400, /untilAt must be in the future/],
    [`/findings/${id}/close`, { by: 'Ana', reason: 'superseded' }, 400, /reason: /],
    [`/findings/${id}/note`, { by: 'Ana' }, 400, /note: /],
    ['/findings/no-such/acknowledge', { by: 'Ana' }, 404, /No finding/],
    ['/quarantine/release', { by: 'Ana', ids: [] }, 400, /ids: /],
  ];
  for (const [path, body, status, detail] of cases) {
    const answer = await post(path, body);
    expect([path, answer.status]).toEqual([path, status]);
    expect(answer.body['detail']).toMatch(detail);
  }
  expect(await world.records.actions({ finding: id })).toEqual([]);
});

test('POST /visits keeps the entry, shows it at once, tells analysis, and stamps it with its receipt', async () => {
  const visit = { site: 'invented-1', generator: 'gen-1', startedAt: iso(NOW_MS - 7_200_000), finishedAt: iso(NOW_MS - 3_600_000), replaced: ['coalescing-element'], recordedAt: iso(NOW_MS - 30 * DAY_MS), by: 'Rui' };
  const answer = await post('/visits', visit);
  expect(answer.status).toBe(201);
  const { entry } = answer.body as { entry: Entry };
  expect(entry).toMatchObject({ kind: 'service', replaced: ['coalescing-element'], by: 'Rui', recordedAt: iso(world.nowMs) });
  expect(entry.id).toMatch(/^visit-[0-9a-f]{16}$/);
  expect(world.told.entries).toEqual([entry]);
  expect((await get<Page<Entry>>('/visits?site=invented-1&generator=gen-1')).items).toEqual([entry]);
  expect((await get<Page<Entry>>('/visits?site=invented-2')).items).toEqual([]);
  const detail = await get<GeneratorDetail>('/generators/invented-1/gen-1');
  expect(detail.visits).toEqual([entry]);
  expect(detail.sinceVisit).toMatchObject({ visit: entry.id, verdict: 'not enough data yet', before: { days: 0 }, after: { days: 0 } });
  expect(detail.secondLooks).toEqual([]);
  expect(await post('/visits', { ...visit, id: entry.id, note: 'carbon element too' })).toMatchObject({ status: 201, body: { entry: { id: entry.id, note: 'carbon element too' } } });
  expect((await get<Page<Entry>>('/visits')).items).toHaveLength(1);
  expect(await post('/visits', { ...visit, id: entry.id, generator: 'gen-2' })).toMatchObject({ status: 409 });
});

test('POST /visits refuses what is no entry', async () => {
  const visit = { site: 'invented-1', generator: 'gen-1', startedAt: iso(NOW_MS), by: 'Rui' };
  const cases: readonly [body: unknown, status: number, detail: RegExp][] = [
    [{ ...visit, by: undefined }, 400, /by: /],
    [{ ...visit, startedAt: 'today' }, 400, /startedAt: must be an ISO 8601 time/],
    [{ ...visit, finishedAt: iso(NOW_MS - 1) }, 400, /finishedAt must not be before startedAt/],
    [{ ...visit, replaced: ['wheel'] }, 400, /replaced\.0: /],
    [{ ...visit, generator: 'gen-99' }, 404, /No generator invented-1\/gen-99/],
    [[visit], 400, /body/],
  ];
  const before = await world.records.entries();
  for (const [body, status, detail] of cases) {
    const answer = await post('/visits', body);
    expect(answer.status).toBe(status);
    expect(answer.body['detail']).toMatch(detail);
  }
  expect(await world.records.entries()).toEqual(before);
});

test('GET a generator after a visit that helped says so, from days on both sides', async () => {
  const key = keyAt(3);
  const visitedMs = Date.parse('2026-11-14T10:00:00Z');
  const visit: Entry = { id: 'invented-visit', site: 'invented-2', generator: 'gen-2', kind: 'service', startedAt: iso(visitedMs), finishedAt: iso(visitedMs + 3_600_000), recordedAt: iso(visitedMs + 3_600_000), replaced: [], adjusted: {}, readings: {} };
  await world.records.saveEntry(visit, 'Rui');
  // What analysis writes when a day closes.
  const verification = lookByDays({ generator: key, visit, findings: [], atMs: NOW_MS, days: daysOf(key, 40, (daysAgo) => (daysAgo > 10 ? 0.4 : 0.2)) });
  await world.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], verifications: [verification] });
  const { sinceVisit, secondLooks } = await get<GeneratorDetail>('/generators/invented-2/gen-2');
  expect(sinceVisit).toMatchObject({ visit: 'invented-visit', verdict: 'improved', before: { unit: 'NL/min' }, after: { unit: 'NL/min' } });
  expect(sinceVisit?.before.dutyRatio).toBeCloseTo(0.408, 2);
  expect(sinceVisit?.after.dutyRatio).toBeCloseTo(0.204, 2);
  // The day of the visit belongs to neither side: 15 to 23 November are 9 days, the provisional 24th is left out.
  expect(sinceVisit?.after.days).toBe(9);
  expect(sinceVisit?.before.days).toBe(14);
  expect(secondLooks).toMatchObject([{ visit: 'invented-visit', look: 'days', verdict: 'improved', recurrence: null, says: [expect.stringMatching(/^Run time 40\.7 % before, 20\.4 % after \(−50 %\)\.$/), expect.any(String), expect.any(String), expect.any(String), expect.any(String)] }]);
});

test('POST /quarantine/release hands the ids to ingest', async () => {
  expect(await post('/quarantine/release', { ids: [1, 2], by: 'Ana' })).toEqual({ status: 200, body: { released: 1, stillRefused: 1 } });
  expect(world.told.released).toEqual([{ ids: [1, 2], by: 'Ana' }]);
});

test('every write stands in the audit, newest first, and nothing refused does', async () => {
  const { items, next } = await get<Page<{ by: string; did: string; about: string }>>('/audit');
  expect(items.map((line) => `${line.by}: ${line.did}`)).toEqual([
    'Ana: released from quarantine: 1 taken, 1 still refused', 'Rui: corrected service', 'Rui: logged service', 'Ana: reopen finding', 'Ana: close finding: false',
    'Rui: note finding', 'Ana: unshelve finding', 'Ana: shelve finding', 'Ana: acknowledge finding',
  ]);
  expect(items.at(-1)?.about).toBe('invented-1/gen-2 invented-finding-1');
  expect(next).toBeNull();
  const second = await get<Page<{ did: string }>>('/audit?limit=3&after=3');
  expect(second.items.map((line) => line.did)).toEqual(['reopen finding', 'close finding: false', 'note finding']);
  expect(second.next).toBe('6');
});
