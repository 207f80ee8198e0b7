import type { GeneratorKey } from '../ids.ts';
import { type ReadingBatch, selectRows } from '../reading-batch.ts';
import { DAY_MS } from '../time.ts';
import { spansOfDays } from './influxdb-append.ts';
import { emptyColumns, mergedByReceipt, type SeriesColumns, takeRows } from './influxdb-columns.ts';
import { readByDeviceTime } from './influxdb-queries.ts';
import { isGenerator, READING, receivedBetween, RECEIPT, RECEIPT_SLOT_MS, selectReadings, slotOf, timeBetween } from './influxdb-schema.ts';
import { seriesOfTags } from './influxdb-series.ts';
import type { InfluxServer } from './influxdb-server.ts';
import { seriesName } from './series-book.ts';

/** Readings that are held and put in order at once: about 30 MB. */
const PIECE_ROWS = 500_000;
/** How many readings `byReceipt` hands over at once. */
const BATCH_ROWS = 100_000;
const FIRST_PIECE_MS = DAY_MS;
const LONGEST_PIECE_MS = 32 * DAY_MS;
/** Generators in one condition; the server tries them one by one. */
const GENERATORS_PER_QUESTION = 50;
const QUESTIONS_PER_REQUEST = 50;
/** How much is asked at once of a generator where all was received in one millisecond. */
const CROWDED_STEP_MS = 30 * DAY_MS;

type Span = { readonly fromMs: number; readonly toMs: number };
type LogQuery = Span & { readonly generators?: readonly GeneratorKey[] };
type DaysByGenerator = ReadonlyMap<GeneratorKey, ReadonlySet<number>>;

/**
 * The log in order of receipt, then generator, device time and channel. The server keeps readings by device time; the
 * marks of receipt say which days to look into. A piece of the log is read, put in order and handed over; how long a
 * stretch of receipt it covers follows from how many readings the last one held.
 *
 * @param pieceRows most readings that are put in order at once.
 */
export async function* readInfluxLog(server: InfluxServer, query: LogQuery, pieceRows = PIECE_ROWS): AsyncIterable<ReadingBatch> {
  if (query.generators?.length === 0) return;
  let lengthMs = FIRST_PIECE_MS;
  let fromMs = await nextReceipt(server, query.fromMs, query);
  while (fromMs !== undefined && fromMs < query.toMs) {
    const piece: Span = { fromMs, toMs: Math.min(fromMs + lengthMs, query.toMs) };
    const days = await daysReceived(server, piece, query.generators);
    const read = await readPiece(server, piece, days, pieceRows);
    if (read.kind === 'crowded' && piece.toMs - piece.fromMs > 1) {
      lengthMs = Math.max(1, Math.floor(read.middleMs - piece.fromMs));
      continue;
    }
    if (read.kind === 'crowded') {
      for (const generator of [...days.keys()].sort()) yield* crowdedMoment(server, generator, days.get(generator)!, piece);
      lengthMs = FIRST_PIECE_MS;
    } else {
      yield* mergedByReceipt(read.parts, BATCH_ROWS);
      const rows = read.parts.reduce((sum, part) => sum + part.length, 0);
      if (rows < pieceRows / 8) lengthMs = Math.min(lengthMs * 8, LONGEST_PIECE_MS);
      else if (rows < pieceRows / 2) lengthMs = Math.min(lengthMs * 1.5, LONGEST_PIECE_MS);
    }
    fromMs = await nextReceipt(server, piece.toMs, query);
  }
}

/** From when on something may have been received: the time itself, or the next hour that has a mark. */
async function nextReceipt(server: InfluxServer, atMs: number, { toMs }: LogQuery): Promise<number | undefined> {
  let foundMs: number | undefined;
  await server.query([`SELECT first(day) FROM ${server.from(RECEIPT)} WHERE ${timeBetween(slotOf(Math.max(atMs, 0)), toMs === Infinity ? Infinity : slotOf(toMs) + RECEIPT_SLOT_MS)}`], ({ values }) => {
    foundMs = Math.max(atMs, slotOf(Number(values[0]?.[0])));
  });
  return foundMs;
}

