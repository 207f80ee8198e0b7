import type { DuckDBConnection, DuckDBDataChunk } from '@duckdb/node-api';
import type { ReadingBatch, Series } from '../reading-batch.ts';
import { type BucketSpan, bucketStartMs } from './bucket-span.ts';
import { monthsBetween, monthTable } from './duckdb-months.ts';
import type { DuckdbBook } from './duckdb-series.ts';
import { copyNumbers, numbers, sqlWhole } from './duckdb-session.ts';
import type { Bucket } from './reading-store.ts';
import type { SeriesState } from './series-book.ts';

/** The columns that a batch is made of; of a table or subquery named r. */
export const OUT = 'r.series, r.at_ms::DOUBLE, r.value, r.quality, r.received_ms::DOUBLE';

/** Readings of some series in order of device time, then channel: a query for each month in turn, so that no sort is larger than one. */
export function byDeviceTimeSqls(book: DuckdbBook, wanted: readonly SeriesState[], fromMs: number, toMs: number, receivedBeforeMs: number | undefined, receivedFromMs?: number): string[] {
  if (wanted.length === 0) return [];
  const received = `${receivedBeforeMs === undefined ? '' : ` AND r.received_ms < ${sqlWhole(receivedBeforeMs)}`}${receivedFromMs === undefined ? '' : ` AND r.received_ms >= ${sqlWhole(receivedFromMs)}`}`;
  const where = `r.series IN (${ids(wanted)}) AND r.at_ms >= ${sqlWhole(fromMs)} AND r.at_ms < ${sqlWhole(toMs)}${received}`;
  // Ties are put in order by a place that is worked out here: sorting texts costs more than reading the rows.
  const table = places(wanted, (state) => state.series.channel);
  return monthsBetween(book.months, fromMs, toMs).map((month) => `SELECT ${OUT} FROM ${monthTable(month)} r JOIN ${table} ON p.id = r.series WHERE ${where} ORDER BY r.at_ms, p.first`);
}

/**
 * One series in equal spans: from the readings where they are kept, from the hourly roll-ups of months that have expired.
 * An hour counts in the bucket that its start lies in.
 */
export async function bucketsOf(connection: DuckDBConnection, book: DuckdbBook, state: SeriesState, span: BucketSpan): Promise<Bucket[]> {
  const place = (time: string): string => `(${time} - ${sqlWhole(span.fromMs)}) * ${span.buckets} // ${sqlWhole(span.toMs - span.fromMs)}`;
  const within = (time: string): string => `series = ${state.id} AND ${time} >= ${sqlWhole(span.fromMs)} AND ${time} < ${sqlWhole(span.toMs)}`;
  const raw = union(monthsBetween(book.months, span.fromMs, span.toMs), `${place('at_ms')} AS bucket, value`, within('at_ms'));
  const parts = [`SELECT ${place('from_ms')} AS bucket, sum(count) AS n, sum(mean * count) AS s, min(min) AS low, max(max) AS high FROM rollups WHERE ${within('from_ms')} GROUP BY bucket`];
  if (raw !== undefined) parts.push(`SELECT bucket, count(*) AS n, sum(value) AS s, min(value) AS low, max(value) AS high FROM (${raw}) GROUP BY bucket`);
  const rows = await numbers(connection, `SELECT bucket::DOUBLE, sum(n)::DOUBLE, min(low), sum(s) / sum(n), max(high) FROM (${parts.join(' UNION ALL ')}) GROUP BY bucket ORDER BY bucket`);
  return rows.map(([bucket = 0, count = 0, min = 0, mean = 0, max = 0]) => ({ fromMs: bucketStartMs(span, bucket), count, min, mean, max }));
}

/** One condition over several months; `undefined` if there are none. */
export function union(months: readonly string[], columns: string, where: string): string | undefined {
  return months.length === 0 ? undefined : months.map((month) => `SELECT ${columns} FROM ${monthTable(month)} WHERE ${where}`).join(' UNION ALL ');
}

