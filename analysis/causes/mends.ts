import type { Entry } from '../../shared/entry.ts';
import { ELEMENTS, type Part } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { OnsetMs } from './condition.ts';

/** The elements between the two gauges whose difference is the drop: the intake's is before both. */
export const ELEMENTS_IN_DROP = ELEMENTS.filter((part) => part !== 'intake-element');
export const ELEMENTS_WITH_DROP: ReadonlySet<string> = new Set(ELEMENTS_IN_DROP);

/** Work on these takes demand away by right. */
export const MENDS_DEMAND: ReadonlySet<Part> = new Set(['o-rings', 'check-valve', 'regulator', 'drain']);

/** A gauge that begins to read otherwise so soon after a service was set right, or exchanged, by it. */
const SET_RIGHT_MS = 2 * DAY_MS;

/** Whether a service had just ended, or was under way, when a gauge began to read otherwise: then it lied before. */
export function setRightAt(entries: readonly Entry[], sinceMs: number): boolean {
  return entries.some((entry) => entry.kind === 'service' && Date.parse(entry.startedAt) < sinceMs + DAY_MS && Date.parse(entry.finishedAt ?? entry.startedAt) > sinceMs - SET_RIGHT_MS);
}

/** Onset within a day and a half of a visit's end counts as after it. */
const AFTER_VISIT_MS = 1.5 * DAY_MS;

/** A drift before it draws the likely onset to itself, by days at most. Common practice, no source. */
const DRAWN_MS = 4 * DAY_MS;

/** The service near whose end something began: within a day of the likely onset, or within half a day of what its range reaches. `undefined` without one. */
export function visitBefore(entries: readonly Entry[], { likelyMs, latestMs }: OnsetMs): Entry | undefined {
  return entries.findLast((entry) => {
    const at = Date.parse(entry.finishedAt ?? entry.startedAt);
    return entry.kind === 'service' && likelyMs !== null && at >= likelyMs - AFTER_VISIT_MS && at <= Math.max(likelyMs + DAY_MS, Math.min((latestMs ?? likelyMs) + DAY_MS / 2, likelyMs + DRAWN_MS));
  });
}

/** Whether an entry is a test, a purge or an impairment: work in which gas is let out, or the system stands still, by intent. */
export function isTest({ kind }: Entry): boolean {
  return kind !== 'service' && kind !== 'set-point';
}

/** Whether a person logged that the controller's band was changed, by itself or at a service. */
export function isSetPoint(entry: Entry): boolean {
  return entry.kind === 'set-point' || 'cutInKPa' in entry.adjusted || 'cutOutKPa' in entry.adjusted;
}
