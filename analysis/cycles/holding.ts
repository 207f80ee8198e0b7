import type { DescriptorSetup, DescriptorState } from './state.ts';
import { bandOf, longestNormal } from './normal.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../shared/time.ts';

/** A filling is longer than this many times the longest normal run … */
const FILLING_TIMES = 3;
/** … and than this: runs of 3 to 20 min are usual (common practice, no source), a refill takes hours. */
const FILLING_LEAST_MS = 40 * MINUTE_MS;
/** A run that has lasted longer fills nothing any more: it is one without an end, in which the drop over the elements and nitrogen go on being told. Common practice, no source. */
const FILLING_MOST_MS = 3 * DAY_MS;
/** Tank pressure this share of the band below its low end is no normal start. */
export const LOW_SHARE = 0.25;
/** A run that starts within this of a test, a purge or a power cut may be its refill. */
const AFTER_OUTAGE_MS = 2 * HOUR_MS;

/** Seconds of a span that lie in holding: power present, no filling, no entry's outage. */
export function holdingS(state: DescriptorState, setup: DescriptorSetup, fromMs: number, toMs: number): number {
  if (state.power === false || state.run.filling) return 0;
  let heldMs = toMs - fromMs;
  for (const outage of setup.outages) {
    const overlapMs = Math.min(toMs, outage.toMs) - Math.max(fromMs, outage.fromMs);
    if (overlapMs > 0) heldMs -= overlapMs;
  }
  return Math.max(0, heldMs) / 1000;
}

/** Whether a moment is in holding. */
export function holdsAt(state: DescriptorState, setup: DescriptorSetup, atMs: number): boolean {
  if (state.power === false || state.run.filling) return false;
  for (const outage of setup.outages) if (atMs >= outage.fromMs && atMs <= outage.toMs) return false;
  return true;
}

/**
 * Whether the run under way is a filling: much longer than normal while the tank or the piping stands below its usual, or
 * after a test, a purge or a power cut. A long run from a normal start is none: that one may be `runs-without-end`.
 */
export function isFilling(state: DescriptorState, setup: DescriptorSetup, atMs: number): boolean {
  if (state.run.phase !== 1) return state.run.filling;
  const ranMs = atMs - state.run.sinceMs;
  if (ranMs > FILLING_MOST_MS) return false;
  if (state.run.filling) return true;
  if (ranMs < FILLING_LEAST_MS) return false;
  const longestS = longestNormal(state.recentRunS);
  if (longestS !== null && ranMs < FILLING_TIMES * longestS * 1000) return false;
  const sinceMs = state.run.sinceMs;
  if (setup.outages.some((outage) => outage.kind !== 'service' && outage.kind !== 'set-point' && sinceMs >= outage.fromMs && sinceMs <= outage.toMs + AFTER_OUTAGE_MS)) return true;
  if (state.power === true && state.powerAtMs > 0 && sinceMs - state.powerAtMs <= AFTER_OUTAGE_MS && sinceMs >= state.powerAtMs - MINUTE_MS) return true;
  if (state.open?.wasLow === true) return true;
  const band = bandOf(state, setup);
  const startKPa = state.open?.startKPa ?? null;
  return band !== null && startKPa !== null && startKPa < band.lowKPa - LOW_SHARE * (band.highKPa - band.lowKPa);
}

/** Piping below this share of what it usually holds was let down, or is being drawn faster than it is fed. */
const LET_DOWN_SHARE = 0.85;
/** What a riser usually holds follows its readings within such times, however often they come: a supply that is shut lets it sag for days; slower while it is let down, so that a test is forgotten and a new set point learned. */
const FOLLOWS_MS = 2 * DAY_MS;
const FOLLOWS_LOW_MS = 30 * DAY_MS;
/** A pause says nothing of how it stood meanwhile. */
const LONGEST_STEP_MS = HOUR_MS;

/** A piping pressure came: learn what is usual, and note when a run goes against piping that was let down. */
export function heedPiping(state: DescriptorState, channel: string, kPa: number, sinceLastMs: number): void {
  const usual = state.usualSystemKPa[channel];
  if (usual === undefined) {
    state.usualSystemKPa[channel] = kPa;
    return;
  }
  const low = kPa < LET_DOWN_SHARE * usual;
  const share = Math.min(LONGEST_STEP_MS, sinceLastMs) / (low ? FOLLOWS_LOW_MS : FOLLOWS_MS);
  state.usualSystemKPa[channel] = Math.round((usual + share * (kPa - usual)) * 1000) / 1000;
  if (low && state.run.phase === 1 && state.open !== null) state.open.wasLow = true;
}
