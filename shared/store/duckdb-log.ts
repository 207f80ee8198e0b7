import type { DuckDBConnection } from '@duckdb/node-api';
import type { ReadingBatch } from '../reading-batch.ts';
import { TICK_MS } from '../time.ts';
import { batchesOf, byDeviceTimeSqls, ids, OUT, places, union } from './duckdb-queries.ts';
import type { DuckdbBook } from './duckdb-series.ts';
import { type DuckdbReader, numbers, sqlWhole } from './duckdb-session.ts';
import type { SeriesState } from './series-book.ts';

/** How many readings are sorted at once: about 40 MB of the engine's memory. A sort of the whole log failed at 512 MB. */
const PIECE_ROWS = 500_000;
/** How many readings `byReceipt` hands over at once. */
const BATCH_ROWS = 100_000;

type Span = { readonly fromMs: number; readonly toMs: number };

/**
 * The log in order of receipt, then generator, device time and channel: cut into pieces by time of receipt
 * that are small enough to sort, each read as it is asked for. `book` gives what is known of the file at that moment.
 */
export async function* readLog(reader: DuckdbReader, book: () => DuckdbBook, wanted: readonly SeriesState[] | undefined, span: Span): AsyncIterable<ReadingBatch> {
  const pieces = await reader.during((connection) => piecesOf(connection, book(), wanted, span, TICK_MS));
  for (const piece of pieces) {
    const states = wanted ?? book().byId;
    for (const sql of piece.crowded ? sqlsByGenerator(book(), states, piece) : [sqlOf(book(), states, piece, wanted === undefined)]) {
      const result = await reader.during((connection) => connection.stream(sql));
      yield* batchesOf(() => reader.during(() => result.fetchChunk()), book(), BATCH_ROWS);
    }
  }
}

/** `crowded`: one millisecond with more readings than can be sorted at once, as after an import that stamps all alike. */
type Piece = Span & { readonly crowded: boolean };

/** Count by slots of receipt, join neighbours up to the size of a piece, and look closer into slots that are larger. */
async function piecesOf(connection: DuckDBConnection, book: DuckdbBook, wanted: readonly SeriesState[] | undefined, span: Span, slotMs: number): Promise<Piece[]> {
  const from = receivedBetween(book, wanted, span, `received_ms // ${slotMs} AS slot`);
  if (from === undefined || wanted?.length === 0) return [];
  const slots = await numbers(connection, `SELECT slot::DOUBLE, count(*)::DOUBLE FROM (${from}) GROUP BY slot ORDER BY slot`);
  const pieces: Piece[] = [];
  let [startMs, rows] = [span.fromMs, 0];
  const cut = (atMs: number): void => {
    if (rows > 0) pieces.push({ fromMs: startMs, toMs: atMs, crowded: false });
    [startMs, rows] = [atMs, 0];
  };
  for (const [slot = 0, count = 0] of slots) {
    const [slotFromMs, slotToMs] = [Math.max(slot * slotMs, span.fromMs), Math.min((slot + 1) * slotMs, span.toMs)];
    if (rows + count > PIECE_ROWS) cut(slotFromMs);
    if (count <= PIECE_ROWS) rows += count;
    else {
      if (slotMs === 1) pieces.push({ fromMs: slotFromMs, toMs: slotToMs, crowded: true });
      else pieces.push(...(await piecesOf(connection, book, wanted, { fromMs: slotFromMs, toMs: slotToMs }, 1)));
      startMs = slotToMs;
    }
  }
  cut(span.toMs);
  return pieces;
}

function sqlOf(book: DuckdbBook, states: readonly SeriesState[], piece: Span, all: boolean): string {
  const from = receivedBetween(book, all ? undefined : states, piece, 'series, at_ms, value, quality, received_ms');
  const table = places(states, (state) => state.series.generator, (state) => state.series.channel);
  return `SELECT ${OUT} FROM (${from}) r JOIN ${table} ON p.id = r.series ORDER BY r.received_ms, p.first, r.at_ms, p.second`;
}

/** All were received at once, so the order is that of the generators, and of device time within each. */
function sqlsByGenerator(book: DuckdbBook, states: readonly SeriesState[], piece: Span): string[] {
  const generators = [...new Set(states.map((state) => state.series.generator))].sort();
  return generators.flatMap((generator) => byDeviceTimeSqls(book, states.filter((state) => state.series.generator === generator), -Infinity, Infinity, piece.toMs, piece.fromMs));
}

function receivedBetween(book: DuckdbBook, wanted: readonly SeriesState[] | undefined, span: Span, columns: string): string | undefined {
  const some = wanted === undefined ? '' : ` AND series IN (${ids(wanted)})`;
  return union([...book.months].sort(), columns, `received_ms >= ${sqlWhole(span.fromMs)} AND received_ms < ${sqlWhole(span.toMs)}${some}`);
}
