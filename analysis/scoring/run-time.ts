import { DAY_MS } from '../../shared/time.ts';

/** Seconds run on each day of a world, as it was and as it would have been without its faults; from the simulator, never from readings. */
export type RunTimes = { readonly startMs: number; readonly withFaultsS: readonly number[]; readonly withoutS: readonly number[] };

/**
 * How much longer a generator ran over a span because of what was the matter with it, as |ln(with/without)|: 0.1 is about a
 * tenth. Whole days alone are looked at; `undefined` without one, or where it would not have run at all.
 */
export function effectOn(runTimes: RunTimes, fromMs: number, toMs: number): number | undefined {
  const first = Math.max(0, Math.ceil((fromMs - runTimes.startMs) / DAY_MS));
  const end = Math.min(runTimes.withFaultsS.length, Math.floor((toMs - runTimes.startMs) / DAY_MS));
  const sum = (days: readonly number[]): number => days.slice(first, end).reduce((total, day) => total + day, 0);
  const without = end > first ? sum(runTimes.withoutS) : 0;
  if (without <= 0) return undefined;
  // A compressor that ran less than a minute in all is taken to have run one, so that the logarithm stays.
  return Math.abs(Math.log(Math.max(60, sum(runTimes.withFaultsS)) / Math.max(60, without)));
}

/** The largest effect over any 7 days in a row of a span, or over the span where it is shorter. */
export function largestEffect(runTimes: RunTimes, fromMs: number, toMs: number): number | undefined {
  let largest: number | undefined;
  for (let atMs = fromMs; atMs < toMs; atMs += DAY_MS) {
    const one = effectOn(runTimes, atMs, Math.min(toMs, atMs + 8 * DAY_MS));
    if (one !== undefined && (atMs === fromMs || atMs + 7 * DAY_MS <= toMs) && one > (largest ?? -1)) largest = one;
  }
  return largest;
}
