import type { DescriptorSetup, DescriptorState } from './state.ts';
import { bandOf, longestNormal } from './normal.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';

/** A filling is longer than this many times the longest normal run … */
const FILLING_TIMES = 3;
/** … and than this: runs of 3 to 20 min are usual (common practice, no source), a refill takes hours. */
const FILLING_LEAST_MS = 40 * MINUTE_MS;
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
 * Whether the run under way is a filling: much longer than normal while the tank came from below its band, or after a
 * test, a purge or a power cut. A long run from a normal start is none: that one may be `runs-without-end`.
 */
export function isFilling(state: DescriptorState, setup: DescriptorSetup, atMs: number): boolean {
  if (state.run.phase !== 1 || state.run.filling) return state.run.filling;
  const ranMs = atMs - state.run.sinceMs;
  if (ranMs < FILLING_LEAST_MS) return false;
  const longestS = longestNormal(state.recentRunS);
  if (longestS !== null && ranMs < FILLING_TIMES * longestS * 1000) return false;
  const sinceMs = state.run.sinceMs;
  if (setup.outages.some((outage) => outage.kind !== 'service' && outage.kind !== 'set-point' && sinceMs >= outage.fromMs && sinceMs <= outage.toMs + AFTER_OUTAGE_MS)) return true;
  if (state.power === true && state.powerAtMs > 0 && sinceMs - state.powerAtMs <= AFTER_OUTAGE_MS && sinceMs >= state.powerAtMs - MINUTE_MS) return true;
  const band = bandOf(state, setup);
  const startKPa = state.open?.startKPa ?? null;
  return band !== null && startKPa !== null && startKPa < band.lowKPa - 0.25 * (band.highKPa - band.lowKPa);
}
