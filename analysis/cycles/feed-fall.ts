import { MINUTE_MS } from '../../shared/time.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { keepNewest } from './thinned.ts';

/*
 * How fast the feed side empties after a stop: what stands between compressor and membrane leaves through drains, vents and
 * the membrane, as from a vessel through a hole, so the logarithm of its pressure falls by the clock. A drain or a bleed
 * that stands open on the feed side quickens it, gas that runs back past a check valve holds it up; wear, elements and the
 * membrane leave it alone (design, section 6).
 */

/** The run must have lasted for so long, and its last pressure be no older, before the stop. Common practice, no source. */
const LEAST_RUN_MS = MINUTE_MS;
const BEFORE_STOP_MS = 16 * MINUTE_MS;
/** So late after the stop it may have fallen and stood. */
const SINCE_STOP_MS = 30 * MINUTE_MS;
/** Between the two pressures that tell, it must have fallen to this share, and still stand well above nothing, kPa. */
const FALLEN_SHARE = 0.65;
const LEAST_KPA = 6;
const LEAST_BEFORE_KPA = 100;
/** Values that a quarter of a day keeps, and that are remembered one by one for the clock. */
const MOST_FALLS = 4;
const REMEMBERED = 3;

/** The feed side empties since a stop: its last pressure in the run, and the first since. */
export type Emptying = { stopMs: number; kPa: number | null; first: { atMs: number; kPa: number } | null };

/** The run stopped: from here on the feed side empties. The beds of a sieve take turns, so that no pressure of a run is that of the stop. */
export function noteStop(state: DescriptorState, setup: DescriptorSetup, stopMs: number): void {
  const { feed, run } = state;
  const known = feed !== null && feed.atMs > run.sinceMs && feed.atMs <= stopMs && stopMs - feed.atMs <= BEFORE_STOP_MS && feed.value >= LEAST_BEFORE_KPA && setup.registered.generator.kind === 'membrane';
  state.emptying = run.filling || stopMs - run.sinceMs < LEAST_RUN_MS ? null : { stopMs, kPa: known ? feed.value : null, first: null };
}

/** A feed pressure was sent: two of a rest tell how fast it falls; where reports are too rare for two, the last of the run and one of the rest do. */
export function heedFeedFall(state: DescriptorState, atMs: number, kPa: number): void {
  const { emptying, run } = state;
  if (emptying === null) return;
  const { stopMs, first } = emptying;
  if (run.phase !== 0 || run.sinceMs !== stopMs || atMs <= stopMs) {
    if (atMs > stopMs) state.emptying = null;
    return;
  }
  const over = kPa < LEAST_KPA || atMs - stopMs > SINCE_STOP_MS;
  if (first === null && !over) emptying.first = { atMs, kPa };
  else if (first !== null && !over && kPa <= FALLEN_SHARE * first.kPa) fell(state, stopMs, atMs - first.atMs, first.kPa / kPa);
  else if (over) {
    if (first !== null && emptying.kPa !== null && first.kPa <= FALLEN_SHARE * emptying.kPa) fell(state, stopMs, first.atMs - stopMs, emptying.kPa / first.kPa);
    state.emptying = null;
  }
}

function fell(state: DescriptorState, stopMs: number, tookMs: number, times: number): void {
  const fallS = Math.round(tookMs / 1000 / Math.log(times));
  keepNewest((state.quarter!.feedFalls ??= []), fallS, MOST_FALLS);
  state.feedFalls.push([stopMs, fallS]);
  if (state.feedFalls.length > REMEMBERED) state.feedFalls.shift();
  state.emptying = null;
}
