// Issue: records are numbered, never changed once issued, and hold the words of care; figures before and after are like with like. Real server.
import { afterAll, beforeAll, expect, test } from 'vitest';
import { CARE_ALWAYS, CARE_VISIT } from '../../../dashboard/views/words-of-care.ts';
import { entrySchema } from '../../../shared/entry.ts';
import type { IssuedRecord } from '../../../shared/issued-record.ts';
import type { BeforeAfter, Verification } from '../../../shared/review.ts';
import { visitSchema } from '../../../shared/visit.ts';
import { DAY_MS, daysOf, type InventedServer, iso, keyAt, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
const VISIT_MS = NOW_MS - 12 * DAY_MS;
beforeAll(async () => {
  world = await startInvented();
  await world.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: daysOf(keyAt(0), 60, (ago) => (ago > 12 ? 0.3 : 0.2)), cycles: [], findings: [], checkpoints: [], hotStates: [] });
  const work = { 'gen-1': { startedAt: iso(VISIT_MS), finishedAt: iso(VISIT_MS + 5_400_000), steps: { tell: { doneAt: iso(VISIT_MS) } }, asFound: { elementDropKPa: 41, 'holdFallKPaPerHour.riser-1': 1.5 }, asLeft: { elementDropKPa: 22 }, valves: { '<b>sample</b> bleed': { found: 'open', left: 'shut' } }, replaced: ['coalescing-element'], note: '=HYPERLINK("x") & "more"' } };
  await world.records.saveVisit(visitSchema.parse({ id: 'v1', site: 'invented-1', generators: ['gen-1'], state: 'recorded', work, told: [{ who: 'supervising-station', name: 'C. Invented', at: iso(VISIT_MS), what: 'before' }], signed: { by: 'Ana Invented', at: iso(VISIT_MS + 5_400_000) }, performedAt: iso(VISIT_MS + 5_400_000), recordedAt: iso(VISIT_MS + 2 * DAY_MS), updatedAt: iso(NOW_MS), updatedBy: 'Ana' }));
  await world.records.saveEntry(entrySchema.parse({ id: 'e1', site: 'invented-1', generator: 'gen-1', startedAt: iso(VISIT_MS), finishedAt: iso(VISIT_MS + 5_400_000), recordedAt: iso(VISIT_MS + 2 * DAY_MS), replaced: ['coalescing-element'], by: 'Ana Invented' }), 'Ana');
  const side = (dutyRatio: number): BeforeAfter => ({ days: 14, dutyRatio, meanRunMin: 8, meanRestMin: 40, demand: null, delivery: null, unit: 'relative', elementDropKPa: null, nitrogen: null });
  const look = (name: Verification['look'], hours: number, verdict: Verification['verdict'], says: readonly string[]): Verification => ({ generator: keyAt(0), visit: 'e1', visitedAtMs: VISIT_MS, look: name, atMs: VISIT_MS + hours * 3_600_000, verdict, before: side(0.3), after: side(0.2), says, recurrence: null });
  await world.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], verifications: [look('24 h', 24, 'improved', ['Runs 20 % less than before.']), look('4 h', 4, 'not enough data yet', [])] });
  await world.records.saveVisit(visitSchema.parse({ id: 'v2', site: 'invented-1', generators: ['gen-1'], state: 'planned', updatedAt: iso(NOW_MS), updatedBy: 'Ana' }));
});
afterAll(() => world.stop());

