import type { DuckDBConnection } from '@duckdb/node-api';
import type { Channel } from '../channels.ts';
import type { GeneratorKey } from '../ids.ts';
import { numbers, texts } from './duckdb-session.ts';
import { monthTable } from './duckdb-months.ts';
import { newSeriesState, type SeriesBook, seriesName } from './series-book.ts';

/** The book of series, and the months that have a table. */
export type DuckdbBook = SeriesBook & { readonly months: Set<string> };

/** Read the dictionary and one summary of every month. */
export async function readSeriesBook(connection: DuckDBConnection): Promise<DuckdbBook> {
  const book: DuckdbBook = { byId: [], byName: new Map(), lastReceivedMs: 0, months: new Set() };
  for (const [id = '', generator = '', channel = ''] of await texts(connection, 'SELECT id::VARCHAR, generator, channel FROM series ORDER BY id')) {
    const state = newSeriesState(Number(id), { generator: generator as GeneratorKey, channel: channel as Channel });
    book.byId[state.id] = state;
    book.byName.set(seriesName(state.series), state);
  }
  for (const [name = ''] of await texts(connection, "SELECT table_name FROM duckdb_tables() WHERE regexp_full_match(table_name, 'readings_\\d{4}_\\d{2}') ORDER BY 1")) book.months.add(name.slice('readings_'.length));
  for (const month of book.months) await readMonth(connection, book, month);
  return book;
}

async function readMonth(connection: DuckDBConnection, book: DuckdbBook, month: string): Promise<void> {
  const rows = await numbers(
    connection,
    `SELECT series, min(at_ms)::DOUBLE, max(at_ms)::DOUBLE, arg_max(value, at_ms), arg_max(received_ms, at_ms)::DOUBLE, count(*)::DOUBLE, max(received_ms)::DOUBLE FROM ${monthTable(month)} GROUP BY series`,
  );
  for (const [id = -1, firstAtMs = 0, lastAtMs = 0, lastValue = 0, lastReceivedMs = 0, count = 0, newestReceivedMs = 0] of rows) {
    const state = book.byId[id];
    if (state === undefined) continue;
    state.firstAtMs = Math.min(state.firstAtMs, firstAtMs);
    if (lastAtMs > state.lastAtMs) Object.assign(state, { lastAtMs, lastValue, lastReceivedMs });
    state.count += count;
    book.lastReceivedMs = Math.max(book.lastReceivedMs, newestReceivedMs);
  }
}