async function daysReceived(server: InfluxServer, piece: Span, generators: readonly GeneratorKey[] | undefined): Promise<DaysByGenerator> {
  const wanted = generators === undefined ? undefined : new Set<string>(generators);
  const days = new Map<GeneratorKey, Set<number>>();
  await server.query([`SELECT day FROM ${server.from(RECEIPT)} WHERE ${timeBetween(slotOf(piece.fromMs), slotOf(piece.toMs - 1) + RECEIPT_SLOT_MS)} GROUP BY generator`], ({ tags, values }) => {
    const generator = tags['generator'] as GeneratorKey | undefined;
    if (generator === undefined || wanted?.has(generator) === false) return;
    const known = days.get(generator) ?? new Set();
    days.set(generator, known);
    for (const row of values) known.add(Number(row[1]));
  });
  return days;
}

type Piece = { readonly kind: 'whole'; readonly parts: readonly SeriesColumns[] } | { readonly kind: 'crowded'; readonly middleMs: number };

/** Read what was received in a span; given up when it is more than can be put in order at once, with the middle of what was seen by then. */
async function readPiece(server: InfluxServer, piece: Span, days: DaysByGenerator, pieceRows: number): Promise<Piece> {
  const parts = new Map<string, SeriesColumns>();
  let rows = 0;
  const questions = questionsOf(server, piece, days);
  for (let start = 0; start < questions.length; start += QUESTIONS_PER_REQUEST) {
    if (rows > pieceRows) break;
    await server.query(questions.slice(start, start + QUESTIONS_PER_REQUEST), (found) => {
      const series = seriesOfTags(found.tags);
      if (series === undefined) return undefined;
      const part = parts.get(seriesName(series)) ?? emptyColumns(series, found.values.length);
      parts.set(seriesName(series), part);
      takeRows(part, found);
      rows += found.values.length;
      return rows > pieceRows ? false : undefined;
    }, { patient: true });
  }
  if (rows <= pieceRows) return { kind: 'whole', parts: [...parts.values()] };
  const receipts = Float64Array.from([...parts.values()].flatMap((part) => [...part.receivedMs.subarray(0, part.length)])).sort();
  return { kind: 'crowded', middleMs: receipts[Math.floor(receipts.length / 2)]! };
}

/** One question for all generators that share their days, which in a quiet hour is all of them. */
function questionsOf(server: InfluxServer, piece: Span, days: DaysByGenerator): string[] {
  const byDays = new Map<string, { readonly days: ReadonlySet<number>; readonly generators: GeneratorKey[] }>();
  for (const [generator, set] of days) {
    const name = [...set].sort((a, b) => a - b).join(' ');
    const group = byDays.get(name) ?? { days: set, generators: [] };
    byDays.set(name, group);
    group.generators.push(generator);
  }
  const questions: string[] = [];
  for (const { days: shared, generators } of byDays.values()) {
    for (let start = 0; start < generators.length; start += GENERATORS_PER_QUESTION) {
      const who = isGenerator(generators.slice(start, start + GENERATORS_PER_QUESTION));
      for (const [fromMs, toMs] of spansOfDays(shared)) questions.push(selectReadings(server.from(READING), `${who} AND ${timeBetween(fromMs, toMs)} AND ${receivedBetween(piece.fromMs, piece.toMs)}`, 'generator, channel'));
    }
  }
  return questions;
}

/** All was received at once, as after an import that stamps all alike: the order is that of the generators, and of device time within each. */
async function* crowdedMoment(server: InfluxServer, generator: GeneratorKey, days: ReadonlySet<number>, piece: Span): AsyncIterable<ReadingBatch> {
  for (const [fromMs, toMs] of spansOfDays(days)) {
    for (let stepMs = fromMs; stepMs < toMs; stepMs += CROWDED_STEP_MS) {
      const batch = await readByDeviceTime(server, { generator, fromMs: stepMs, toMs: Math.min(stepMs + CROWDED_STEP_MS, toMs), receivedFromMs: piece.fromMs, receivedBeforeMs: piece.toMs });
      for (let start = 0; start < batch.atMs.length; start += BATCH_ROWS) {
        yield selectRows(batch, Uint32Array.from({ length: Math.min(BATCH_ROWS, batch.atMs.length - start) }, (_, index) => start + index));
      }
    }
  }
}
