// Issue: a visit is sent once, however often it is tried; recording makes one entry per generator; the plan never stands in the way. Real server.
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Page, ServiceListRow } from '../../../shared/api.ts';
import { type Visit, visitSchema } from '../../../shared/visit.ts';
import { DAY_MS, type InventedServer, iso, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
beforeAll(async () => {
  world = await startInvented();
});
afterAll(() => world.stop());

const WORK = { startedAt: iso(NOW_MS - 3 * DAY_MS), finishedAt: iso(NOW_MS - 3 * DAY_MS + 5_400_000), steps: { tell: { doneAt: iso(NOW_MS - 3 * DAY_MS) } }, asFound: { elementDropKPa: 41 }, asLeft: { elementDropKPa: 22 }, valves: { 'supply to riser 1': { found: 'open', left: 'open' } }, replaced: ['coalescing-element'], adjusted: {}, note: 'drain cleaned' };
const body = (more: Record<string, unknown> = {}): Record<string, unknown> => ({ site: 'invented-1', generators: ['gen-1'], state: 'under-way', by: 'Ana', work: { 'gen-1': WORK }, performedAt: WORK.finishedAt, ...more });
const send = (id: string, what: unknown): Promise<Response> => fetch(`${world.base}/api/v1/trips/${id}/work`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(what) });
const sent = async (id: string, what: unknown): Promise<Visit> => {
  const response = await send(id, what);
  const visit = (await response.json()) as Visit;
  expect([response.status, visit]).toEqual([200, expect.objectContaining({ id })]);
  return visit;
};

test('a visit without a plan is kept, recorded once, and makes one entry for each generator', async () => {
  const first = await sent('t1', body({ generators: ['gen-1', 'gen-2'], work: { 'gen-1': WORK, 'gen-2': { ...WORK, replaced: [] } } }));
  expect(first).toMatchObject({ state: 'under-way', revision: 1, recordedAt: null });
  const record = body({ generators: ['gen-1', 'gen-2'], work: { 'gen-1': WORK, 'gen-2': { ...WORK, replaced: [] } }, state: 'recorded', revision: 1, signed: { by: 'Ana Invented', at: WORK.finishedAt } });
  const answer = await sent('t1', record);
  world.nowMs += 60_000;
  // The answer was lost: sent again, twice.
  const again = [await sent('t1', record), await sent('t1', record)];
  expect(again).toEqual([answer, answer]);
  expect(answer).toMatchObject({ state: 'recorded', performedAt: WORK.finishedAt, recordedAt: iso(NOW_MS) });
  const entries = (await world.records.entries()).filter((entry) => entry.by === 'Ana Invented');
  expect(new Map(entries.map((entry) => [entry.generator, [entry.kind, entry.replaced, entry.startedAt, entry.recordedAt]]))).toEqual(new Map([['gen-1', ['service', ['coalescing-element'], WORK.startedAt, iso(NOW_MS)]], ['gen-2', ['service', [], WORK.startedAt, iso(NOW_MS)]]]));
  expect(world.told.entries).toHaveLength(2);
  expect(entries.find((entry) => entry.generator === 'gen-1')).toMatchObject({ readings: { asFound: { elementDropKPa: 41 }, asLeft: { elementDropKPa: 22 } }, note: 'drain cleaned' });
});

test('a message of the time before recording that comes late changes nothing', async () => {
  const visit = await sent('t1', body({ revision: 0 }));
  expect(visit.state).toBe('recorded');
  expect(await world.records.visitRevisions('t1')).toHaveLength(2);
});

test('a correction names the revision that it saw, and corrects the entry; a stale one is refused', async () => {
  const stored = (await world.records.visit('t1'))!;
  const corrected = { ...body({ state: 'recorded', generators: stored.generators, signed: stored.signed }), work: { ...stored.work, 'gen-1': { ...WORK, replaced: ['coalescing-element', 'o-rings'] } } };
  expect((await send('t1', { ...corrected, revision: 1 })).status).toBe(409);
  const kept = await sent('t1', { ...corrected, revision: stored.revision });
  expect(kept.revision).toBe(stored.revision + 1);
  expect(kept.recordedAt).toBe(stored.recordedAt);
  const entries = (await world.records.entries()).filter((entry) => entry.by === 'Ana Invented');
  expect(entries.map((entry) => entry.replaced.length).sort((a, b) => a - b)).toEqual([0, 2]);
  expect(world.told.entries).toHaveLength(3);
});

