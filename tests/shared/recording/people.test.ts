// Issue: the recording folder holds what people made: visits with their revisions, photos, records as issued, words to the next shift. Identity: exported, then imported, is the same.
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { importPeople } from '../../../dashboard/commands/import-people.ts';
import { exportPeople } from '../../../shared/recording/write-people.ts';
import { HAND_OVER_SCOPE } from '../../../shared/setting-scopes.ts';
import { openMemoryRecords } from '../../../shared/store/memory-records.ts';
import type { RecordStore } from '../../../shared/store/record-store.ts';
import { openSqliteRecords } from '../../../shared/store/sqlite-records.ts';
import { type Visit, visitSchema } from '../../../shared/visit.ts';

const JPEG = `/9j/${Buffer.from('a small picture').toString('base64').replaceAll('=', '')}`;
const at = (day: number, hour = 12): string => new Date(Date.UTC(2026, 2, day, hour)).toISOString();
const ALL = { fromMs: 0, toMs: Date.UTC(2030, 0, 1) };
let folder: string;
let records: RecordStore;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lull-people-'));
  records = openMemoryRecords();
  await fill(records);
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

async function fill(store: RecordStore): Promise<void> {
  const base = { site: 'quay-7', generators: ['gen-1'], technician: 'Ana Invented', updatedBy: 'Ana Invented' };
  const visit = (more: Partial<Visit> & { readonly id: string; readonly state: Visit['state']; readonly updatedAt: string }): Visit => visitSchema.parse({ ...base, ...more });
  await store.saveVisit(visit({ id: 'v1', state: 'planned', updatedAt: at(2), plannedFor: '2026-03-03' }));
  await store.saveVisit({ ...visit({ id: 'v1', state: 'recorded', updatedAt: at(3), plannedFor: '2026-03-03' }), revision: 1, work: { 'gen-1': { startedAt: at(3, 9), finishedAt: at(3, 10), steps: {}, asFound: { elementDropKPa: 41 }, asLeft: {}, valves: {}, replaced: ['drain'], adjusted: {}, note: 'a "note"\nwith two lines' } } });
  await store.saveVisit(visit({ id: 'v2', generators: ['gen-2'], state: 'planned', updatedAt: at(20) }));
  await store.savePhoto({ visit: 'v1', id: 'photo-1', generator: 'gen-1', at: at(3, 9), says: 'as found', jpegBase64: JPEG });
  await store.issueRecord({ number: 1, revision: 1, kind: 'visit-sheet', subject: 'visit v1', site: 'quay-7', generators: ['gen-1'], title: 'Visit sheet', issuedAt: at(4), issuedBy: 'Bo' }, { html: '<!doctype html><p>sheet</p>\n', csv: 'a,b\r\n' });
  await store.saveSetting(HAND_OVER_SCOPE, 'note-1', JSON.stringify({ id: 'note-1', at: at(4), by: 'Desk', words: 'rings at 9', fromAt: at(4, 4), generators: 2, reporting: 2 }));
}

async function holds(store: RecordStore): Promise<unknown> {
  const visits = await Promise.all((await store.visits()).map((visit) => store.visitRevisions(visit.id)));
  return [visits, await store.photo('v1', 'photo-1'), await store.records(), await store.recordDocument(1, 1), [...(await store.savedSettings(HAND_OVER_SCOPE))].map(([name, text]) => [name, JSON.parse(text) as unknown])];
}

for (const [name, open] of [['memory', () => openMemoryRecords()], ['SQLite', () => openSqliteRecords({ file: join(folder, 'records.sqlite') })]] as const) {
  test(`importPeople() gives back what exportPeople() wrote, and once only, into ${name}`, async () => {
    expect(await exportPeople({ folder, records, ...ALL })).toEqual({ visits: 2, photos: 1, records: 1, notes: 1 });
    const store = await open();
    expect(await importPeople(folder, store)).toMatchObject({ visits: 3, photos: 1, records: 1, notes: 1, problems: { count: 0 } });
    expect(await holds(store)).toEqual(await holds(records));
    expect(await importPeople(folder, store)).toMatchObject({ visits: 0, photos: 0, records: 0, notes: 0, problems: { count: 0 } });
    expect(await holds(store)).toEqual(await holds(records));
    await store.close();
  });
}

test('exportPeople() takes what was saved in the span, of the generators that are named', async () => {
  expect(await exportPeople({ folder, records, fromMs: Date.parse(at(10)), toMs: Date.parse(at(25)) })).toEqual({ visits: 1, photos: 0, records: 0, notes: 0 });
  expect(await exportPeople({ folder, records, ...ALL, generators: ['quay-7/gen-2'] })).toEqual({ visits: 1, photos: 0, records: 0, notes: 0 });
  // A visit of which the last revision lies in the span comes with the first one too.
  expect(await exportPeople({ folder, records, fromMs: Date.parse(at(2, 18)), toMs: Date.parse(at(4, 0)) })).toMatchObject({ visits: 1 });
  expect(readFileSync(join(folder, 'trips.ndjson'), 'utf8').trim().split('\n')).toHaveLength(2);
});

test('importPeople() leaves out what is something else here, and says so; a line that can’t be read too', async () => {
  await exportPeople({ folder, records, ...ALL });
  expect(existsSync(join(folder, 'issued', '1-1.html'))).toBe(true);
  const store = openMemoryRecords();
  await fill(store);
  const [first] = await store.visitRevisions('v2');
  await store.saveVisit({ ...first!, note: 'moved' });
  writeFileSync(join(folder, 'trips.ndjson'), [readFileSync(join(folder, 'trips.ndjson'), 'utf8'), JSON.stringify({ ...first, revision: 2, note: 'somewhere else' }), JSON.stringify({ ...first, id: 'v9', revision: 3 }), '{"id":'].join('\n'));
  writeFileSync(join(folder, 'issued', '1-1.html'), '<p>another</p>');
  writeFileSync(join(folder, 'photos.ndjson'), JSON.stringify({ visit: 'v1', id: 'p', generator: 'gen-1', at: at(3), says: '', jpegBase64: '<script>' }));
  const taken = await importPeople(folder, store);
  expect(taken.problems.first.map((one) => `${one.file} ${one.says}`)).toEqual([
    expect.stringMatching(/^trips\.ndjson is no JSON/), expect.stringMatching(/^photos\.ndjson jpegBase64: must be a JPEG/),
    'trips.ndjson visit v2, revision 2: another one is here; left out', 'trips.ndjson visit v9, revision 3: the one before it is missing; left out', 'issued.ndjson record 1, revision 1: another one is here under that number; left out',
  ]);
  expect((await store.visit('v2'))?.note).toBe('moved');
  expect((await store.recordDocument(1, 1))?.html).toBe('<!doctype html><p>sheet</p>\n');
});
