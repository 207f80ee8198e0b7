import type { DayRow, Estimate } from '../../shared/cycle.ts';

/** Days looked at on each side of a visit, and how many of them are the least that can be compared; our choice. */
const WINDOW_MS = 28 * 86_400_000;
const LEAST_DAYS = 3;
/** Two days are alike when their room temperatures differ by at most this, K: beyond it, air and oil alone change what is delivered. */
const ALIKE_K = 5;
const QUARTER_MS = 6 * 3_600_000;

export type Matched = { readonly before: number; readonly after: number; /** after/before − 1, and the range of two standard errors. */ readonly change: number; readonly low: number; readonly high: number };
export type MatchedFigures = {
  readonly daysBefore: number;
  readonly daysAfter: number;
  /** Hours after the visit that have a like before it: the same hours of the day, and the room within 5 K. */
  readonly hoursMatched: number;
  readonly temperature: 'matched' | 'partly sent' | 'not sent';
  readonly unit: DayRow['unit'];
  readonly dutyRatio: Matched | null;
  readonly demand: Matched | null;
  readonly delivery: Matched | null;
  readonly elementDropKPa: { readonly before: number; readonly after: number } | null;
  readonly nitrogenPercent: { readonly before: number; readonly after: number } | null;
};
export type NoFigures = { readonly tooFew: string };

/** What is compared: a quarter of a day, or a whole day where quarters were not kept. Values are natural logarithms. */
type Slot = { readonly day: string; readonly hours: number; readonly place: number; readonly unit: DayRow['unit']; readonly roomC: number | null; readonly duty: number | null; readonly demand: number | null; readonly delivery: number | null };
type Pair = { readonly after: Slot; readonly before: readonly Slot[] };

/**
 * Figures before and after a visit at like hours: each quarter of a day after it is held against the same quarter of days before
 * it whose room was within 5 K, so that weather and the hours of the day don't pass for the visit's doing.
 * The day of the visit and days that were mostly filling, purging or under test are left out. `days` in order of time;
 * `fromMs` and `toMs` keep other visits out.
 */
export function matchedFigures(days: readonly DayRow[], visit: { readonly startMs: number; readonly endMs: number }, limits: { readonly fromMs?: number; readonly toMs?: number } = {}): MatchedFigures | NoFigures {
  const usable = days.filter((day) => !day.provisional && day.holdingRatio >= 0.5 && day.coveredS > 0);
  const before = usable.filter((day) => day.endMs <= visit.startMs && day.startMs >= Math.max(visit.startMs - WINDOW_MS, limits.fromMs ?? -Infinity));
  const after = usable.filter((day) => day.startMs >= visit.endMs && day.endMs <= Math.min(visit.endMs + WINDOW_MS, limits.toMs ?? Infinity));
  if (before.length < LEAST_DAYS || after.length < LEAST_DAYS) return { tooFew: `${before.length} whole days before and ${after.length} after; ${LEAST_DAYS} of each are the least that can be compared` };
  const pairs = pairsOf(before.flatMap(slotsOf), after.flatMap(slotsOf));
  const daysAfter = new Set(pairs.map((pair) => pair.after.day)).size;
  const daysBefore = new Set(pairs.flatMap((pair) => pair.before.map((slot) => slot.day))).size;
  if (daysBefore < LEAST_DAYS || daysAfter < LEAST_DAYS) return { tooFew: `${daysBefore} days before are like ${daysAfter} days after in hour and room temperature; ${LEAST_DAYS} of each are the least that can be compared` };
  const known = pairs.filter((pair) => pair.after.roomC !== null && pair.before.every((slot) => slot.roomC !== null)).length;
  const [daysWith, daysAgainst] = [new Set(pairs.map((pair) => pair.after.day)), new Set(pairs.flatMap((pair) => pair.before.map((slot) => slot.day)))];
  const sides = (pick: (day: DayRow) => Estimate): { before: number; after: number } | null => both(weighted(before.filter((day) => daysAgainst.has(day.day)), pick), weighted(after.filter((day) => daysWith.has(day.day)), pick));
  const nitrogen = sides((day) => day.nitrogen);
  return {
    daysBefore, daysAfter, hoursMatched: pairs.reduce((total, pair) => total + pair.after.hours, 0), temperature: known === pairs.length ? 'matched' : known === 0 ? 'not sent' : 'partly sent', unit: after.at(-1)?.unit ?? 'relative',
    dutyRatio: compared(pairs, (slot) => slot.duty), demand: compared(pairs, (slot) => slot.demand), delivery: compared(pairs, (slot) => slot.delivery),
    elementDropKPa: sides((day) => day.elementDropKPa), nitrogenPercent: nitrogen === null ? null : { before: nitrogen.before * 100, after: nitrogen.after * 100 },
  };
}

