import type { ReadingBatch } from '../reading-batch.ts';
import type { Conflict } from './reading-store.ts';
import { newSeriesState, type SeriesBook, seriesName, type SeriesState } from './series-book.ts';

/** What is to be done with a batch: `rows` of it are new. `states[i]` belongs to `batch.series[i]`; those with no place in the book yet are in `newSeries`. */
export type AppendPlan = { readonly rows: Uint32Array; readonly doubled: number; readonly conflicts: readonly Conflict[]; readonly states: readonly SeriesState[]; readonly newSeries: readonly SeriesState[] };

/** Looks into the store for the keys of some rows; gives the values that it has, by row. */
export type LookUp = (batch: ReadingBatch, states: readonly SeriesState[], rows: readonly number[]) => Promise<ReadonlyMap<number, number>>;

/**
 * Part a batch into new rows, equal doubles and conflicts. A row newer than all of its series is new without a look
 * into the store, and so is nearly every row; the older ones are looked up together.
 */
export async function planAppend(book: SeriesBook, batch: ReadingBatch, lookUp: LookUp): Promise<AppendPlan> {
  const { states, newSeries } = statesOf(book, batch);
  const taken = new Uint8Array(batch.atMs.length);
  const older = takeNewer(batch, states, taken);
  let doubled = 0;
  const conflicts: Conflict[] = [];
  if (older.length > 0) {
    const stored = await storedValues(batch, states, older, lookUp);
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

/** The values that are kept under the keys of these rows, by row. */
async function storedValues(batch: ReadingBatch, states: readonly SeriesState[], older: readonly number[], lookUp: LookUp): Promise<ReadonlyMap<number, number>> {
  const newest = new Map<number, number>();
  const asked: number[] = [];
  for (const row of older) {
    const state = states[batch.seriesIndex[row]!]!;
    const atMs = batch.atMs[row]!;
    // The newest reading is known without asking: a redelivery is mostly just that one.
    if (atMs === state.lastAtMs) newest.set(row, state.lastValue);
    else if (atMs >= state.firstAtMs && atMs < state.lastAtMs) asked.push(row);
  }
  if (asked.length === 0) return newest;
  return new Map([...newest, ...(await lookUp(batch, states, asked))]);
}
