import type { ReadingBatch, Series } from '../reading-batch.ts';
import type { InfluxRows } from './influxdb-server.ts';

/** Readings of one series in order of device time, as they come in. */
export type SeriesColumns = { readonly series: Series; length: number; atMs: Float64Array; value: Float64Array; quality: Uint8Array; receivedMs: Float64Array };

export function emptyColumns(series: Series, size = 1024): SeriesColumns {
  return { series, length: 0, atMs: new Float64Array(size), value: new Float64Array(size), quality: new Uint8Array(size), receivedMs: new Float64Array(size) };
}

/** Take rows of `time, value, quality, received`. Points without a value or a receipt are not ours. */
export function takeRows(into: SeriesColumns, { values }: InfluxRows): void {
  if (into.length + values.length > into.atMs.length) grow(into, Math.max(into.length + values.length, into.atMs.length * 2));
  for (const [atMs, value, quality, receivedMs] of values as readonly (readonly (number | null)[])[]) {
    if (value == null || receivedMs == null) continue;
    const row = into.length;
    into.atMs[row] = atMs!;
    into.value[row] = value;
    into.quality[row] = quality ?? 0;
    into.receivedMs[row] = receivedMs;
    into.length = row + 1;
  }
}

function grow(columns: SeriesColumns, size: number): void {
  const longer = <T extends Float64Array | Uint8Array>(to: T, from: T): T => {
    to.set(from);
    return to;
  };
  columns.atMs = longer(new Float64Array(size), columns.atMs);
  columns.value = longer(new Float64Array(size), columns.value);
  columns.quality = longer(new Uint8Array(size), columns.quality);
  columns.receivedMs = longer(new Float64Array(size), columns.receivedMs);
}

/** Join series of one generator in order of device time, then channel name. There are few, so the next one is looked for among all heads. */
export function mergedByTime(parts: readonly SeriesColumns[]): ReadingBatch {
  const ordered = [...parts].sort((a, b) => (a.series.channel < b.series.channel ? -1 : 1));
  const total = ordered.reduce((sum, part) => sum + part.length, 0);
  const batch = newBatch(ordered.map((part) => part.series), total);
  const heads = new Uint32Array(ordered.length);
  for (let to = 0; to < total; to += 1) {
    let from = -1;
    let earliestMs = Infinity;
    for (let index = 0; index < ordered.length; index += 1) {
      const part = ordered[index]!;
      const head = heads[index]!;
      if (head < part.length && part.atMs[head]! < earliestMs) {
        earliestMs = part.atMs[head]!;
        from = index;
      }
    }
    copyRow(batch, to, from, ordered[from]!, heads[from]!);
    heads[from] = heads[from]! + 1;
  }
  return batch;
}

/** Put readings of many series in order of receipt, generator, device time and channel, and cut them into batches. */
export function* mergedByReceipt(parts: readonly SeriesColumns[], batchRows: number): Iterable<ReadingBatch> {
  const name = (part: SeriesColumns): string => `${part.series.generator}\u0000${part.series.channel}`;
  const ordered = [...parts].sort((a, b) => (name(a) < name(b) ? -1 : 1));
  const generators = [...new Set(ordered.map((part) => part.series.generator))].sort();
  const place = Uint32Array.from(ordered, (part) => generators.indexOf(part.series.generator));
  const total = ordered.reduce((sum, part) => sum + part.length, 0);
  // Two numbers say where a row is; sorting numbers by numbers is quicker than sorting objects.
  const [partOf, rowOf, receivedMs, atMs] = [new Uint32Array(total), new Uint32Array(total), new Float64Array(total), new Float64Array(total)];
  let filled = 0;
  ordered.forEach((part, index) => {
    partOf.fill(index, filled, filled + part.length);
    receivedMs.set(part.receivedMs.subarray(0, part.length), filled);
    atMs.set(part.atMs.subarray(0, part.length), filled);
    for (let row = 0; row < part.length; row += 1) rowOf[filled + row] = row;
    filled += part.length;
  });
  // Equal receipt, generator and device time leave the channel, and parts of a generator stand in order of that.
  const order = Uint32Array.from({ length: total }, (_, index) => index).sort((a, b) => receivedMs[a]! - receivedMs[b]! || place[partOf[a]!]! - place[partOf[b]!]! || atMs[a]! - atMs[b]! || partOf[a]! - partOf[b]!);
  for (let start = 0; start < total; start += batchRows) {
    const rows = order.subarray(start, start + batchRows);
    const batch = newBatch(ordered.map((part) => part.series), rows.length);
    rows.forEach((from, to) => copyRow(batch, to, partOf[from]!, ordered[partOf[from]!]!, rowOf[from]!));
    yield batch;
  }
}

function newBatch(series: readonly Series[], rows: number): ReadingBatch {
  return { series, seriesIndex: new Uint32Array(rows), atMs: new Float64Array(rows), value: new Float64Array(rows), quality: new Uint8Array(rows), receivedMs: new Float64Array(rows) };
}

function copyRow(batch: ReadingBatch, to: number, seriesIndex: number, from: SeriesColumns, row: number): void {
  batch.seriesIndex[to] = seriesIndex;
  batch.atMs[to] = from.atMs[row]!;
  batch.value[to] = from.value[row]!;
  batch.quality[to] = from.quality[row]!;
  batch.receivedMs[to] = from.receivedMs[row]!;
}
