import { isDeepStrictEqual } from 'node:util';
import { collectProblems, type Problems } from '../../shared/recording/lines.ts';
import { type PeopleRecorded, readPeople } from '../../shared/recording/read-people.ts';
import { HAND_OVER_SCOPE } from '../../shared/setting-scopes.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';

export type PeopleTaken = { readonly visits: number; readonly photos: number; readonly records: number; readonly notes: number; readonly problems: Problems };

/**
 * Take in what people made: visits, photos, records as issued, words to the next shift. What is here already stays as it is, and
 * the same again changes nothing; where a revision or a number is taken by something else, it is left out and said.
 */
export async function importPeople(folder: string, records: RecordStore): Promise<PeopleTaken> {
  const problems = collectProblems();
  const read = await readPeople(folder, problems);
  const visits = await takeVisits(read.visits, records, problems);
  let photos = 0;
  for (const photo of read.photos) {
    if ((await records.photo(photo.visit, photo.id)) !== undefined) continue;
    await records.savePhoto(photo);
    photos += 1;
  }
  const issued = await takeIssued(read.issued, records, problems);
  const known = await records.savedSettings(HAND_OVER_SCOPE);
  const fresh = read.notes.filter((note) => !known.has(note.id));
  for (const note of fresh) await records.saveSetting(HAND_OVER_SCOPE, note.id, note.text);
  return { visits, photos, records: issued, notes: fresh.length, problems };
}

/** Gives how many revisions were new. */
async function takeVisits(visits: PeopleRecorded['visits'], records: RecordStore, problems: Problems): Promise<number> {
  let taken = 0;
  for (const visit of visits) {
    const here = (await records.visitRevisions(visit.id)).find((one) => one.revision === visit.revision);
    if (here !== undefined) {
      if (!isDeepStrictEqual(plain(here), plain(visit))) problems.add({ file: 'trips.ndjson', line: 0, says: `visit ${visit.id}, revision ${visit.revision}: another one is here; left out` });
      continue;
    }
    const saved = await records.saveVisit({ ...visit, revision: visit.revision - 1 });
    if ('saved' in saved) taken += 1;
    else problems.add({ file: 'trips.ndjson', line: 0, says: `visit ${visit.id}, revision ${visit.revision}: the one before it is missing; left out` });
  }
  return taken;
}

async function takeIssued(issued: PeopleRecorded['issued'], records: RecordStore, problems: Problems): Promise<number> {
  let taken = 0;
  for (const { record, document } of issued) {
    if (await records.issueRecord(record, document)) taken += 1;
    else if (!isDeepStrictEqual(await records.recordDocument(record.number, record.revision), document)) problems.add({ file: 'issued.ndjson', line: 0, says: `record ${record.number}, revision ${record.revision}: another one is here under that number; left out` });
  }
  return taken;
}

/** Without what is undefined, which a file can't hold. */
function plain(value: unknown): unknown {
  return JSON.parse(JSON.stringify(value));
}
