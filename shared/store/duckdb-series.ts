import type { DuckDBConnection } from '@duckdb/node-api';
import type { Channel } from '../channels.ts';
import type { GeneratorKey } from '../ids.ts';
import type { Series } from '../reading-batch.ts';
import { numbers, texts } from './duckdb-session.ts';
import { monthTable } from './duckdb-months.ts';

/** What is known of a series without asking the file. `count` is 0 for a series of which no reading is left. */
export type SeriesState = { readonly id: number; readonly series: Series; firstAtMs: number; lastAtMs: number; lastValue: number; lastReceivedMs: number; count: number };

/** The dictionary of series, with the newest reading of each, held in memory; seeded from the file when it is opened. */
export type SeriesBook = { readonly byId: SeriesState[]; readonly byName: Map<string, SeriesState>; lastReceivedMs: number; readonly months: Set<string> };

export function seriesName(series: Series): string {
  return `${series.generator}/${series.channel}`;
}

export function newSeriesState(id: number, series: Series): SeriesState {
  return { id, series: { generator: series.generator, channel: series.channel }, firstAtMs: Infinity, lastAtMs: -Infinity, lastValue: NaN, lastReceivedMs: 0, count: 0 };
}

/** Read the dictionary and one summary of every month. */
export async function readSeriesBook(connection: DuckDBConnection): Promise<SeriesBook> {
  const book: SeriesBook = { byId: [], byName: new Map(), lastReceivedMs: 0, months: new Set() };
  for (const [id = '', generator = '', channel = ''] of await texts(connection, 'SELECT id::VARCHAR, generator, channel FROM series ORDER BY id')) {
    const state = newSeriesState(Number(id), { generator: generator as GeneratorKey, channel: channel as Channel });
    book.byId[state.id] = state;
    book.byName.set(seriesName(state.series), state);
  }
  for (const [name = ''] of await texts(connection, "SELECT table_name FROM duckdb_tables() WHERE regexp_full_match(table_name, 'readings_\\d{4}_\\d{2}') ORDER BY 1")) book.months.add(name.slice('readings_'.length));
  for (const month of book.months) await readMonth(connection, book, month);
  return book;
}

async function readMonth(connection: DuckDBConnection, book: SeriesBook, month: string): Promise<void> {
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
