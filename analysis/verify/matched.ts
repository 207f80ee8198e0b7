import type { Cycle, DayRow, Estimate } from '../../shared/cycle.ts';
import type { BeforeAfter } from '../../shared/review.ts';
import { DAY_MS } from '../../shared/time.ts';

/*
 * Sums over spans before and after a visit, never means of daily ratios: of whole days, or of cycles at the same hours of the day.
 */

export function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

export function mean(values: readonly number[]): number | null {
  return values.length === 0 ? null : sum(values) / values.length;
}

/** Run time of days as Σ run ÷ Σ covered. */
export function dutyOf(days: readonly Pick<DayRow, 'runS' | 'coveredS'>[]): number | null {
  const coveredS = sum(days.map((day) => day.coveredS));
  return coveredS > 0 ? sum(days.map((day) => day.runS)) / coveredS : null;
}

/** A span of whole days. Demand and delivery only of days in the same unit. */
export function spanOfDays(days: readonly DayRow[], unit: DayRow['unit']): BeforeAfter {
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

/** A span of whole cycles; demand and delivery from the tank's slopes where they are known, else relative from run and rest. */
export function spanOfCycles(cycles: readonly Cycle[], days: number): BeforeAfter {
  const runS = sum(cycles.map((cycle) => cycle.runS));
  const restS = sum(cycles.map((cycle) => cycle.restS));
  const sloped = cycles.filter((cycle) => cycle.fallKPaPerMin !== null && cycle.riseKPaPerMin !== null);
  const bySlope = sloped.length > 0 && sloped.length >= cycles.length / 2;
  const fall = bySlope ? sum(sloped.map((cycle) => cycle.fallKPaPerMin! * cycle.restS)) / sum(sloped.map((cycle) => cycle.restS)) : null;
  const rise = bySlope ? sum(sloped.map((cycle) => cycle.riseKPaPerMin! * cycle.runS)) / sum(sloped.map((cycle) => cycle.runS)) : null;
  const n = cycles.length;
  return {
    days,
    dutyRatio: n === 0 ? null : runS / (runS + restS),
    meanRunMin: n === 0 ? null : runS / n / 60,
    meanRestMin: n === 0 ? null : restS / n / 60,
    demand: n === 0 ? null : (fall ?? (n * 60) / restS),
    delivery: n === 0 ? null : fall !== null && rise !== null ? fall + rise : (n * 60) / restS + (n * 60) / runS,
    unit: bySlope ? 'kPa/min' : 'relative',
    elementDropKPa: null,
    nitrogen: null,
  };
}

/** Cycles of earlier days that began at the hours of the day that [fromMs, toMs) covers, day by day, newest day last. */
export function atSameHours(cycles: readonly Cycle[], fromMs: number, toMs: number, daysBack: number): Cycle[][] {
  const found: Cycle[][] = [];
  for (let back = daysBack; back >= 1; back -= 1) {
    const some = cycles.filter((cycle) => cycle.startMs >= fromMs - back * DAY_MS && cycle.startMs < Math.min(toMs, fromMs + DAY_MS) - back * DAY_MS);
    if (some.length > 0) found.push(some);
  }
  return found;
}