/** For `series IN (…)`. */
export function ids(states: readonly SeriesState[]): string {
  return states.map((state) => state.id).join(', ') || '-1';
}

/** A small table of the order of names: `(VALUES (id, first, second), …)`. Equal names share a place. */
export function places(states: readonly SeriesState[], ...names: ((state: SeriesState) => string)[]): string {
  const orders = names.map((name) => new Map([...new Set(states.map(name))].sort().map((text, index) => [text, index])));
  const rows = states.map((state) => `(${[state.id, ...names.map((name, index) => orders[index]!.get(name(state)))].join(', ')})`);
  return `(VALUES ${rows.join(', ')}) p(${['id', 'first', 'second'].slice(0, names.length + 1).join(', ')})`;
}

/** Pack chunks into batches of at most `batchRows` rows, as they stream in. */
export async function* batchesOf(nextChunk: () => Promise<DuckDBDataChunk | null>, book: DuckdbBook, batchRows: number): AsyncIterable<ReadingBatch> {
  let columns = newColumns(batchRows);
  let rows = 0;
  for (let chunk = await nextChunk(); chunk !== null && chunk.rowCount > 0; chunk = await nextChunk()) {
    if (rows + chunk.rowCount > batchRows) {
      yield toBatch(columns, rows, book);
      columns = newColumns(batchRows);
      rows = 0;
    }
    copyChunk(chunk, columns, rows);
    rows += chunk.rowCount;
  }
  if (rows > 0) yield toBatch(columns, rows, book);
}

function copyChunk(chunk: DuckDBDataChunk, to: Columns, offset: number): void {
  copyNumbers(chunk, 0, to.id, offset);
  copyNumbers(chunk, 1, to.atMs, offset);
  copyNumbers(chunk, 2, to.value, offset);
  copyNumbers(chunk, 3, to.quality, offset);
  copyNumbers(chunk, 4, to.receivedMs, offset);
}

type Columns = { id: Uint32Array; atMs: Float64Array; value: Float64Array; quality: Uint8Array; receivedMs: Float64Array };

function newColumns(rows: number): Columns {
  return { id: new Uint32Array(rows), atMs: new Float64Array(rows), value: new Float64Array(rows), quality: new Uint8Array(rows), receivedMs: new Float64Array(rows) };
}

function toBatch(columns: Columns, rows: number, book: DuckdbBook): ReadingBatch {
  const series: Series[] = [];
  const indexOf = new Map<number, number>();
  const seriesIndex = new Uint32Array(rows);
  for (let row = 0; row < rows; row += 1) {
    const id = columns.id[row]!;
    let index = indexOf.get(id);
    if (index === undefined) {
      index = series.push(book.byId[id]!.series) - 1;
      indexOf.set(id, index);
    }
    seriesIndex[row] = index;
  }
  return { series, seriesIndex, atMs: columns.atMs.slice(0, rows), value: columns.value.slice(0, rows), quality: columns.quality.slice(0, rows), receivedMs: columns.receivedMs.slice(0, rows) };
}

/** One batch of all that some queries give, in turn. Results are streamed: what the engine holds counts against its memory limit. */
export async function wholeBatch(connection: DuckDBConnection, sqls: readonly string[], book: DuckdbBook): Promise<ReadingBatch> {
  const chunks: DuckDBDataChunk[] = [];
  for (const sql of sqls) {
    const result = await connection.stream(sql);
    for (let chunk = await result.fetchChunk(); chunk !== null && chunk.rowCount > 0; chunk = await result.fetchChunk()) chunks.push(chunk);
  }
  const columns = newColumns(chunks.reduce((sum, chunk) => sum + chunk.rowCount, 0));
  let rows = 0;
  for (const chunk of chunks) {
    copyChunk(chunk, columns, rows);
    rows += chunk.rowCount;
  }
  return toBatch(columns, rows, book);
}
