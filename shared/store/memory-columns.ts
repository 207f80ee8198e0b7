import type { Series } from '../reading-batch.ts';

/** All rows in order of arrival, as columns. The number of a row is its name until some are dropped. */
export type Rows = { seriesId: Uint32Array; atMs: Float64Array; value: Float64Array; quality: Uint8Array; receivedMs: Float64Array; length: number };

/** The rows of one series, in order of device time. What was forgotten is at or before `forgottenMs`. */
export type SeriesRows = { readonly series: Series; rows: Uint32Array; length: number; forgottenMs: number };

export function emptyRows(size: number): Rows {
  return { seriesId: new Uint32Array(size), atMs: new Float64Array(size), value: new Float64Array(size), quality: new Uint8Array(size), receivedMs: new Float64Array(size), length: 0 };
}

/** Make room for `more` rows; columns grow by half at least, so that each row is copied about twice in its life. */
export function makeRoom(rows: Rows, more: number): void {
  const wanted = rows.length + more;
  if (wanted <= rows.atMs.length) return;
  const next = emptyRows(Math.max(wanted, Math.ceil(rows.atMs.length * 1.5)));
  for (const name of ['seriesId', 'atMs', 'value', 'quality', 'receivedMs'] as const) next[name].set(rows[name].subarray(0, rows.length));
  rows.seriesId = next.seriesId;
  rows.atMs = next.atMs;
  rows.value = next.value;
  rows.quality = next.quality;
  rows.receivedMs = next.receivedMs;
}

/** Position of the first row of the series that is at or after a device time. */
export function firstAtOrAfter(rows: Rows, one: SeriesRows, atMs: number): number {
  let low = 0;
  let high = one.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (rows.atMs[one.rows[middle]!]! < atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Add a row that is newer than all others of its series. */
export function pushRow(one: SeriesRows, row: number): void {
  if (one.length === one.rows.length) one.rows = grown(one.rows, Math.max(16, one.length * 2));
  one.rows[one.length] = row;
  one.length += 1;
}

/** Merge rows that are older than the newest, in any order among themselves, in one pass from the end. */
export function mergeRows(rows: Rows, one: SeriesRows, late: readonly number[]): void {
  const sorted = [...late].sort((a, b) => rows.atMs[a]! - rows.atMs[b]!);
  const length = one.length + sorted.length;
  if (length > one.rows.length) one.rows = grown(one.rows, Math.max(length, one.rows.length * 2));
  let from = one.length - 1;
  let next = sorted.length - 1;
  for (let to = length - 1; next >= 0; to -= 1) {
    const stays = from >= 0 && rows.atMs[one.rows[from]!]! > rows.atMs[sorted[next]!]!;
    one.rows[to] = stays ? one.rows[from]! : sorted[next]!;
    if (stays) from -= 1;
    else next -= 1;
  }
  one.length = length;
}

const DROPPED = 0xffffffff;

/** Leave out rows: the others move up, and the series call them by their new numbers. The columns stay as large as they are. */
export function dropRows(rows: Rows, all: readonly SeriesRows[], isDropped: (row: number) => boolean): void {
  const numbers = new Uint32Array(rows.length);
  let kept = 0;
  for (let row = 0; row < rows.length; row += 1) {
    if (isDropped(row)) {
      numbers[row] = DROPPED;
      continue;
    }
    rows.seriesId[kept] = rows.seriesId[row]!;
    rows.atMs[kept] = rows.atMs[row]!;
    rows.value[kept] = rows.value[row]!;
    rows.quality[kept] = rows.quality[row]!;
    rows.receivedMs[kept] = rows.receivedMs[row]!;
    numbers[row] = kept;
    kept += 1;
  }
  rows.length = kept;
  for (const one of all) {
    let length = 0;
    for (let position = 0; position < one.length; position += 1) {
      const number = numbers[one.rows[position]!]!;
      if (number !== DROPPED) one.rows[length++] = number;
    }
    one.length = length;
  }
}

function grown(old: Uint32Array, size: number): Uint32Array {
  const next = new Uint32Array(size);
  next.set(old);
  return next;
}
