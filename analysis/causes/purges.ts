import type { Entry } from '../../shared/entry.ts';
import { DAY_MS } from '../../shared/time.ts';

/** After the piping was filled, it is purged for days: more is drawn, and it is no leak (design, section 6). Common practice, no source. */
export const PURGE_MS = 6 * DAY_MS;

/** Work that lets the piping down or vents it, so that it is filled and purged afterwards. */
export function isPurging(entry: Entry): boolean {
  return entry.kind === 'trip-test' || entry.kind === 'purge';
}

/** Whether something that was logged draws more than usual at this time or has done so of late. */
export function purgedAt(entries: readonly Entry[], atMs: number): boolean {
  return entries.some((entry) => isPurging(entry) && Date.parse(entry.finishedAt ?? entry.startedAt) > atMs - PURGE_MS);
}

/** Whether such work fell into this time, or had just ended before it: what was drawn then is no measure. */
export function purgedBetween(entries: readonly Entry[], fromMs: number, toMs: number): boolean {
  return entries.some((entry) => isPurging(entry) && Date.parse(entry.startedAt) < toMs && Date.parse(entry.finishedAt ?? entry.startedAt) > fromMs - PURGE_MS);
}
