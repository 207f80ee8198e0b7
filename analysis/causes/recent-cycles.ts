import type { Cycle } from '../../shared/cycle.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median, quantile } from '../change/robust.ts';

export type RecentCycle = readonly [startMs: number, runS: number, restS: number, startKPa: number | null, stopKPa: number | null];
/** The last whole cycles of a generator and what is usual of them; plain JSON. */
export type RecentCycles = {
  last: RecentCycle[];
  seen: number;
  /** What the weeks before this one were like, the newest last. */
  weeks: CycleWeek[];
  /** Worked out anew at every fourth cycle, but for the last three, which may already be a fault's. */
  usual: UsualCycle | null;
};

/** A week's middle ln of what is drawn and what is made, by the times of its last cycles, and where these started and stopped. */
export type CycleWeek = { readonly startMs: number; readonly demand: number; readonly delivery: number; readonly bandKPa: number | null; readonly startKPa: number | null; readonly stopKPa: number | null; /** What all but one run in twenty last; absent in what earlier builds saved. */ readonly shortRunS?: number };

/** What all but so many runs last falls by no more than this from week to week: a week of runs that are cut short doesn't make them usual. */
const SHORT_RUNS = 0.05;
const FALLS = 0.9;

const KEPT = 60;
export const WEEK_MS = 7 * DAY_MS;
const WEEKS_KEPT = 8;
/** Fewer whole cycles than this are no measure of what is normal. */
const ENOUGH = 8;
const BUT_LAST = 3;
const ANEW_EVERY = 4;

export function startRecentCycles(): RecentCycles {
  return { last: [], seen: 0, weeks: [], usual: null };
}

/** Remember a whole cycle; one cut by a gap says nothing about normal lengths. */
export function rememberCycle(recent: RecentCycles, cycle: Cycle): void {
  if (cycle.cut || cycle.restS <= 0) return;
  rememberWeek(recent, cycle.startMs);
  recent.last.push([cycle.startMs, Math.round(cycle.runS), Math.round(cycle.restS), cycle.startKPa, cycle.stopKPa]);
  if (recent.last.length > KEPT) recent.last.shift();
  recent.seen += 1;
  if (recent.seen % ANEW_EVERY === 0 || recent.usual === null) recent.usual = usualOf(recent.last, recent.weeks);
}

/** When a cycle begins a new week, the one before it is summed up. */
function rememberWeek(recent: RecentCycles, startMs: number): void {
  const weekMs = weekOf(recent.last.at(-1)?.[0] ?? startMs);
  if (weekMs === weekOf(startMs)) return;
  const cycles = recent.last.filter((cycle) => weekOf(cycle[0]) === weekMs);
  if (cycles.length < ENOUGH) return;
  const middle = (of: (cycle: RecentCycle) => number | null): number | null => {
    const values = cycles.flatMap((cycle) => of(cycle) ?? []);
    return values.length < ENOUGH ? null : median(values)!;
  };
  const shortRunS = Math.max(quantile(cycles.map((cycle) => cycle[1]), SHORT_RUNS)!, FALLS * (recent.weeks.at(-1)?.shortRunS ?? 0));
  recent.weeks.push({ startMs: weekMs, demand: rounded(median(cycles.map(drawn))!), delivery: rounded(median(cycles.map(made))!), bandKPa: middle(bandKPa), startKPa: middle((cycle) => cycle[3]), stopKPa: middle((cycle) => cycle[4]), shortRunS: Math.round(shortRunS) });
  if (recent.weeks.length > WEEKS_KEPT) recent.weeks.shift();
}

const MIDDLES = new WeakMap<RecentCycles, { readonly seen: number; readonly runS: number | undefined; readonly restS: number | undefined }>();

/** The middle run and rest of the last cycles, s; `undefined` of none. Worked out once a cycle, as it is asked at every tick. */
export function middleTimes(recent: RecentCycles): { readonly runS: number | undefined; readonly restS: number | undefined } {
  const known = MIDDLES.get(recent);
  if (known?.seen === recent.seen) return known;
  const middles = { seen: recent.seen, runS: median(recent.last.map((cycle) => cycle[1])), restS: median(recent.last.map((cycle) => cycle[2])) };
  MIDDLES.set(recent, middles);
  return middles;
}

const weekOf = (atMs: number): number => Math.floor(atMs / WEEK_MS) * WEEK_MS;
const rounded = (value: number): number => Math.round(value * 1000) / 1000;

/** ln of what is drawn, and of what is made, in bands a second: demand goes with 1/rest, delivery with 1/run + 1/rest (design, section 6). */
export const drawn = (cycle: RecentCycle): number => -Math.log(cycle[2]);
export const made = (cycle: RecentCycle): number => Math.log(1 / cycle[1] + 1 / cycle[2]);

/** What the tank's pressure rose by in the run, where both ends were seen. */
export function bandKPa([, , , startKPa, stopKPa]: RecentCycle): number | null {
  return startKPa === null || stopKPa === null || stopKPa <= startKPa ? null : stopKPa - startKPa;
}

/** How bad a cycle and a week are in demand or delivery: ln of what is drawn, or of what is made with the sign turned. In kPa where `banded`, which asks that each have a band; else in bands. */
export function badness(series: 'demand' | 'delivery', banded: boolean): { readonly ofCycle: (cycle: RecentCycle) => number; readonly ofWeek: (week: CycleWeek) => number } {
  const worse = series === 'demand' ? 1 : -1;
  const perBand = (kPa: number | null): number => (banded ? Math.log(kPa!) : 0);
  const inBands = series === 'demand' ? drawn : made;
  return { ofCycle: (cycle) => worse * (inBands(cycle) + perBand(bandKPa(cycle))), ofWeek: (week) => worse * (week[series] + perBand(week.bandKPa)) };
}

/** Lengths and pressures that are usual here. */
export type UsualCycle = { readonly longestRunS: number; readonly longestRestS: number; readonly startKPa: number | null; readonly stopKPa: number | null };

/** A rest that ended in a start so far below the usual one, and below those of the weeks before, is no usual rest: it didn't start when it should have. */
const LATE_KPA = 20;

function usualOf(last: readonly RecentCycle[], weeks: readonly CycleWeek[]): UsualCycle | null {
  const before = last.slice(0, -BUT_LAST);
  if (before.length < ENOUGH) return null;
  const starts = before.flatMap((cycle) => (cycle[3] === null ? [] : [cycle[3]]));
  const startKPa = starts.length >= ENOUGH ? (median(starts) ?? null) : null;
  // Where runs are cut short most starts come early.
  const lowestKPa = Math.min(startKPa ?? -Infinity, ...weeks.flatMap((week) => week.startKPa ?? []));
  const inTime = before.filter((_, index) => (last[index + 1]![3] ?? Infinity) > lowestKPa - LATE_KPA);
  const stops = before.flatMap((cycle) => (cycle[4] === null ? [] : [cycle[4]]));
  return {
    longestRunS: quantile(before.map((cycle) => cycle[1]), 0.95) ?? 0,
    longestRestS: upperRest((inTime.length < ENOUGH ? before : inTime).map((cycle) => cycle[2])),
    startKPa,
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
