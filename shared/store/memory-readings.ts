import { StoreError } from '../errors.ts';
import type { GeneratorKey } from '../ids.ts';
import { type ReadingBatch, selectRows, type Series } from '../reading-batch.ts';
import { bucketsInOrder, checkBucketSpan } from './bucket-span.ts';
import { checkBatch } from './check-batch.ts';
import { dropRows, emptyRows, firstAtOrAfter, makeRoom, mergeRows, pushRow, type Rows, type SeriesRows } from './memory-columns.ts';
import type { AppendResult, Conflict, LatestReading, ReadingStore, RefusedReading, SeriesSummary } from './reading-store.ts';
import { monthStartMs } from './utc-month.ts';

/** How many readings `byReceipt` hands over at once. */
const RECEIPT_BATCH_ROWS = 100_000;
/** Bytes of one reading in the columns and in the index of its series. */
const BYTES_PER_ROW = 33;

type State = { rows: Rows; series: SeriesRows[]; idOf: Map<string, number>; inOrderOfReceipt: boolean; lastReceivedMs: number };

export type MemoryReadings = ReadingStore & {
  /**
   * Drop the readings of each generator up to a device time, which its fold will never ask for again. Whether what comes
   * later for such a time is a double can't be known any more: it is refused.
   */
  forget(throughMs: ReadonlyMap<GeneratorKey, number>): void;
};

/** Readings in memory, 33 bytes each: for tests, replay and what-ifs. Nothing survives `close()`. */
export function openMemoryReadings(): MemoryReadings {
  let open: State | undefined = emptyState();
  // Every method is async, so that misuse and a closed store reject as they do in the stores on disk.
  const state = (): State => {
    if (open === undefined) throw new StoreError('The reading store is closed');
    return open;
  };
  return {
    append: async (batch) => append(state(), batch),
    byDeviceTime: async (query) => byDeviceTime(state(), query),
    async *byReceipt(query) {
      const now = state();
      const wanted = query.generators === undefined ? undefined : new Set(query.generators);
      yield* receiptBatches(now, query.fromMs, query.toMs, wanted);
    },
    async buckets(query) {
      checkBucketSpan(query);
      const { rows, series, idOf } = state();
      const one = series[idOf.get(`${query.generator}/${query.channel}`) ?? -1];
      return one === undefined ? [] : bucketsInOrder(query, valuesBetween(rows, one, query.fromMs, query.toMs));
    },
    async latest(generators) {
      const { rows, series } = state();
      const wanted = generators === undefined ? undefined : new Set(generators);
      return series.filter((one) => one.length > 0 && (wanted === undefined || wanted.has(one.series.generator))).map((one) => latestOf(rows, one));
    },
    async series() {
      const { rows, series } = state();
      return series.filter((one) => one.length > 0).map((one): SeriesSummary => ({ ...one.series, firstAtMs: rows.atMs[one.rows[0]!]!, lastAtMs: latestOf(rows, one).atMs, count: one.length }));
    },
    lastReceivedMs: async () => state().lastReceivedMs,
    async expire(beforeMs) {
      const { rows, series } = state();
      const edgeMs = monthStartMs(beforeMs);
      dropRows(rows, series, (row) => rows.atMs[row]! < edgeMs);
    },
    forget(throughMs) {
      const { rows, series } = state();
      for (const one of series) {
        const edgeMs = throughMs.get(one.series.generator) ?? -Infinity;
        if (one.length > 0 && rows.atMs[one.rows[0]!]! <= edgeMs) one.forgottenMs = edgeMs;
      }
      dropRows(rows, series, (row) => rows.atMs[row]! <= series[rows.seriesId[row]!]!.forgottenMs);
    },
    sizeBytes: async () => state().rows.length * BYTES_PER_ROW,
    async close() {
      open = undefined;
    },
  };
}

function emptyState(): State {
  return { rows: emptyRows(1024), series: [], idOf: new Map(), inOrderOfReceipt: true, lastReceivedMs: 0 };
}

function seriesId(state: State, one: Series): number {
  const name = `${one.generator}/${one.channel}`;
  const known = state.idOf.get(name);
  if (known !== undefined) return known;
  state.series.push({ series: { generator: one.generator, channel: one.channel }, rows: new Uint32Array(16), length: 0, forgottenMs: -Infinity });
  state.idOf.set(name, state.series.length - 1);
  return state.series.length - 1;
}

