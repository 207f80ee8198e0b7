import type { BeforeAfter, GeneratorDetail } from '../../shared/api.ts';
import type { DayRow, Estimate } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';

export type SinceVisit = NonNullable<GeneratorDetail['sinceVisit']>;

/** Days looked at on each side, and how many of them are the least that can be compared. */
const WINDOW_DAYS = 14;
const LEAST_DAYS = 3;
/** A change of run time below a tenth is within what weather does; our choice. */
const WORTH_SAYING = 0.1;

/**
 * Before and after the last finished service visit. The day of the visit itself is left out, and so are days that were
 * mostly filling, purging or under test. `days` in order of time. `null` without a finished visit.
 *
 * The verdict compares run time (Σ run ÷ Σ covered) and asks that the difference is larger than a tenth and than twice
 * its standard error from day to day. It says nothing about a part that was changed in good time.
 */
export function sinceVisit(visits: readonly Entry[], days: readonly DayRow[], nowMs: number): SinceVisit | null {
  const finishedMs = (entry: Entry): number => Date.parse(entry.finishedAt ?? entry.startedAt);
  const visit = visits.filter((entry) => entry.kind === 'service' && finishedMs(entry) <= nowMs).sort((a, b) => finishedMs(b) - finishedMs(a))[0];
  if (visit === undefined) return null;
  const startMs = Date.parse(visit.startedAt);
  const usable = days.filter((day) => day.dutyRatio !== null && day.coveredS > 0 && day.holdingRatio >= 0.5 && !day.provisional);
  const before = usable.filter((day) => day.endMs <= startMs && day.endMs > startMs - WINDOW_DAYS * 86_400_000 - 1).slice(-WINDOW_DAYS);
  const after = usable.filter((day) => day.startMs >= finishedMs(visit)).slice(0, WINDOW_DAYS);
  const unit = after.at(-1)?.unit ?? before.at(-1)?.unit ?? 'relative';
  return { visit: visit.id, visitedAt: new Date(finishedMs(visit)).toISOString(), verdict: verdict(before, after), before: spanOf(before, unit), after: spanOf(after, unit) };
}

function verdict(before: readonly DayRow[], after: readonly DayRow[]): SinceVisit['verdict'] {
  if (before.length < LEAST_DAYS || after.length < LEAST_DAYS) return 'not enough data yet';
  const [was, is] = [dutyOf(before) ?? 0, dutyOf(after) ?? 0];
  const difference = is - was;
  const error = Math.sqrt(varianceOfMean(before) + varianceOfMean(after));
  if (Math.abs(difference) <= 2 * error || Math.abs(difference) <= WORTH_SAYING * was) return 'not improved';
  return difference < 0 ? 'improved' : 'worse';
}

function dutyOf(days: readonly DayRow[]): number | null {
  const coveredS = sum(days.map((day) => day.coveredS));
  return coveredS > 0 ? sum(days.map((day) => day.runS)) / coveredS : null;
}

function varianceOfMean(days: readonly DayRow[]): number {
  const values = days.map((day) => day.dutyRatio ?? 0);
  const mean = sum(values) / values.length;
  return sum(values.map((value) => (value - mean) ** 2)) / (values.length - 1) / values.length;
}

/** A span of days as sums, never as means of daily ratios. Demand and delivery only of days in the same unit. */
export function spanOf(days: readonly DayRow[], unit: DayRow['unit']): BeforeAfter {
  const starts = sum(days.map((day) => day.starts));
  const same = days.filter((day) => day.unit === unit);
  return {
    days: days.length,
    dutyRatio: dutyOf(days),
    meanRunMin: starts > 0 ? sum(days.map((day) => day.runS)) / starts / 60 : null,
    meanRestMin: starts > 0 ? sum(days.map((day) => day.restS)) / starts / 60 : null,
    demand: weighted(same.map((day) => [day.demand, day.restS])),
    delivery: weighted(same.map((day) => [day.delivery, day.runS])),
    unit,
    elementDropKPa: weighted(days.map((day) => [day.elementDropKPa, day.runS])),
    nitrogen: weighted(days.map((day) => [day.nitrogen, day.runS])),
  };
}

/** Mean of what is known, weighted by the seconds that it was measured in. */
function weighted(pairs: readonly (readonly [estimate: Estimate, seconds: number])[]): number | null {
  const known = pairs.flatMap(([estimate, seconds]) => (estimate === null || seconds <= 0 ? [] : [[estimate.value, seconds] as const]));
  const seconds = sum(known.map(([, weight]) => weight));
  return seconds > 0 ? sum(known.map(([value, weight]) => value * weight)) / seconds : null;
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
