import { MINUTE_MS } from '../../shared/time.ts';
import type { DescriptorState } from './state.ts';
import { addThinned, startThinned } from './thinned.ts';

/*
 * How fast the feed side empties after a stop: what stands between compressor and membrane leaves through drains, vents and
 * the membrane, as from a vessel through a hole, so the logarithm of its pressure falls by the clock. A drain or a bleed
 * that stands open on the feed side quickens it, gas that runs back past a check valve holds it up; wear, elements and the
 * membrane leave it alone (design, section 6).
 */

/** The run must have lasted for so long, and its last pressure be no older, before the stop. Common practice, no source. */
const LEAST_RUN_MS = MINUTE_MS;
const BEFORE_STOP_MS = 16 * MINUTE_MS;
/** A pressure so soon after the stop has hardly fallen, and one so late may have fallen and stood. */
const SINCE_STOP_MS = [20_000, 30 * MINUTE_MS] as const;
/** It must have fallen to this share, so that the pressure at the stop needn't be known well, and still stand well above nothing, kPa. */
const FALLEN_SHARE = 0.65;
const LEAST_KPA = 6;
const LEAST_BEFORE_KPA = 100;
/** Values that a quarter of a day keeps, and that are remembered one by one. */
const MOST_FALLS = 8;
const REMEMBERED = 60;

/** The run stopped: from here on the feed side empties. */
export function noteStop(state: DescriptorState, stopMs: number): void {
  const { feed, run } = state;
  const known = !run.filling && stopMs - run.sinceMs >= LEAST_RUN_MS && feed !== null && feed.atMs > run.sinceMs && feed.atMs <= stopMs && stopMs - feed.atMs <= BEFORE_STOP_MS && feed.value >= LEAST_BEFORE_KPA;
  state.emptying = known ? { stopMs, kPa: feed.value } : null;
}

/** A feed pressure was sent: the first of a rest that has fallen tells how fast. */
export function heedFeedFall(state: DescriptorState, atMs: number, kPa: number): void {
  const { emptying, run } = state;
  if (emptying === null) return;
  const sinceMs = atMs - emptying.stopMs;
  if (run.phase !== 0 || run.sinceMs !== emptying.stopMs || sinceMs > SINCE_STOP_MS[1]) {
    state.emptying = null;
    return;
  }
  if (sinceMs < SINCE_STOP_MS[0] || kPa > FALLEN_SHARE * emptying.kPa) return;
  state.emptying = null;
  if (kPa < LEAST_KPA) return;
  const fallS = Math.round(sinceMs / 100 / Math.log(emptying.kPa / kPa)) / 10;
  addThinned((state.quarter!.feedFall ??= startThinned()), fallS, MOST_FALLS);
  state.feedFalls.push([emptying.stopMs, fallS]);
  if (state.feedFalls.length > REMEMBERED) state.feedFalls.shift();
}
