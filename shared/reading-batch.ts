import type { Channel } from './channels.ts';
import type { GeneratorKey } from './ids.ts';

/** One channel of one generator. */
export type Series = { readonly generator: GeneratorKey; readonly channel: Channel };

/** How far a reading can be trusted: a sum of flags, 0 is plain. */
export const QUALITY = { plain: 0, timeResolvedAtReceipt: 1 } as const;

/** One measured value, in the unit that its channel is kept in. */
export type Reading = Series & {
  /** When it was measured, by the device's clock. */
  readonly atMs: number;
  readonly value: number;
  readonly quality: number;
  /** When it reached us; stamped once, never falls from one batch to the next. */
  readonly receivedMs: number;
};

/**
 * Readings as columns: what rooms hand each other, because a million small objects cost more
 * than everything else we do with them. Row i belongs to `series[seriesIndex[i]]`.
 * All columns have the same length. A batch is never changed after it was made.
 */
export type ReadingBatch = {
  readonly series: readonly Series[];
  readonly seriesIndex: Uint32Array;
  readonly atMs: Float64Array;
  readonly value: Float64Array;
  readonly quality: Uint8Array;
  readonly receivedMs: Float64Array;
};

/** Room that a builder begins with, rows. */
const FEWEST_ROWS = 64;

export const EMPTY_BATCH: ReadingBatch = readingBatch([]);

/** Pack readings into columns, in the order given. */
export function readingBatch(readings: Iterable<Reading>): ReadingBatch {
  const builder = batchBuilder();
  for (const reading of readings) builder.add(reading, reading.atMs, reading.value, reading.quality, reading.receivedMs);
  return builder.take();
}

export type BatchBuilder = {
  add(series: Series, atMs: number, value: number, quality: number, receivedMs: number): void;
  readonly length: number;
  /** What was added since the last take, as a batch. */
  take(): ReadingBatch;
};

/** Collect readings one by one into columns that grow by doubling; they stay that large for the next batch. */
export function batchBuilder(): BatchBuilder {
  let series: Series[] = [];
  /** By name, and by the object that was handed in: who adds many of one series hands in the same, and to join its name each time costs more than all the rest. */
  let indexOf = new Map<string, number>();
  let indexOfSame = new Map<Series, number>();
  let length = 0;
  let columns = emptyColumns(FEWEST_ROWS);

  function indexByName(one: Series): number {
    const name = `${one.generator}/${one.channel}`;
    let index = indexOf.get(name);
    if (index === undefined) {
      index = series.length;
      indexOf.set(name, index);
      series.push({ generator: one.generator, channel: one.channel });
    }
    return index;
  }

  return {
    get length() {
      return length;
    },
    add(one, atMs, value, quality, receivedMs) {
      let index = indexOfSame.get(one);
      if (index === undefined) {
        index = indexByName(one);
        indexOfSame.set(one, index);
      }
      if (length === columns.atMs.length) columns = grown(columns);
      columns.seriesIndex[length] = index;
      columns.atMs[length] = atMs;
      columns.value[length] = value;
      columns.quality[length] = quality;
      columns.receivedMs[length] = receivedMs;
      length += 1;
    },
    take() {
      const batch = { series, ...sliceColumns(columns, length) };
      series = [];
      indexOf = new Map();
      indexOfSame = new Map();
      length = 0;
      return batch;
    },
  };
}

/** Row `index` as an object, for code that looks at few readings. @throws {RangeError} outside the batch. */
export function readingAt(batch: ReadingBatch, index: number): Reading {
  const series = batch.series[batch.seriesIndex[index] ?? -1];
  if (series === undefined) throw new RangeError(`Cannot read row as it must be 0..${batch.atMs.length - 1}: current value is ${index}`);
  return { ...series, atMs: batch.atMs[index]!, value: batch.value[index]!, quality: batch.quality[index]!, receivedMs: batch.receivedMs[index]! };
}

/** All rows as objects, in order; for tests and for few readings. */
export function* readingsOf(batch: ReadingBatch): Generator<Reading> {
  for (let index = 0; index < batch.atMs.length; index += 1) yield readingAt(batch, index);
}

/** The rows that `rows` names, in that order; the series table is kept as it is. */
export function selectRows(batch: ReadingBatch, rows: readonly number[] | Uint32Array): ReadingBatch {
  const columns = emptyColumns(rows.length);
  for (let to = 0; to < rows.length; to += 1) {
    const from = rows[to]!;
    columns.seriesIndex[to] = batch.seriesIndex[from]!;
    columns.atMs[to] = batch.atMs[from]!;
    columns.value[to] = batch.value[from]!;
    columns.quality[to] = batch.quality[from]!;
    columns.receivedMs[to] = batch.receivedMs[from]!;
  }
  return { series: batch.series, ...columns };
}

type Columns = { seriesIndex: Uint32Array; atMs: Float64Array; value: Float64Array; quality: Uint8Array; receivedMs: Float64Array };

function emptyColumns(size: number): Columns {
  return { seriesIndex: new Uint32Array(size), atMs: new Float64Array(size), value: new Float64Array(size), quality: new Uint8Array(size), receivedMs: new Float64Array(size) };
}

function sliceColumns(columns: Columns, length: number): Columns {
  return {
    seriesIndex: columns.seriesIndex.slice(0, length),
    atMs: columns.atMs.slice(0, length),
    value: columns.value.slice(0, length),
    quality: columns.quality.slice(0, length),
    receivedMs: columns.receivedMs.slice(0, length),
  };
}

function grown(columns: Columns): Columns {
  const next = emptyColumns(columns.atMs.length * 2);
  next.seriesIndex.set(columns.seriesIndex);
  next.atMs.set(columns.atMs);
  next.value.set(columns.value);
  next.quality.set(columns.quality);
  next.receivedMs.set(columns.receivedMs);
  return next;
}
