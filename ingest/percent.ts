import type { BaseChannel } from '../shared/channels.ts';
import { DAY_MS } from '../shared/time.ts';
import type { PercentAs } from '../shared/units.ts';

/** What is known of a series that sends `%` and is not decided yet. Plain JSON, so that a restart goes on from it. */
export type PercentWait = { readonly count: number; readonly firstMs: number; readonly lastMs: number; readonly largest: number };
export type PercentState = { readonly as: PercentAs } | PercentWait;

/** A value above this is per cent beyond doubt: no share is larger than 1, and 1.5 leaves room for a sensor's error. */
const SURELY_PER_CENT = 1.5;
const VALUES_NEEDED = 20;
/** Air holds 78 % nitrogen: a smaller value (a sensor that warms up sends 0) is neither a ratio nor per cent and tells nothing. */
const LEAST_NITROGEN_RATIO = 0.5;
/** Air holds 20.9 % oxygen and nothing here makes more: an `oxygen` above this can't be a ratio, though it is below 1. */
const MOST_OXYGEN_RATIO = 0.25;

/**
 * Whether `%` of one series means 0..1 (SenML) or per cent, decided once, by what it sends.
 *
 * The first value above 1.5 says per cent. `nitrogen` is decided by its first value that can be one, since no
 * generator makes gas of 1 % nitrogen. Others are a ratio when 24 h and 20 values all stayed at or below 1; for `oxygen` below
 * 0.25, as 0.5 % oxygen in the product would else become half oxygen.
 *
 * @param state of the values before; `undefined` at the first.
 */
export function stepPercent(state: PercentState | undefined, channel: BaseChannel, value: number, atMs: number): PercentState {
  if (state !== undefined && 'as' in state) return state;
  if (value > SURELY_PER_CENT) return { as: 'per-cent' };
  if (channel === 'nitrogen' && value >= LEAST_NITROGEN_RATIO && value <= 1) return { as: 'ratio' };
  const wait: PercentWait = {
    count: (state?.count ?? 0) + 1,
    firstMs: Math.min(state?.firstMs ?? atMs, atMs),
    lastMs: Math.max(state?.lastMs ?? atMs, atMs),
    largest: Math.max(state?.largest ?? value, value),
  };
  const mostRatio = channel === 'oxygen' ? MOST_OXYGEN_RATIO : 1;
  return channel !== 'nitrogen' && wait.count >= VALUES_NEEDED && wait.lastMs - wait.firstMs >= DAY_MS && wait.largest <= mostRatio ? { as: 'ratio' } : wait;
}
