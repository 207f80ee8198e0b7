import type { CanShow, SmallestSeen } from '../../shared/review.ts';
import { changeFigure } from './figures.ts';

/** Share of beginnings from which a change must be found to count as one that would be seen. */
const SURE = 0.98;
/** Fewer good days than this can't tell what hides in their scatter. */
const LEAST_DAYS = 20;
/** A change that is larger than fivefold isn't asked about: ln 5. */
const MOST = 1.6;

export type ShownSeries = {
  readonly series: SmallestSeen['series'];
  /** Natural logarithms of good days minus their middle, in order of time. */
  readonly residuals: readonly number[];
  readonly scatter: number;
  readonly baselineDays: number;
  /** Which way is worse: demand that grows, delivery that shrinks. */
  readonly worse: 1 | -1;
  /** Whether the analysis' own rule finds the worse shift at the end of these values (minus the baseline's middle). */
  readonly found: (values: readonly number[]) => boolean;
};

/**
 * What this generator can show: the smallest lasting change of demand and of delivery that the analysis finds within 3 and
 * within 10 days at this generator's own noise, so that silence means something.
 *
 * No formula of a noise: the change is laid over this generator's own good days, once from each of them on, and handed to the
 * rule that really decides; the smallest one found in 98 % of these tries is given. The day on which it begins is a part of a
 * day, so within 3 days are two whole ones. What quarters of a day find earlier comes on top.
 */
export function canShow(all: readonly ShownSeries[]): CanShow | null {
  const smallest = all.filter((one) => one.residuals.length >= LEAST_DAYS).map((one): SmallestSeen => ({ series: one.series, scatter: one.scatter, baselineDays: one.baselineDays, within3Days: smallestWithin(one, 3), within10Days: smallestWithin(one, 10) }));
  return smallest.length === 0 ? null : { smallest, says: smallest.map(sentence) };
}

/**
 * Good days in so many orders: as they came, which keeps how neighbours hang together, and by every third,
 * which gives more beginnings to know the tail. 60 days in one order are but seven of 9 days that don't overlap.
 */
const STRIDES = [1, 3] as const;
/** Given to one per cent of a logarithm. */
const STEP = 0.01;

/** As after/before − 1; `null` where not even a fivefold change would be found. */
function smallestWithin(one: ShownSeries, days: number): number | null {
  const orders = STRIDES.map((stride) => windowsOf(one.residuals, days - 1, stride));
  const surelyFound = (windows: readonly (readonly number[])[], change: number): boolean => {
    let mayMiss = Math.floor((1 - SURE) * windows.length);
    return windows.every((window) => one.found(window.map((value) => value + one.worse * change)) || mayMiss-- > 0);
  };
  const sure = (change: number): boolean => orders.every((windows) => surelyFound(windows, change));
  let high = STEP;
  while (!sure(high)) {
    if (high >= MOST) return null;
    high = Math.min(MOST, high * 2);
  }
  let low = high / 2;
  while (high - low > STEP) {
    const middle = (low + high) / 2;
    if (sure(middle)) high = middle;
    else low = middle;
  }
  return Math.expm1(one.worse * high);
}

function windowsOf(values: readonly number[], length: number, stride: number): number[][] {
  if (stride === 1) return values.slice(length - 1).map((_, from) => values.slice(from, from + length));
  return values.map((_, from) => Array.from({ length }, (_unused, index) => values[(from + index * stride) % values.length]!));
}

/** `16 %`: that it is a rise or a loss is said before it. */
const sizeFigure = (change: number): string => changeFigure(Math.abs(change)).replace('+', '');

function sentence(one: SmallestSeen): string {
  const what = one.series === 'demand' ? 'A lasting rise of demand' : 'A lasting loss of delivery';
  const within = (days: number, change: number | null): string => (change === null ? `would not surely be seen within ${days} days` : `of ${sizeFigure(change)} or more would be seen within ${days} days`);
  if (one.within10Days === null) return `${what} ${within(10, null)}: the days scatter too much.`;
  return `${what} ${one.within3Days === null ? within(10, one.within10Days) : `${within(10, one.within10Days)}, of ${sizeFigure(one.within3Days)} or more within 3 days`}; from day to day it scatters by ${Math.round(Math.expm1(one.scatter) * 100)} %.`;
}