test('what the office changed meanwhile stays, and stands in no way of what was done', async () => {
  const plan = visitSchema.parse({ id: 't2', site: 'invented-1', generators: ['gen-1'], state: 'planned', plannedFor: '2026-11-24', technician: 'Ana', updatedAt: iso(NOW_MS), updatedBy: 'Bo' });
  await world.records.saveVisit(plan);
  await world.records.saveVisit({ ...plan, revision: 1, plannedFor: '2026-11-25', state: 'cancelled', note: 'called off' });
  const visit = await sent('t2', body({ state: 'recorded', revision: 1, plannedFor: '2026-11-24' }));
  expect(visit).toMatchObject({ state: 'recorded', plannedFor: '2026-11-25', note: 'called off', technician: 'Ana' });
});

test('sent five times at once, while the office changes the plan, it is kept once', async () => {
  await world.records.saveVisit(visitSchema.parse({ id: 't3', site: 'invented-1', generators: ['gen-2'], state: 'planned', plannedFor: '2026-11-24', updatedAt: iso(NOW_MS), updatedBy: 'Bo' }));
  const told = world.told.entries.length;
  const record = body({ generators: ['gen-2'], work: { 'gen-2': { ...WORK, note: 'five times' } }, state: 'recorded', revision: 1, signed: { by: 'Ana', at: WORK.finishedAt } });
  const moved = world.records.visit('t3').then((visit) => fetch(`${world.base}/api/v1/trips`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ ...visit, updatedAt: undefined, updatedBy: undefined, plannedFor: '2026-11-26', by: 'Bo' }) }));
  const answers = await Promise.all(Array.from({ length: 5 }, () => sent('t3', record)));
  await moved;
  expect(new Set(answers.map((visit) => visit.state))).toEqual(new Set(['recorded']));
  expect((await world.records.visitRevisions('t3')).filter((visit) => visit.state === 'recorded')).toHaveLength(1);
  expect((await world.records.entries()).filter((entry) => entry.note === 'five times')).toHaveLength(1);
  expect(world.told.entries.length).toBe(told + 1);
});

test('a photo is kept once, and only if it is a JPEG', async () => {
  const post = (what: unknown): Promise<Response> => fetch(`${world.base}/api/v1/trips/t1/photos`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(what) });
  const photo = { id: 'p-1', generator: 'gen-1', at: iso(NOW_MS), says: 'as found', jpegBase64: `/9j/${Buffer.from('invented').toString('base64').replaceAll('=', '')}`, by: 'Ana' };
  expect((await post(photo)).status).toBe(201);
  expect((await post({ ...photo, says: 'again' })).status).toBe(201);
  expect((await post({ ...photo, id: 'p-2', jpegBase64: Buffer.from('<svg/>').toString('base64') })).status).toBe(400);
  const list = (await (await fetch(`${world.base}/api/v1/trips/t1/photos`)).json()) as { says: string }[];
  expect(list.map((one) => one.says)).toEqual(['as found']);
  const picture = await fetch(`${world.base}/api/v1/trips/t1/photos/p-1`);
  expect([picture.headers.get('content-type'), picture.headers.get('x-content-type-options'), [...new Uint8Array(await picture.arrayBuffer())].slice(0, 3)]).toEqual(['image/jpeg', 'nosniff', [0xff, 0xd8, 0xff]]);
  expect((await fetch(`${world.base}/api/v1/trips/t1/photos/none`)).status).toBe(404);
});

test('what was planned for a finding is carried out once the work is recorded: its line says when the work ended, before analysis has looked', async () => {
  const row = async (): Promise<ServiceListRow> => ((await (await fetch(`${world.base}/api/v1/service-list`)).json()) as Page<ServiceListRow>).items.find((one) => one.site === 'invented-1' && one.generator === 'gen-1')!;
  const visit = { id: 't9', site: 'invented-1', generators: ['gen-1'], state: 'planned', plannedFor: '2026-11-25', findings: ['invented-finding-0'], by: 'Bo' };
  world.nowMs += DAY_MS;
  expect((await fetch(`${world.base}/api/v1/trips`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(visit) })).status).toBe(201);
  expect((await row()).state).toBe('planned');
  world.nowMs += 3 * 3_600_000;
  const finishedAt = iso(world.nowMs - 600_000);
  await sent('t9', body({ state: 'recorded', revision: 1, work: { 'gen-1': { ...WORK, startedAt: iso(world.nowMs - 7_200_000), finishedAt } }, performedAt: finishedAt, signed: { by: 'Ana', at: finishedAt }, findings: ['invented-finding-0'] }));
  expect(await row()).toMatchObject({ state: 'acknowledged', servedAt: finishedAt });
});
