import { type DuckDBAppender, type DuckDBConnection, DuckDBDataChunk, DOUBLE, INTEGER, UTINYINT } from '@duckdb/node-api';
import type { ReadingBatch } from '../reading-batch.ts';
import type { Conflict } from './reading-store.ts';
import { createMonthSql, monthTable } from './duckdb-months.ts';
import { newSeriesState, type SeriesBook, seriesName, type SeriesState } from './duckdb-series.ts';
import { numbers } from './duckdb-session.ts';
import { monthFromName, monthName, nextMonthStartMs } from './utc-month.ts';

/** DuckDB's own size of a chunk. */
const CHUNK_ROWS = 2048;

/** What is to be done with a batch: `rows` of it are new. `states[i]` belongs to `batch.series[i]`; those with no place in the book yet are in `newSeries`. */
export type AppendPlan = { readonly rows: Uint32Array; readonly doubled: number; readonly conflicts: readonly Conflict[]; readonly states: readonly SeriesState[]; readonly newSeries: readonly SeriesState[] };

/**
 * Part a batch into new rows, equal doubles and conflicts. A row newer than all of its series is new without a look
 * into the file, and so is nearly every row; the older ones are looked up together, one join for each month.
 */
export async function planAppend(writer: DuckDBConnection, book: SeriesBook, batch: ReadingBatch): Promise<AppendPlan> {
  const { states, newSeries } = statesOf(book, batch);
  const taken = new Uint8Array(batch.atMs.length);
  const older = takeNewer(batch, states, taken);
  let doubled = 0;
  const conflicts: Conflict[] = [];
  if (older.length > 0) {
    const stored = await storedValues(writer, book, batch, states, older);
    const inBatch = takenValues(batch, states, taken, new Set(older.map((row) => states[batch.seriesIndex[row]!]!)));
    for (const row of older) {
      const twins = inBatch.get(states[batch.seriesIndex[row]!]!)!;
      const keptValue = stored.get(row) ?? twins.get(batch.atMs[row]!);
      if (keptValue === undefined) {
        taken[row] = 1;
        twins.set(batch.atMs[row]!, batch.value[row]!);
      } else if (keptValue === batch.value[row]) doubled += 1;
      else conflicts.push({ series: states[batch.seriesIndex[row]!]!.series, atMs: batch.atMs[row]!, keptValue, refusedValue: batch.value[row]!, receivedMs: batch.receivedMs[row]! });
    }
  }
  return { rows: indexesOf(taken), doubled, conflicts, states, newSeries };
}

/** The state of each series of the batch; one that the batch names twice has one state. */
function statesOf(book: SeriesBook, batch: ReadingBatch): { states: SeriesState[]; newSeries: SeriesState[] } {
  const added = new Map<string, SeriesState>();
  const states = batch.series.map((series) => {
    const name = seriesName(series);
    const known = book.byName.get(name) ?? added.get(name);
    if (known !== undefined) return known;
    const state = newSeriesState(book.byId.length + added.size, series);
    added.set(name, state);
    return state;
  });
  return { states, newSeries: [...added.values()] };
}

/** Mark the rows that are newer than all before them in their series; gives the others, in order. */
function takeNewer(batch: ReadingBatch, states: readonly SeriesState[], taken: Uint8Array): number[] {
  const lastAtMs = Float64Array.from(states, (state) => state.lastAtMs);
  const places = new Map<SeriesState, number>();
  const firstIndex = Uint32Array.from(states, (state, index) => places.get(state) ?? (places.set(state, index), index));
  const older: number[] = [];
  for (let row = 0; row < taken.length; row += 1) {
    const index = firstIndex[batch.seriesIndex[row]!]!;
    if (batch.atMs[row]! > lastAtMs[index]!) {
      lastAtMs[index] = batch.atMs[row]!;
      taken[row] = 1;
    } else older.push(row);
  }
  return older;
}

function indexesOf(taken: Uint8Array): Uint32Array {
  const rows = new Uint32Array(taken.length);
  let count = 0;
  for (let row = 0; row < taken.length; row += 1) if (taken[row] === 1) rows[count++] = row;
  return rows.subarray(0, count);
}

function takenValues(batch: ReadingBatch, states: readonly SeriesState[], taken: Uint8Array, ofSeries: ReadonlySet<SeriesState>): Map<SeriesState, Map<number, number>> {
  const values = new Map([...ofSeries].map((state) => [state, new Map<number, number>()]));
  for (let row = 0; row < taken.length; row += 1) if (taken[row] === 1) values.get(states[batch.seriesIndex[row]!]!)?.set(batch.atMs[row]!, batch.value[row]!);
  return values;
}

