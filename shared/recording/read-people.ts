import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { type IssuedRecord, RECORD_KINDS, type RecordDocument, type VisitPhoto } from '../issued-record.ts';
import { problemsOf } from '../registry.ts';
import { type Visit, visitSchema } from '../visit.ts';
import { type Problems, readJsonLines } from './lines.ts';

/** What people made, as `exportPeople` wrote it; each list in the order of its file, nothing where a file is missing. */
export type PeopleRecorded = {
  readonly visits: readonly Visit[];
  readonly photos: readonly VisitPhoto[];
  readonly issued: readonly { readonly record: IssuedRecord; readonly document: RecordDocument }[];
  readonly notes: readonly { readonly id: string; readonly text: string }[];
};

const time = z.iso.datetime({ offset: true });
const text = z.string();
const photoSchema = z.strictObject({ visit: text.min(1).max(64), id: text.min(1).max(64), generator: text, at: time, says: text.max(200), jpegBase64: text.regex(/^\/9j\/[A-Za-z0-9+/]+={0,2}$/, 'must be a JPEG in base64') });
const recordSchema = z.strictObject({ number: z.number().int().min(1), revision: z.number().int().min(1), kind: z.enum(RECORD_KINDS), subject: text, site: text, generators: z.array(text), title: text, issuedAt: time, issuedBy: text });
const noteSchema = z.looseObject({ id: text.min(1), at: time, by: text, words: text });

/** Read what people made from a recording folder. A line that can't be read is a problem; the others stand. */
export async function readPeople(folder: string, problems: Problems): Promise<PeopleRecorded> {
  const records = await linesOf(folder, 'issued.ndjson', recordSchema, problems);
  const issued: PeopleRecorded['issued'][number][] = [];
  for (const record of records) {
    const document = await documentOf(folder, record);
    if (document === undefined) problems.add({ file: 'issued.ndjson', line: 0, says: `record ${record.number}, revision ${record.revision}: its document is missing in issued/` });
    else issued.push({ record, document });
  }
  const notes = await linesOf(folder, 'hand-over.ndjson', noteSchema, problems);
  return {
    visits: await linesOf(folder, 'trips.ndjson', visitSchema, problems), photos: await linesOf(folder, 'photos.ndjson', photoSchema, problems), issued,
    notes: notes.map((note) => ({ id: note.id, text: JSON.stringify(note) })),
  };
}

async function linesOf<S extends z.ZodType>(folder: string, file: string, schema: S, problems: Problems): Promise<z.output<S>[]> {
  const path = join(folder, file);
  if (!existsSync(path)) return [];
  const read: z.output<S>[] = [];
  for await (const lines of readJsonLines(path, file, problems)) {
    for (const { line, value } of lines) {
      const parsed = schema.safeParse(value);
      if (parsed.success) read.push(parsed.data);
      else problems.add({ file, line, says: problemsOf(parsed.error).map(({ where, says }) => `${where}: ${says}`).join('; ') });
    }
  }
  return read;
}

async function documentOf(folder: string, { number, revision }: IssuedRecord): Promise<RecordDocument | undefined> {
  const [html, csv] = ['html', 'csv'].map((kind) => join(folder, 'issued', `${number}-${revision}.${kind}`)) as [string, string];
  if (!existsSync(html) || !existsSync(csv)) return undefined;
  return { html: await readFile(html, 'utf8'), csv: await readFile(csv, 'utf8') };
}
