import type { GeneratorRecord } from '../../shared/registry.ts';

const DAY_MS = 86_400_000;
/** Days of running whose mean is the present rate: two weeks, so that week-ends count as they come. */
const RATE_DAYS = 14;

export type ServiceQuestion = {
  readonly every: GeneratorRecord['serviceEvery'];
  /** The last service, or since when the elements are fitted, or the commissioning. */
  readonly sinceMs: number;
  /** Days of running, oldest first; those before `sinceMs` are left out, one that it cuts counts by its part. */
  readonly days: readonly { readonly startMs: number; readonly endMs: number; readonly runS: number; readonly coveredS: number }[];
  readonly nowMs: number;
};

export type ServiceDue = {
  /** The earlier of the two, even when it is past. */
  readonly dueMs: number;
  readonly because: 'days' | 'run-hours';
  readonly byDaysMs: number | null;
  /** null where no hours are agreed or it doesn't run. */
  readonly byRunHoursMs: number | null;
  /** Hours run since, days without data counted at the mean rate of the others; null where no day is known. */
  readonly runHours: number | null;
};

/**
 * When service is due: by days since the last, or by running hours at the present daily rate, whichever is first.
 *
 * This is the agreement, not the condition. Hours within days that were partly heard are scaled up to the whole day, for what wasn't
 * heard most likely ran as the rest did. `undefined` where neither days nor hours are agreed.
 *
 * @throws {RangeError} if `sinceMs` or `nowMs` isn't finite.
 */
export function serviceDue({ every, sinceMs, days, nowMs }: ServiceQuestion): ServiceDue | undefined {
  if (!Number.isFinite(sinceMs) || !Number.isFinite(nowMs)) throw new RangeError(`Cannot say when service is due as both times must be finite: current values are ${sinceMs} and ${nowMs}`);
  const byDaysMs = every.days === undefined ? null : sinceMs + every.days * DAY_MS;
  const known = days.filter((day) => day.coveredS > 0 && day.endMs > sinceMs && day.startMs < nowMs);
  const since = runningSince(known, sinceMs, nowMs);
  const byRunHoursMs = every.runHours === undefined || since === undefined ? null : hoursDueMs(known, since, every.runHours, sinceMs, nowMs);
  const runHours = since === undefined ? null : since.hours;
  if (byDaysMs === null && byRunHoursMs === null) return undefined;
  return byRunHoursMs !== null && (byDaysMs === null || byRunHoursMs < byDaysMs)
    ? { dueMs: byRunHoursMs, because: 'run-hours', byDaysMs, byRunHoursMs, runHours }
    : { dueMs: byDaysMs as number, because: 'days', byDaysMs, byRunHoursMs, runHours };
}

type Known = ServiceQuestion['days'];
type Running = { readonly hours: number; readonly meanRatio: number; readonly presentRatio: number };

/** Share of a day spent running, by what was heard of it. */
const ratioOf = (days: Known): number => days.reduce((sum, day) => sum + day.runS, 0) / days.reduce((sum, day) => sum + day.coveredS, 0);

/** The part of a day that lies between two times, ms. */
const partMs = (day: Known[number], fromMs: number, toMs: number): number => Math.max(0, Math.min(day.endMs, toMs) - Math.max(day.startMs, fromMs));

function runningSince(known: Known, sinceMs: number, nowMs: number): Running | undefined {
  if (known.length === 0) return undefined;
  const meanRatio = ratioOf(known);
  let [heardMs, runMs] = [0, 0];
  for (const day of known) {
    const part = partMs(day, sinceMs, nowMs);
    heardMs += part;
    runMs += (part * day.runS) / day.coveredS;
  }
  const silentMs = Math.max(0, nowMs - sinceMs - heardMs);
  const recent = known.filter((day) => day.endMs > nowMs - RATE_DAYS * DAY_MS);
  return { hours: (runMs + silentMs * meanRatio) / 3_600_000, meanRatio, presentRatio: ratioOf(recent.length > 0 ? recent : known.slice(-RATE_DAYS)) };
}

/** When the hours are, or were, reached; null if it doesn't run. */
function hoursDueMs(known: Known, since: Running, agreedHours: number, sinceMs: number, nowMs: number): number | null {
  const leftHours = agreedHours - since.hours;
  if (leftHours > 0) return since.presentRatio > 0 ? nowMs + (leftHours * 3_600_000) / since.presentRatio : null;
  // Already past: walk back from now through the days until what is too much has been taken off.
  let overMs = -leftHours * 3_600_000;
  let atMs = nowMs;
  for (const day of known.toReversed()) {
    const silentMs = Math.max(0, atMs - Math.min(day.endMs, atMs));
    if (silentMs * since.meanRatio >= overMs) break;
    overMs -= silentMs * since.meanRatio;
    atMs = Math.min(day.endMs, atMs);
    const ratio = day.runS / day.coveredS;
    const run = partMs(day, sinceMs, atMs) * ratio;
    if (run >= overMs) return ratio > 0 ? atMs - overMs / ratio : atMs;
    overMs -= run;
    atMs = Math.max(sinceMs, day.startMs);
  }
  return since.meanRatio > 0 ? Math.max(sinceMs, atMs - overMs / since.meanRatio) : atMs;
}