function slotsOf(day: DayRow): Slot[] {
  const common = { day: day.day, roomC: day.roomC };
  const log = (value: number | null | undefined): number | null => (value === null || value === undefined || value <= 0 ? null : Math.log(value));
  if (day.quarters === undefined || day.quarters.length === 0) return [{ ...common, hours: 24, place: -1, unit: day.unit, duty: log(day.dutyRatio), demand: log(day.demand?.value), delivery: log(day.delivery?.value) }];
  return day.quarters.map((quarter) => ({ ...common, hours: 6, place: Math.round((quarter.startMs - day.startMs) / QUARTER_MS), unit: quarter.unit, duty: quarter.duty[0], demand: quarter.demand[0], delivery: quarter.delivery[0] }));
}

function pairsOf(before: readonly Slot[], after: readonly Slot[]): Pair[] {
  return after.flatMap((slot) => {
    const like = before.filter((other) => other.place === slot.place && other.unit === slot.unit && (slot.roomC === null || other.roomC === null || Math.abs(slot.roomC - other.roomC) <= ALIKE_K));
    return like.length === 0 ? [] : [{ after: slot, before: like }];
  });
}

/** Differences of logarithms, averaged by day first: quarters of one day are no independent witnesses. */
function compared(pairs: readonly Pair[], pick: (slot: Slot) => number | null): Matched | null {
  const byDay = new Map<string, { after: number[]; difference: number[] }>();
  const beforeByDay = new Map<string, number[]>();
  for (const pair of pairs) {
    const is = pick(pair.after);
    const was = pair.before.map(pick).filter((value) => value !== null);
    if (is === null || was.length === 0) continue;
    const day = byDay.get(pair.after.day) ?? { after: [], difference: [] };
    day.after.push(is);
    day.difference.push(is - mean(was));
    byDay.set(pair.after.day, day);
    for (const slot of pair.before) {
      const value = pick(slot);
      if (value !== null) beforeByDay.set(slot.day, [...(beforeByDay.get(slot.day) ?? []), value]);
    }
  }
  if (byDay.size < LEAST_DAYS || beforeByDay.size < LEAST_DAYS) return null;
  const differences = [...byDay.values()].map((day) => mean(day.difference));
  const difference = mean(differences);
  const error = Math.sqrt(varianceOfMean(differences) + varianceOfMean([...beforeByDay.values()].map(mean)));
  const after = mean([...byDay.values()].map((day) => mean(day.after)));
  return { before: Math.exp(after - difference), after: Math.exp(after), change: Math.expm1(difference), low: Math.expm1(difference - 2 * error), high: Math.expm1(difference + 2 * error) };
}

function weighted(days: readonly DayRow[], pick: (day: DayRow) => Estimate): number | null {
  const known = days.flatMap((day) => {
    const estimate = pick(day);
    return estimate === null || day.runS <= 0 ? [] : [[estimate.value, day.runS] as const];
  });
  const seconds = known.reduce((total, [, weight]) => total + weight, 0);
  return seconds > 0 ? known.reduce((total, [value, weight]) => total + value * weight, 0) / seconds : null;
}

function both(before: number | null, after: number | null): { before: number; after: number } | null {
  return before === null || after === null ? null : { before, after };
}

function mean(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0) / values.length;
}

function varianceOfMean(values: readonly number[]): number {
  const centre = mean(values);
  return values.reduce((total, value) => total + (value - centre) ** 2, 0) / (values.length - 1) / values.length;
}
