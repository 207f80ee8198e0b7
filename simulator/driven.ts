import type { Departures } from './plant/departures.ts';

/** A span of days, [fromDay, toDay), in which the plant is led; `silent`: nothing was received then. */
export type DrivenSpan = { readonly fromDay: number; readonly toDay: number; readonly wander: number; readonly flowLoss: number; readonly silent: boolean };
/** In order and without overlap. */
export type Driven = readonly DrivenSpan[];

/**
 * Lay what a stored day says over a plant: how much its piping loses, as a factor on its holes, and how much less its
 * compressor gives. Before the first span and after the last one that is nearest holds. True if something departs.
 */
export function layDriven(dep: Departures, driven: Driven, day: number): boolean {
  const span = spanAt(driven, day);
  if (span === undefined) return false;
  dep.wander = span.wander;
  dep.flowLoss = span.flowLoss;
  if (span.silent) dep.silent = true;
  return true;
}

function spanAt(driven: Driven, day: number): DrivenSpan | undefined {
  let low = 0;
  let high = driven.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (driven[middle]!.fromDay <= day) low = middle;
    else high = middle - 1;
  }
  return driven[low];
}
