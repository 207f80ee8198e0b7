import type { ReadingBatch, Series } from '../reading-batch.ts';

/** What is known of a series without asking the store. `count` is 0 for a series of which no reading is left. */
export type SeriesState = { readonly id: number; readonly series: Series; firstAtMs: number; lastAtMs: number; lastValue: number; lastReceivedMs: number; count: number };

/** The dictionary of series, with the newest reading of each, held in memory; seeded from the store when it is opened. */
export type SeriesBook = { readonly byId: SeriesState[]; readonly byName: Map<string, SeriesState>; lastReceivedMs: number };

export function seriesName(series: Series): string {
  return `${series.generator}/${series.channel}`;
}

export function newSeriesState(id: number, series: Series): SeriesState {
  return { id, series: { generator: series.generator, channel: series.channel }, firstAtMs: Infinity, lastAtMs: -Infinity, lastValue: NaN, lastReceivedMs: 0, count: 0 };
}

/** Let the book know what was committed: `rows` of a batch, `states[i]` being those of `batch.series[i]`. */
export function noteRows(book: SeriesBook, batch: ReadingBatch, states: readonly SeriesState[], rows: Iterable<number>): void {
  for (const state of states) {
    if (book.byId[state.id] === state) continue;
    book.byId[state.id] = state;
    book.byName.set(seriesName(state.series), state);
  }
  for (const row of rows) {
    const state = states[batch.seriesIndex[row]!]!;
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
