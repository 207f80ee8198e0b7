import { MINUTE_MS } from '../../shared/time.ts';
import type { DescriptorState } from './state.ts';

/** At least this much of a rest is left out of slopes (design, section 6) … */
const LEAST_MS = 3 * MINUTE_MS;
/** … and up to this where rests are long enough to spare it. */
const MOST_MS = 20 * MINUTE_MS;
const SHARE = 0.3;

/**
 * How long the tank's gas settles after a run. Gas that is 4 K warmer than the room shrinks by 1.4 % of its absolute
 * pressure as it cools, and a steel tank takes some 7 min for each two thirds of that: with 3 min left out, demand and
 * delivery stood 3 % high in simulated worlds; with three tenths of the usual rest (at most 20 min), 1 %. Where the gas's
 * own temperature is sent it is corrected for, and 3 min are enough.
 */
export function settlesMs(state: DescriptorState): number {
  if (state.celsiusFrom === 'tank') return LEAST_MS;
  return Math.max(LEAST_MS, Math.min(MOST_MS, SHARE * 1000 * state.usualRestS));
}