function append(state: State, batch: ReadingBatch): AppendResult {
  checkBatch(batch);
  const ids = Uint32Array.from(batch.series, (one) => seriesId(state, one));
  const late = new Map<number, Map<number, number>>();
  const kept = new Uint32Array(batch.atMs.length);
  let keptRows = 0;
  let doubled = 0;
  const conflicts: Conflict[] = [];
  const refused: RefusedReading[] = [];
  makeRoom(state.rows, batch.atMs.length);
  for (let from = 0; from < batch.atMs.length; from += 1) {
    const id = ids[batch.seriesIndex[from]!]!;
    const atMs = batch.atMs[from]!;
    const value = batch.value[from]!;
    const { series, forgottenMs } = state.series[id]!;
    if (atMs <= forgottenMs) {
      refused.push({ series, atMs, value, receivedMs: batch.receivedMs[from]!, says: 'its time is forgotten here' });
      continue;
    }
    const twin = twinOf(state, id, atMs, late);
    if (twin === undefined) {
      takeRow(state, batch, from, id, late);
      kept[keptRows] = from;
      keptRows += 1;
    } else if (state.rows.value[twin] === value) doubled += 1;
    else conflicts.push({ series, atMs, keptValue: state.rows.value[twin]!, refusedValue: value, receivedMs: batch.receivedMs[from]! });
  }
  for (const [id, rows] of late) mergeRows(state.rows, state.series[id]!, [...rows.values()]);
  return { kept: keptRows === batch.atMs.length ? batch : selectRows(batch, kept.subarray(0, keptRows)), doubled, conflicts, ...(refused.length === 0 ? {} : { refused }) };
}

/** The row that already has this key, from before or from this batch. */
function twinOf(state: State, id: number, atMs: number, late: ReadonlyMap<number, ReadonlyMap<number, number>>): number | undefined {
  const one = state.series[id]!;
  if (one.length === 0 || state.rows.atMs[one.rows[one.length - 1]!]! < atMs) return undefined;
  const row = one.rows[firstAtOrAfter(state.rows, one, atMs)]!;
  return state.rows.atMs[row] === atMs ? row : late.get(id)?.get(atMs);
}

function takeRow(state: State, batch: ReadingBatch, from: number, id: number, late: Map<number, Map<number, number>>): void {
  const { rows } = state;
  const row = rows.length;
  const atMs = batch.atMs[from]!;
  const receivedMs = batch.receivedMs[from]!;
  rows.seriesId[row] = id;
  rows.atMs[row] = atMs;
  rows.value[row] = batch.value[from]!;
  rows.quality[row] = batch.quality[from]!;
  rows.receivedMs[row] = receivedMs;
  rows.length = row + 1;
  if (receivedMs < state.lastReceivedMs) state.inOrderOfReceipt = false;
  else state.lastReceivedMs = receivedMs;
  const one = state.series[id]!;
  if (one.length === 0 || rows.atMs[one.rows[one.length - 1]!]! < atMs) pushRow(one, row);
  else {
    const lateOfSeries = late.get(id) ?? new Map<number, number>();
    lateOfSeries.set(atMs, row);
    late.set(id, lateOfSeries);
  }
}

function byDeviceTime(state: State, query: Parameters<ReadingStore['byDeviceTime']>[0]): ReadingBatch {
  const { rows } = state;
  const channels = query.channels === undefined ? undefined : new Set(query.channels);
  const beforeMs = query.receivedBeforeMs ?? Infinity;
  const found: number[] = [];
  for (const one of state.series) {
    if (one.series.generator !== query.generator || channels?.has(one.series.channel) === false) continue;
    const end = firstAtOrAfter(rows, one, query.toMs);
    for (let position = firstAtOrAfter(rows, one, query.fromMs); position < end; position += 1) {
      const row = one.rows[position]!;
      if (rows.receivedMs[row]! < beforeMs) found.push(row);
    }
  }
  const rank = ranks(state.series, (one) => one.series.channel);
  const order = Uint32Array.from(found).sort((a, b) => rows.atMs[a]! - rows.atMs[b]! || rank[rows.seriesId[a]!]! - rank[rows.seriesId[b]!]!);
  return pick(state, order);
}

