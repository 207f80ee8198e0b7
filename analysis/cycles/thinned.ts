import { median } from 'simple-statistics';

/**
 * At most `limit` values that stand evenly for all that were added: when full, one of every two is dropped and from then
 * on only one of two (four, …) is kept. Plain JSON; no dice, so that a replay gives the same.
 */
export type Thinned = { values: number[]; every: number; seen: number };

export function startThinned(): Thinned {
  return { values: [], every: 1, seen: 0 };
}

/** Which of the values of a block stands for it: 0 to `every` − 1. */
type PlaceIn = (block: number, every: number) => number;

const first: PlaceIn = () => 0;

/** The golden section, whose multiples keep step with nothing (Weyl 1916). */
const GOLDEN = (Math.sqrt(5) - 1) / 2;

/** For values that come by the clock: a report in a quarter of an hour and a cycle of an hour keep step, and every fourth would always be that of the same moment of the cycle. */
export const outOfStep: PlaceIn = (block, every) => Math.floor(every * (((block + 1) * GOLDEN) % 1));

/** @param limit an even number. */
export function addThinned(list: Thinned, value: number, limit: number, placeIn: PlaceIn = first): void {
  const isChosen = (): boolean => list.seen % list.every === placeIn(Math.floor(list.seen / list.every), list.every);
  if (isChosen()) {
    if (list.values.length >= limit) {
      list.every *= 2;
      list.values = list.values.filter((_, index) => index % 2 === placeIn(index >> 1, 2));
    }
    if (isChosen()) list.values.push(rounded(value));
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
