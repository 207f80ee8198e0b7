import { type DuckDBAppender, type DuckDBConnection, DuckDBDataChunk, DOUBLE, INTEGER, UTINYINT } from '@duckdb/node-api';
import type { ReadingBatch } from '../reading-batch.ts';
import { createMonthSql, monthTable } from './duckdb-months.ts';
import type { DuckdbBook } from './duckdb-series.ts';
import { numbers } from './duckdb-session.ts';
import type { AppendPlan } from './plan-append.ts';
import { noteRows, type SeriesState } from './series-book.ts';
import { monthFromName, monthName, nextMonthStartMs } from './utc-month.ts';

/** DuckDB's own size of a chunk. */
const CHUNK_ROWS = 2048;

/** The values that the file has under the keys of these rows, by row: one join for each month. */
export async function lookUpValues(writer: DuckDBConnection, book: DuckdbBook, batch: ReadingBatch, states: readonly SeriesState[], asked: readonly number[]): Promise<Map<number, number>> {
  const found = new Map<number, number>();
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
export async function writeRows(writer: DuckDBConnection, book: DuckdbBook, batch: ReadingBatch, plan: AppendPlan): Promise<string[]> {
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
export function noteAppended(book: DuckdbBook, batch: ReadingBatch, plan: AppendPlan, months: readonly string[]): void {
  for (const month of months) book.months.add(month);
  noteRows(book, batch, plan.states, plan.rows);
}