/** The values that the file has under the keys of these rows, by row. */
async function storedValues(writer: DuckDBConnection, book: SeriesBook, batch: ReadingBatch, states: readonly SeriesState[], older: readonly number[]): Promise<Map<number, number>> {
  const found = new Map<number, number>();
  const asked: number[] = [];
  for (const row of older) {
    const state = states[batch.seriesIndex[row]!]!;
    const atMs = batch.atMs[row]!;
    // The newest reading is known without asking: a redelivery is mostly just that one.
    if (atMs === state.lastAtMs) found.set(row, state.lastValue);
    else if (atMs >= state.firstAtMs && atMs < state.lastAtMs) asked.push(row);
  }
  const months = [...rowsByMonth(batch, asked)].filter(([month]) => book.months.has(month));
  if (months.length === 0) return found;
  await writer.run('CREATE OR REPLACE TEMP TABLE asked (row INTEGER, series INTEGER, at_ms BIGINT)');
  await appendChunks(writer, 'asked', asked.length, [INTEGER, INTEGER, DOUBLE], [(i) => asked[i]!, (i) => states[batch.seriesIndex[asked[i]!]!]!.id, (i) => batch.atMs[asked[i]!]!]);
  for (const [month, rows] of months) {
    const times = rows.map((row) => batch.atMs[row]!);
    const [earliest, latest] = [times.reduce((a, b) => Math.min(a, b)), times.reduce((a, b) => Math.max(a, b))];
    const pairs = await numbers(writer, `SELECT asked.row, kept.value FROM asked JOIN ${monthTable(month)} kept ON kept.series = asked.series AND kept.at_ms = asked.at_ms WHERE kept.at_ms BETWEEN ${earliest} AND ${latest}`);
    for (const [row = -1, value = NaN] of pairs) found.set(row, value);
  }
  return found;
}

/** Rows by the UTC month of their device time. */
function rowsByMonth(batch: ReadingBatch, rows: Iterable<number>): Map<string, number[]> {
  const byMonth = new Map<string, number[]>();
  let [startMs, endMs] = [Infinity, -Infinity];
  let list: number[] = [];
  for (const row of rows) {
    const atMs = batch.atMs[row]!;
    if (atMs < startMs || atMs >= endMs) {
      const month = monthName(atMs);
      startMs = monthFromName(month);
      endMs = nextMonthStartMs(startMs);
      list = byMonth.get(month) ?? [];
      byMonth.set(month, list);
    }
    list.push(row);
  }
  return byMonth;
}

/** Write the new rows of a plan; to be called inside a transaction. Gives the months that it wrote to. */
export async function writeRows(writer: DuckDBConnection, book: SeriesBook, batch: ReadingBatch, plan: AppendPlan): Promise<string[]> {
  if (plan.newSeries.length > 0) {
    await withAppender(writer, 'series', (appender) => {
      for (const state of plan.newSeries) {
        appender.appendInteger(state.id);
        appender.appendVarchar(state.series.generator);
        appender.appendVarchar(state.series.channel);
        appender.endRow();
      }
    });
  }
  const ids = Uint32Array.from(plan.states, (state) => state.id);
  const byMonth = rowsByMonth(batch, plan.rows);
  for (const [month, rows] of byMonth) {
    if (!book.months.has(month)) await writer.run(createMonthSql(month));
    await appendChunks(writer, monthTable(month), rows.length, [INTEGER, DOUBLE, DOUBLE, UTINYINT, DOUBLE], [
      (i) => ids[batch.seriesIndex[rows[i]!]!]!,
      (i) => batch.atMs[rows[i]!]!,
      (i) => batch.value[rows[i]!]!,
      (i) => batch.quality[rows[i]!]!,
      (i) => batch.receivedMs[rows[i]!]!,
    ]);
  }
  return [...byMonth.keys()];
}

/** Append columns in chunks. Times go in as DOUBLE and are cast to BIGINT inside the engine: twice as fast as a `bigint` each, and exact below 2^53. */
async function appendChunks(writer: DuckDBConnection, table: string, rows: number, types: Parameters<typeof DuckDBDataChunk.create>[0], columns: readonly ((index: number) => number)[]): Promise<void> {
  await withAppender(writer, table, (appender) => {
    for (let start = 0; start < rows; start += CHUNK_ROWS) {
      const size = Math.min(CHUNK_ROWS, rows - start);
      const chunk = DuckDBDataChunk.create(types, size);
      columns.forEach((valueAt, column) => {
        const vector = chunk.getColumnVector(column);
        for (let index = 0; index < size; index += 1) vector.setItem(index, valueAt(start + index));
        vector.flush();
      });
      appender.appendDataChunk(chunk);
    }
  });
}

/** After a failure the appender is emptied: else it would write what it still holds when it is thrown away, after the roll-back. */
async function withAppender(writer: DuckDBConnection, table: string, fill: (appender: DuckDBAppender) => void): Promise<void> {
  const appender = await writer.createAppender(table);
  try {
    fill(appender);
    appender.flushSync();
  } catch (error) {
    appender.clear();
    throw error;
  } finally {
    appender.closeSync();
  }
}

/** Let the book know what was committed. */
export function noteAppended(book: SeriesBook, batch: ReadingBatch, plan: AppendPlan, months: readonly string[]): void {
  for (const month of months) book.months.add(month);
  for (const state of plan.newSeries) {
    book.byId[state.id] = state;
    book.byName.set(seriesName(state.series), state);
  }
  for (const row of plan.rows) {
    const state = plan.states[batch.seriesIndex[row]!]!;
    const atMs = batch.atMs[row]!;
    state.count += 1;
    if (atMs < state.firstAtMs) state.firstAtMs = atMs;
    if (atMs > state.lastAtMs) {
      state.lastAtMs = atMs;
      state.lastValue = batch.value[row]!;
      state.lastReceivedMs = batch.receivedMs[row]!;
    }
    if (batch.receivedMs[row]! > book.lastReceivedMs) book.lastReceivedMs = batch.receivedMs[row]!;
  }
}
