import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { HAND_OVER_SCOPE } from '../setting-scopes.ts';
import type { RecordStore } from '../store/record-store.ts';

/** What people made beside entries: visits with every revision, their photos, records as issued, words to the next shift. */
export type PeopleCounts = { readonly visits: number; readonly photos: number; readonly records: number; readonly notes: number };
export type PeopleParams = {
  readonly folder: string;
  readonly records: Pick<RecordStore, 'visits' | 'visitRevisions' | 'photos' | 'photo' | 'records' | 'recordDocument' | 'savedSettings'>;
  /** Span in which something of it was last saved, [fromMs, toMs). */
  readonly fromMs: number;
  readonly toMs: number;
  /** Only what is about one of these, as `site/generator`. */
  readonly generators?: readonly string[];
};

const MOST_RECORDS = 1_000_000;

/**
 * Write `trips.ndjson` (a revision a line), `photos.ndjson`, `issued.ndjson` with the documents in `issued/`, and
 * `hand-over.ndjson`. A visit that was saved in the span comes with all of its revisions before the end, because a revision
 * without those before it can't be kept; notes are about no generator and come only where none is named.
 */
export async function exportPeople(params: PeopleParams): Promise<PeopleCounts> {
  const { folder } = params;
  await mkdir(folder, { recursive: true });
  const visits = await visitLines(params);
  const photos: string[] = [];
  for (const id of visits.ids) {
    for (const row of await params.records.photos(id)) {
      const photo = await params.records.photo(id, row.id);
      if (photo !== undefined) photos.push(JSON.stringify(photo));
    }
  }
  await write(folder, 'trips.ndjson', visits.lines);
  await write(folder, 'photos.ndjson', photos);
  return { visits: visits.ids.length, photos: photos.length, records: await writeIssued(params), notes: await writeNotes(params) };
}

function isWanted({ generators }: PeopleParams, site: string, own: readonly string[]): boolean {
  return generators === undefined || own.some((generator) => generators.includes(`${site}/${generator}`));
}

async function visitLines(params: PeopleParams): Promise<{ readonly ids: readonly string[]; readonly lines: readonly string[] }> {
  const ids: string[] = [];
  const lines: string[] = [];
  for (const visit of await params.records.visits()) {
    if (!isWanted(params, visit.site, visit.generators)) continue;
    const revisions = (await params.records.visitRevisions(visit.id)).filter((one) => Date.parse(one.updatedAt) < params.toMs);
    if (!revisions.some((one) => Date.parse(one.updatedAt) >= params.fromMs)) continue;
    ids.push(visit.id);
    lines.push(...revisions.map((one) => JSON.stringify(one)));
  }
  return { ids, lines };
}

/** Documents are files of their own: a sheet with photos is too long for a line, and so it can be read without us. */
async function writeIssued(params: PeopleParams): Promise<number> {
  const all = (await params.records.records({ limit: MOST_RECORDS })).filter((one) => isWanted(params, one.site, one.generators) && Date.parse(one.issuedAt) >= params.fromMs && Date.parse(one.issuedAt) < params.toMs);
  const ordered = all.toSorted((a, b) => a.number - b.number || a.revision - b.revision);
  if (ordered.length > 0) await mkdir(join(params.folder, 'issued'), { recursive: true });
  for (const { number, revision } of ordered) {
    const document = await params.records.recordDocument(number, revision);
    if (document === undefined) continue;
    await writeFile(join(params.folder, 'issued', `${number}-${revision}.html`), document.html);
    await writeFile(join(params.folder, 'issued', `${number}-${revision}.csv`), document.csv);
  }
  await write(params.folder, 'issued.ndjson', ordered.map((one) => JSON.stringify(one)));
  return ordered.length;
}

async function writeNotes(params: PeopleParams): Promise<number> {
  const kept = params.generators === undefined ? [...(await params.records.savedSettings(HAND_OVER_SCOPE)).values()] : [];
  const notes = kept.filter((text) => {
    const atMs = Date.parse((JSON.parse(text) as { at: string }).at);
    return atMs >= params.fromMs && atMs < params.toMs;
  });
  await write(params.folder, 'hand-over.ndjson', notes);
  return notes.length;
}

async function write(folder: string, file: string, lines: readonly string[]): Promise<void> {
  await writeFile(join(folder, file), lines.map((line) => `${line}\n`).join(''));
}
