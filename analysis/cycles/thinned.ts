import { median } from 'simple-statistics';

/**
 * At most `limit` values that stand evenly for all that were added: when full, every second is dropped and from then
 * on only every second (fourth, …) is kept. Plain JSON; no dice, so that a replay gives the same.
 */
export type Thinned = { values: number[]; every: number; seen: number };

export function startThinned(): Thinned {
  return { values: [], every: 1, seen: 0 };
}

export function addThinned(list: Thinned, value: number, limit: number): void {
  if (list.seen % list.every === 0) {
    if (list.values.length >= limit) {
      list.values = list.values.filter((_, index) => index % 2 === 0);
      list.every *= 2;
    }
    if (list.seen % list.every === 0) list.values.push(rounded(value));
  }
  list.seen += 1;
}

/** Kept to 4 digits behind the point: far below any sensor's noise, and a third of the bytes. */
export function rounded(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}

/** Middle value, `null` of none. */
export function medianOf(values: readonly number[]): number | null {
  return values.length === 0 ? null : median(values);
}

/** Scatter as a standard deviation that a third of outliers can't move: 1.4826 × the median distance from `centre`. */
export function robustScatter(values: readonly number[], centre: number): number {
  return values.length === 0 ? 0 : 1.4826 * median(values.map((value) => Math.abs(value - centre)));
}

/** Keep the newest values of a list, at most `limit`. */
export function keepNewest(list: number[], value: number, limit: number): void {
  list.push(rounded(value));
  if (list.length > limit) list.shift();
}