/** The log, in batches. Only rows with the same `receivedMs` have to be put in order, unless a sender broke the rule that it never falls. */
function* receiptBatches(state: State, fromMs: number, toMs: number, wanted: ReadonlySet<GeneratorKey> | undefined): Iterable<ReadingBatch> {
  const { rows, series } = state;
  const inSpan: number[] = [];
  for (let row = 0; row < rows.length; row += 1) {
    const receivedMs = rows.receivedMs[row]!;
    if (receivedMs >= toMs && state.inOrderOfReceipt) break;
    if (receivedMs >= fromMs && receivedMs < toMs && (wanted === undefined || wanted.has(series[rows.seriesId[row]!]!.series.generator))) inSpan.push(row);
  }
  const byGenerator = ranks(series, (one) => one.series.generator);
  const byChannel = ranks(series, (one) => one.series.channel);
  const inLog = (a: number, b: number): number => {
    const [left, right] = [rows.seriesId[a]!, rows.seriesId[b]!];
    return rows.receivedMs[a]! - rows.receivedMs[b]! || byGenerator[left]! - byGenerator[right]! || rows.atMs[a]! - rows.atMs[b]! || byChannel[left]! - byChannel[right]!;
  };
  const order = Uint32Array.from(inSpan);
  if (state.inOrderOfReceipt) sortRuns(order, rows.receivedMs, inLog);
  else order.sort(inLog);
  for (let start = 0; start < order.length; start += RECEIPT_BATCH_ROWS) yield pick(state, order.subarray(start, start + RECEIPT_BATCH_ROWS));
}

/** Sort within each run of rows that share a time of receipt: short runs, and often in order already. */
function sortRuns(order: Uint32Array, receivedMs: Float64Array, compare: (a: number, b: number) => number): void {
  let start = 0;
  let sorted = true;
  for (let index = 1; index <= order.length; index += 1) {
    const ends = index === order.length || receivedMs[order[index]!] !== receivedMs[order[start]!];
    if (!ends) {
      sorted &&= compare(order[index - 1]!, order[index]!) <= 0;
      continue;
    }
    if (!sorted) order.subarray(start, index).sort(compare);
    start = index;
    sorted = true;
  }
}

/** For each series the place of its name among all names, so that sorting compares numbers. Equal names share a place. */
function ranks(series: readonly SeriesRows[], name: (one: SeriesRows) => string): Uint32Array {
  const places = new Map([...new Set(series.map(name))].sort().map((text, index) => [text, index]));
  return Uint32Array.from(series, (one) => places.get(name(one))!);
}

function pick(state: State, order: Uint32Array): ReadingBatch {
  const { rows } = state;
  const length = order.length;
  const batch = { series: [] as Series[], seriesIndex: new Uint32Array(length), atMs: new Float64Array(length), value: new Float64Array(length), quality: new Uint8Array(length), receivedMs: new Float64Array(length) };
  const indexOf = new Int32Array(state.series.length).fill(-1);
  for (let to = 0; to < length; to += 1) {
    const row = order[to]!;
    const id = rows.seriesId[row]!;
    if (indexOf[id]! < 0) indexOf[id] = batch.series.push(state.series[id]!.series) - 1;
    batch.seriesIndex[to] = indexOf[id]!;
    batch.atMs[to] = rows.atMs[row]!;
    batch.value[to] = rows.value[row]!;
    batch.quality[to] = rows.quality[row]!;
    batch.receivedMs[to] = rows.receivedMs[row]!;
  }
  return batch;
}

function latestOf(rows: Rows, one: SeriesRows): LatestReading {
  const row = one.rows[one.length - 1]!;
  return { ...one.series, atMs: rows.atMs[row]!, value: rows.value[row]!, receivedMs: rows.receivedMs[row]! };
}

function* valuesBetween(rows: Rows, one: SeriesRows, fromMs: number, toMs: number): Iterable<readonly [number, number]> {
  const end = firstAtOrAfter(rows, one, toMs);
  for (let position = firstAtOrAfter(rows, one, fromMs); position < end; position += 1) {
    const row = one.rows[position]!;
    yield [rows.atMs[row]!, rows.value[row]!];
  }
}
