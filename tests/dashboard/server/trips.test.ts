// Issue: the lead plans visits: each save is a revision, findings follow, tests of the contractor put generators under test, calendars keep what was cancelled. Real server, real SQLite file.
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { HandOver, HandOverNote, Page } from '../../../shared/api.ts';
import type { Entry } from '../../../shared/entry.ts';
import type { Finding } from '../../../shared/finding.ts';
import type { PlanAnswer, PlannedTest } from '../../../shared/plan.ts';
import type { Visit } from '../../../shared/visit.ts';
import { handOverSchema } from '../../../dashboard/server/answer-schemas.ts';
import { planSchema } from '../../../dashboard/server/plan-routes.ts';
import { DAY_MS, type InventedServer, iso, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
beforeAll(async () => {
  world = await startInvented();
});
afterAll(() => world.stop());

const text = async (path: string): Promise<string> => await (await fetch(`${world.base}/api/v1${path}`)).text();
const get = async <T>(path: string): Promise<T> => JSON.parse(await text(path)) as T;
async function post<T>(path: string, body: unknown): Promise<{ status: number; body: T & { detail?: string } }> {
  const response = await fetch(`${world.base}/api/v1${path}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  return { status: response.status, body: (await response.json()) as T & { detail?: string } };
}
const stateOf = async (id: string): Promise<string> => (await get<Finding>(`/findings/${id}`)).state;
const again = ({ updatedAt: _at, updatedBy: _by, ...visit }: Visit, changes: Partial<Visit>): Record<string, unknown> => ({ ...visit, ...changes, by: 'Lead' });

test('POST /trips plans a visit, its finding follows; a stale save and a state that can not follow are refused', async () => {
  const first = await post<Visit>('/trips', { site: 'invented-1', generators: ['gen-1'], state: 'draft', findings: ['invented-finding-0'], by: 'Lead' });
  expect([first.status, first.body.revision, first.body.updatedBy]).toEqual([201, 1, 'Lead']);
  expect(await stateOf('invented-finding-0')).toBe('new');
  const planned = await post<Visit>('/trips', again(first.body, { state: 'planned', plannedFor: '2026-12-01', technician: 'Ana' }));
  expect(planned.body.revision).toBe(2);
  expect(await stateOf('invented-finding-0')).toBe('planned');
  world.nowMs += 1000;
  // The same again, as after a lost answer: nothing new, and no second revision.
  expect((await post<Visit>('/trips', again(first.body, { state: 'planned', plannedFor: '2026-12-01', technician: 'Ana' }))).body).toEqual(planned.body);
  const stale = await post<Visit>('/trips', again(first.body, { state: 'cancelled' }));
  expect([stale.status, stale.body.detail]).toEqual([409, expect.stringContaining('as revision 2; yours was made from revision 1')]);
  expect(await post('/trips', again(planned.body, { state: 'verified' }))).toMatchObject({ status: 409, body: { detail: "A visit that is planned can't become verified; it can become planned, draft, under-way, cancelled." } });
  expect(await post('/trips', again(planned.body, { site: 'invented-2' }))).toMatchObject({ status: 409 });
  expect(await post('/trips', { site: 'nowhere', generators: ['gen-1'], state: 'draft', by: 'Lead' })).toMatchObject({ status: 404 });
  expect(await post('/trips', { site: 'invented-1', generators: ['gen-1'], state: 'verified', by: 'Lead' })).toMatchObject({ status: 409 });
  expect((await get<Page<Visit>>('/trips?technician=Ana&from=2026-12-01&to=2026-12-01')).items.map((one) => one.id)).toEqual([planned.body.id]);
  expect((await get<Page<Visit>>(`/trips/${planned.body.id}/revisions`)).items.map((one) => one.state)).toEqual(['draft', 'planned']);

  // To somebody else: it leaves the first one's calendar, and the finding stays planned.
  world.nowMs += 1000;
  const moved = await post<Visit>('/trips', again(planned.body, { technician: 'Rui', plannedFor: '2026-12-02' }));
  expect(await text('/trips.ics?technician=Ana')).toContain('STATUS:CANCELLED');
  expect(await text('/trips.ics?technician=Rui')).toMatch(/SEQUENCE:3[\s\S]*STATUS:CONFIRMED/);
  world.nowMs += 1000;
  await post<Visit>('/trips', again(moved.body, { state: 'cancelled' }));
  expect(await stateOf('invented-finding-0')).toBe('acknowledged');
  expect((await world.records.actions({ finding: 'invented-finding-0' })).map((one) => [one.action, one.by, one.visit])).toEqual([['plan', 'Lead', planned.body.id], ['unplan', 'Lead', planned.body.id]]);
});

test('POST /tests puts every generator of the site under test then, moves and cancels it, and the plan knows it', async () => {
  const startedAt = iso(NOW_MS + 2 * DAY_MS);
  const entered = await post<{ id: string; entries: number }>('/tests', { site: 'invented-1', startedAt, finishedAt: iso(NOW_MS + 2 * DAY_MS + 10_800_000), by: 'Lead' });
  expect([entered.status, entered.body.entries]).toEqual([201, 2]);
  const mine = async (): Promise<Entry[]> => (await get<Page<Entry>>('/visits?site=invented-1')).items.filter((one) => one.id.startsWith(entered.body.id));
  expect((await mine()).map((one) => [one.generator, one.kind, one.startedAt])).toEqual(expect.arrayContaining([['gen-1', 'trip-test', startedAt], ['gen-2', 'trip-test', startedAt]]));
  expect(world.told.entries.filter((one) => one.id.startsWith(entered.body.id))).toHaveLength(2);
  expect((await get<Page<PlannedTest>>('/tests')).items.map((one) => [one.id, one.generators.length])).toEqual([[entered.body.id, 2]]);
  const moved = iso(NOW_MS + 3 * DAY_MS);
  await post('/tests', { id: entered.body.id, site: 'invented-1', startedAt: moved, finishedAt: iso(NOW_MS + 3 * DAY_MS + 7_200_000), by: 'Lead' });
  expect((await get<Page<PlannedTest>>('/tests')).items.map((one) => one.startedAt)).toEqual([moved]);
  expect((await get<PlanAnswer>('/plan')).tests.map((one) => one.startedAt)).toEqual([moved]);
  await post('/tests', { id: entered.body.id, site: 'invented-1', startedAt: moved, finishedAt: moved, cancelled: true, by: 'Lead' });
  expect((await get<Page<PlannedTest>>('/tests')).items).toEqual([]);
  expect((await mine()).every((one) => one.finishedAt === one.startedAt && one.note === 'cancelled')).toBe(true);
  expect(await post('/tests', { id: 'test-unknown', site: 'invented-1', startedAt: moved, finishedAt: moved, by: 'Lead' })).toMatchObject({ status: 404 });
});

test('GET /plan and /hand-over answer as they are described, before and after somebody is entered', async () => {
  expect((await get<PlanAnswer>('/plan')).left.every((one) => one.says === 'nobody is entered who could go')).toBe(true);
  expect(await post('/technicians', { name: 'Ana', trades: ['generator-technician'], hoursByWeekday: [8, 8, 8, 8, 8, 0, 0], by: 'Lead' })).toMatchObject({ status: 200 });
  expect(await post('/technicians', { name: 'Ana', trades: [], hoursByWeekday: [8], by: 'Lead' })).toMatchObject({ status: 400 });
  const plan = await get<PlanAnswer>('/plan?from=2026-11-24&days=7');
  expect(planSchema.parse(plan)).toMatchObject({ fromDay: '2026-11-24', toDay: '2026-11-30', today: '2026-11-24' });
  expect(plan.trips.some((trip) => trip.visit === null && trip.technician === 'Ana' && trip.because.length > 0)).toBe(true);
  // The way, as somebody who knows the roads sets it.
  expect(plan.way).toEqual({ areaHours: 1, nextSiteHours: 0.5 });
  expect(await post('/plan/way', { areaHours: 2.5, nextSiteHours: 0.25, by: 'Lead' })).toMatchObject({ status: 200, body: { areaHours: 2.5, nextSiteHours: 0.25 } });
  for (const wrong of [{ areaHours: -1, nextSiteHours: 1, by: 'Lead' }, { areaHours: 1, by: 'Lead' }, { areaHours: 13, nextSiteHours: 1, by: 'Lead' }]) expect(await post('/plan/way', wrong)).toMatchObject({ status: 400 });
  const farther = await get<PlanAnswer>('/plan?from=2026-11-24&days=7');
  expect([farther.way, farther.says.at(-2)]).toEqual([{ areaHours: 2.5, nextSiteHours: 0.25 }, expect.stringContaining('2.5 h into an area and 0.25 h to each further site')]);
  expect(farther.says.at(-1)).toContain('is words, and is not taken into account');
  const longest = (one: PlanAnswer): number => Math.max(...one.days.flatMap((day) => day.people.map((person) => person.proposedHours)));
  expect(longest(farther)).toBeGreaterThan(longest(plan));
  expect((await text('/plan.csv')).split('\r\n')[0]).toContain('day,time');
  const note = handOverSchema.parse(await get<HandOver>('/hand-over?hours=12'));
  expect(note.changed.map((line) => line.says)).toContainEqual(expect.stringContaining('visit no longer planned'));
  expect((await fetch(`${world.base}/api/v1/hand-over?hours=100000`)).status).toBe(400);
});

test('words to the next shift are kept with author and time, once however often they are sent, and listed newest first', async () => {
  const first = await post<HandOverNote>('/hand-over/notes', { words: '  Quay rings back at 9  ', by: 'Desk', hours: 12 });
  const note = handOverSchema.parse(await get<HandOver>('/hand-over?hours=12'));
  expect(first).toMatchObject({ status: 201, body: { by: 'Desk', words: 'Quay rings back at 9', at: iso(world.nowMs), fromAt: iso(world.nowMs - 12 * 3_600_000), generators: note.generators, reporting: note.reporting } });
  world.nowMs += 60_000;
  expect((await post<HandOverNote>('/hand-over/notes', { words: 'Quay rings back at 9', by: 'Desk', hours: 12 })).body).toEqual(first.body);
  const second = await post<HandOverNote>('/hand-over/notes', { words: 'they rang', by: 'Night' });
  expect((await get<Page<HandOverNote>>('/hand-over/notes')).items).toEqual([second.body, first.body]);
  expect((await get<Page<HandOverNote>>('/hand-over/notes?limit=1')).next).not.toBeNull();
  // The same words next week are another note.
  world.nowMs += 7 * DAY_MS;
  expect((await post<HandOverNote>('/hand-over/notes', { words: 'they rang', by: 'Night' })).body.id).not.toBe(second.body.id);
  for (const wrong of [{ words: ' ', by: 'Desk' }, { words: 'x' }, { words: 'x'.repeat(4001), by: 'Desk' }]) expect(await post('/hand-over/notes', wrong)).toMatchObject({ status: 400 });
  expect(await world.records.auditLines()).toContainEqual({ atMs: Date.parse(first.body.at), by: 'Desk', did: 'kept words to the next shift', about: first.body.id });
});
