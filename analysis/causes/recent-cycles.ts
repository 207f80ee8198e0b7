import type { Cycle } from '../../shared/cycle.ts';
import { median, quantile } from '../change/robust.ts';

/** The last whole cycles of a generator, as plain JSON: [start ms, run s, rest s, start kPa, stop kPa]. */
export type RecentCycles = (readonly [startMs: number, runS: number, restS: number, startKPa: number | null, stopKPa: number | null])[];

const KEPT = 60;
/** Fewer whole cycles than this are no measure of what is normal. */
const ENOUGH = 8;

/** Remember a whole cycle; one cut by a gap says nothing about normal lengths. */
export function rememberCycle(recent: RecentCycles, cycle: Cycle): void {
  if (cycle.cut || cycle.restS <= 0) return;
  recent.push([cycle.startMs, Math.round(cycle.runS), Math.round(cycle.restS), cycle.startKPa, cycle.stopKPa]);
  if (recent.length > KEPT) recent.shift();
}

/** Lengths and pressures that are usual here; `undefined` until enough whole cycles were seen. */
export type UsualCycle = { readonly longestRunS: number; readonly longestRestS: number; readonly startKPa: number | null; readonly stopKPa: number | null };

/** Usual values over the remembered cycles but the last `butLast`, which may already be the fault's. */
export function usualCycle(recent: RecentCycles, butLast = 2): UsualCycle | undefined {
  const before = recent.slice(0, Math.max(0, recent.length - butLast));
  if (before.length < ENOUGH) return undefined;
  const starts = before.flatMap((cycle) => (cycle[3] === null ? [] : [cycle[3]]));
  const stops = before.flatMap((cycle) => (cycle[4] === null ? [] : [cycle[4]]));
  return {
    longestRunS: quantile(before.map((cycle) => cycle[1]), 0.95) ?? 0,
    longestRestS: upperRest(before.map((cycle) => cycle[2])),
    startKPa: starts.length >= ENOUGH ? (median(starts) ?? null) : null,
    stopKPa: stops.length >= ENOUGH ? (median(stops) ?? null) : null,
  };
}

/**
 * The rest that is outlasted once in about 200: with the few that are remembered the sample's own 99.5 % quantile is its
 * longest value, so the logarithms' normal quantile is taken where it is longer.
 */
function upperRest(rests: readonly number[]): number {
  const logs = rests.map((rest) => Math.log(rest));
  const mean = logs.reduce((sum, log) => sum + log, 0) / logs.length;
  const sd = Math.sqrt(logs.reduce((sum, log) => sum + (log - mean) ** 2, 0) / Math.max(1, logs.length - 1));
  return Math.max(quantile(rests, 0.995) ?? 0, Math.exp(mean + 2.576 * sd));
}