const post = (body: unknown): Promise<Response> => fetch(`${world.base}/api/v1/records`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
const issued = async (body: unknown): Promise<IssuedRecord> => {
  const response = await post(body);
  const record = (await response.json()) as IssuedRecord;
  expect([response.status, record]).toEqual([201, expect.objectContaining({ issuedBy: 'Bo' })]);
  return record;
};
const html = async (record: IssuedRecord): Promise<string> => {
  const response = await fetch(`${world.base}/api/v1/records/${record.number}/${record.revision}`);
  expect([response.status, response.headers.get('content-type')]).toEqual([200, 'text/html; charset=utf-8']);
  return response.text();
};
const plain = (page: string): string => page.replaceAll(/<[^>]+>/g, ' ').replaceAll('&#39;', "'").replaceAll('&quot;', '"').replaceAll('&lt;', '<').replaceAll('&gt;', '>').replaceAll('&amp;', '&');

test('a visit sheet tells what was found, done and left, with the words of care whole, and nothing from outside as markup', async () => {
  const record = await issued({ kind: 'visit-sheet', visit: 'v1', by: 'Bo' });
  expect(record).toMatchObject({ number: 1, revision: 1, kind: 'visit-sheet', subject: 'visit v1', site: 'invented-1', generators: ['gen-1'] });
  const page = await html(record);
  expect(page).not.toContain('<b>sample</b>');
  expect(page).not.toMatch(/<script|style="|\son\w+="/);
  const words = plain(page);
  for (const says of [...CARE_ALWAYS, ...CARE_VISIT]) expect(words).toContain(says);
  for (const says of ['<b>sample</b> bleed', 'Ana Invented', 'C. Invented', 'coalescing element', '41\u00a0kPa', '22\u00a0kPa', 'not noted', 'Record 1, revision 1', 'Simulated readings.', 'not in the registry; area: north']) expect(words).toContain(says);
  expect(page.match(/<svg/g)!.length).toBeGreaterThanOrEqual(2);
  const csv = await (await fetch(`${world.base}/api/v1/records/1/1/figures.csv`)).text();
  expect(csv.split('\r\n')[1]).toBe('1,1,v1,invented-1,gen-1,drop over elements,41,22,kPa');
});

test('issued again it is the next revision; the first one stays as it was, byte for byte', async () => {
  const before = await html({ number: 1, revision: 1 } as IssuedRecord);
  const visit = (await world.records.visit('v1'))!;
  await world.records.saveVisit({ ...visit, work: { ...visit.work, 'gen-1': { ...visit.work['gen-1']!, note: 'set right' } } });
  world.nowMs += 3_600_000;
  const [a, b] = await Promise.all([issued({ kind: 'visit-sheet', visit: 'v1', by: 'Bo' }), issued({ kind: 'visit-sheet', visit: 'v1', by: 'Bo' })]);
  expect([a.number, b.number, ...[a.revision, b.revision].sort((one, other) => one - other)]).toEqual([1, 1, 2, 3]);
  expect(await html({ number: 1, revision: 1 } as IssuedRecord)).toBe(before);
  expect(plain(await html(a))).toContain('set right');
  const list = (await (await fetch(`${world.base}/api/v1/records?visit=v1`)).json()) as { items: IssuedRecord[] };
  expect(list.items.map((one) => one.revision)).toEqual([3, 2, 1]);
});

test('a sheet is issued of what is recorded only, and what is missing is said', async () => {
  expect((await post({ kind: 'visit-sheet', visit: 'v2', by: 'Bo' })).status).toBe(409);
  expect((await post({ kind: 'visit-sheet', visit: 'none', by: 'Bo' })).status).toBe(404);
  expect((await post({ kind: 'visit-sheet', by: 'Bo' })).status).toBe(400);
  expect((await post({ kind: 'owner-report', site: 'nowhere', by: 'Bo' })).status).toBe(404);
  expect((await post({ kind: 'owner-report', site: 'invented-1', from: '2026-11-20', to: '2026-11-10', by: 'Bo' })).status).toBe(400);
  expect((await fetch(`${world.base}/api/v1/records/99/1`)).status).toBe(404);
});

test("an owner's report compares before and after, and says so", async () => {
  const record = await issued({ kind: 'owner-report', site: 'invented-1', from: iso(NOW_MS - 40 * DAY_MS), to: iso(NOW_MS), by: 'Bo' });
  expect(record).toMatchObject({ number: 2, revision: 1, kind: 'owner-report' });
  const words = plain(await html(record));
  for (const says of CARE_ALWAYS) expect(words).toContain(says);
  expect(words).toMatch(/Duty ratio\s+31\s?%\s+20\s?%\s+−33\s?%/);
  expect(words).toContain('room temperature matched');
  expect(words).toMatch(/Second looks at the visits[\s\S]*4\sh\safter[\s\S]*not enough data yet[\s\S]*24\sh\safter[\s\S]*improved\s+Runs 20 % less than before\./);
  // In words for somebody who doesn't know the desk's; nothing done and nothing found are said, and so is every year.
  expect(words).toMatch(/How it stands[\s\S]*, 93\s%\s+open\s/);
  expect(words).toContain('No visit and no test of this time is on record.');
  expect(words).not.toMatch(/\d{1,2} (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sept|Oct|Nov|Dec)(?!,? 20\d\d)/);
  const csv = await (await fetch(`${world.base}/api/v1/records/2/1/figures.csv`)).text();
  const duty = csv.split('\r\n').find((line) => line.includes('Duty ratio'))!.split(',');
  expect(Number(duty[8])).toBeCloseTo(-1 / 3, 2);
});

test('the history of a generator has what was logged, found and issued, in order', async () => {
  const history = (await (await fetch(`${world.base}/api/v1/generators/invented-1/gen-1/history`)).json()) as { items: { at: string; kind: string; says: string }[] };
  expect(history.items.map((line) => line.kind)).toEqual(expect.arrayContaining(['entry', 'finding', 'record']));
  const times = history.items.map((line) => Date.parse(line.at));
  expect(times).toEqual(times.toSorted((a, b) => a - b));
  expect(history.items.find((line) => line.kind === 'entry')?.says).toContain('recorded');
  expect(await (await fetch(`${world.base}/api/v1/generators/invented-1/gen-1/history.csv`)).text()).toMatch(/^at,kind,what,by,id\r\n/);
});
