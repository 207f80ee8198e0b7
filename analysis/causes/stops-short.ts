import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { HOUR_MS } from '../../shared/time.ts';
import { mad, median, quantile } from '../change/robust.ts';
import { SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { isUsableDay } from './day-series.ts';
import { kPaText } from './evidence.ts';
import type { RecentCycle, RecentCycles } from './recent-cycles.ts';
import { isSetPoint, isTest } from './mends.ts';

/*
 * A run that ends before the switch says so: a trip by heat, which cools and goes on before the tank has fallen, a pressure
 * switch, a timer. By single cycles where a run state is sent, by days where starts and hours are only counted.
 */

/** A stop so far below the usual one is short, kPa, and so is one after which the compressor starts again with this share of the band left. */
export const SHORT_KPA = SWITCH_TOLERANCE_KPA + 10;
const LEFT_SHARE = 0.25;
/** Two short stops in a row, or one of the last three that the compressor went on from twice: a cut of the mains stops one run, not two. */
const LOOKED_BACK = 3;
/**
 * One run that stops so far below the usual stop, in kPa and in standard deviations of the stops before, and goes on after minutes, before the tank has
 * fallen to its start: a motor's protector cools for so long, in s, and a start that was due by then is a fraction of the usual rest. Common practice, no source.
 */
const TRIP_KPA = 10;
const TRIP_SD = 5;
const COOLS_S = [150, 2700] as const;
const COOLED_SHARE = 0.25;
/** What the tank may lose meanwhile: so many times what it loses in a usual rest, and so much, kPa. */
const FALLS_TIMES = 3;
const FALLS_LEAST_KPA = 8;
/** ln of a ratio that is none of a short stop, and within which two ratios are the same. Common practice, no source. */
const SCALED = -0.15;
const SAME_RATIO = 0.02;
/** Where a larger share of the cycles before were as short, messages get lost, or somebody draws so. Common practice, no source. */
export const HABIT = 0.04;
/** A run raises its tank. */
export const LEAST_RISE_KPA = 3;
/** Cycles that say how long rests are. */
export const LEAST_BEFORE = 8;
/** People who work on it stop it and start it. */
const DISTURBED_MS = 2 * HOUR_MS;

/** Whether the last runs stopped short, of what was usual in the last weeks since the set point was last changed. `wentOnKPa`: where the newest run began, which may have ended since. `saidLate`: starts and stops are read by the clock, so that no start says by its pressure that it came early. */
export function stopsShort(cycles: RecentCycles, entries: readonly Entry[], wentOnKPa: number | null, saidLate: boolean): Condition[] {
  const tripped = saidLate ? undefined : trippedOnce(cycles, entries, wentOnKPa);
  if (tripped !== undefined) return [tripped];
  const last = cycles.last.slice(-LOOKED_BACK);
  if (last.length < LOOKED_BACK || last.some((cycle) => cycle[3] === null || cycle[4] === null)) return [];
  // What lets gas out or sweeps the piping is drawn in runs and in rests.
  if (isWorkedOn(entries.filter(isTest), last[0]![0], last.at(-1)![0])) return [];
  // The middle of the weeks is no higher than the highest: that mostly says enough, and the middle need not be found at each tick.
  const highestKPa = Math.max(...[cycles.usual, ...cycles.weeks].map((one) => one?.stopKPa ?? -Infinity));
  if (last.every((cycle) => cycle[4]! >= highestKPa - SWITCH_TOLERANCE_KPA)) return [];
  const usual = usualBand(cycles, entries);
  if (usual === undefined) return [];
  const { startKPa, stopKPa } = usual;
  const bandKPa = stopKPa - startKPa;
  const isShort = ([, , , start, stop]: RecentCycle): boolean => stop! < stopKPa - SHORT_KPA && stop! > start! + 10 && (start! > startKPa - SWITCH_TOLERANCE_KPA || stop! - start! < 0.7 * bandKPa);
  const isCut = ([, , , , stop]: RecentCycle): boolean => stop! < stopKPa - Math.max(SWITCH_TOLERANCE_KPA, LEFT_SHARE * bandKPa);
  const isEarly = ([, , , start]: RecentCycle): boolean => start! > earlyKPa(usual);
  // A gauge whose scale changes moves starts and stops at once by the same ratio; the gauges are looked at elsewhere.
  const isScaled = ([, , , start, stop]: RecentCycle): boolean => Math.log(stop! / stopKPa) < SCALED && Math.abs(Math.log((stop! * startKPa) / (stopKPa * start!))) < SAME_RATIO;
  const [first, ...rest] = last;
  const lastRight = cycles.last.findLast((cycle) => cycle[3] !== null && cycle[4] !== null && !isScaled(cycle));
  if (rest.every(isScaled) && (lastRight === undefined || rest.every(([, , , , stop]) => stop! < startKPa / 2) || Math.abs(lastRight[3]! - startKPa) < SWITCH_TOLERANCE_KPA)) return [];
  // A gauge that stands still shows no run at all.
  if (rest.every(([, , , start, stop]) => stop! - start! < LEAST_RISE_KPA)) return [];
  if (areDrawnFrom(last, usual, cycles)) return [];
  const goesOn = !saidLate && isCut(first!) && rest.every(isEarly);
  if (!goesOn && !rest.every(isShort)) return [];
  const says = goesOn
    ? `A run stopped at ${kPaText(first![4]!)}, below the usual ${kPaText(stopKPa)}, and the compressor went on from ${kPaText(rest[0]![3]!)} and ${kPaText(rest[1]![3]!)}; it usually waits until ${kPaText(startKPa)}.`
    : `The last two runs stopped at ${kPaText(rest[0]![4]!)} and ${kPaText(rest[1]![4]!)} after rising by ${kPaText(rest[0]![4]! - rest[0]![3]!)} and ${kPaText(rest[1]![4]! - rest[1]![3]!)}; the usual stop is ${kPaText(stopKPa)}, the usual start ${kPaText(startKPa)}.`;
  return [mixedCondition('running', [['stops-short', 0.9], ['set-point-changed', 0.1]], first![0], [{ says, for: 'stops-short', weight: 2.5 }])];
}

/** The last run stopped short and the compressor went on minutes later: known as it goes on. */
function trippedOnce(cycles: RecentCycles, entries: readonly Entry[], wentOnKPa: number | null): Condition | undefined {
  const { last, usual } = cycles;
  const [startMs, runS, restS, startKPa, stopKPa] = last.at(-1) ?? [0, 0, 0, null, null];
  if (usual === null || wentOnKPa === null || startKPa === null || stopKPa === null || restS < COOLS_S[0] || restS > COOLS_S[1] || stopKPa < startKPa + 10) return undefined;
  const band = usualBand(cycles, entries);
  if (band === undefined || wentOnKPa < earlyKPa(band) || stopKPa > band.stopKPa - TRIP_KPA || Math.abs(startKPa - band.startKPa) > SWITCH_TOLERANCE_KPA) return undefined;
  const before = last.slice(0, -1);
  const stops = before.flatMap((cycle) => cycle[4] ?? []);
  if (stopKPa > band.stopKPa - TRIP_SD * (mad(stops, band.stopKPa) ?? 0)) return undefined;
  if (before.length < LEAST_BEFORE || restS > COOLED_SHARE * median(before.map((cycle) => cycle[2]))!) return undefined;
  if (fallsFast(stopKPa - wentOnKPa, restS, band, median(before.map((cycle) => cycle[2]))!)) return undefined;
  const endMs = startMs + 1000 * (runS + restS);
  if (isWorkedOn(entries, startMs, endMs)) return undefined;
  const says = `A run stopped at ${kPaText(stopKPa)}, below the usual ${kPaText(band.stopKPa)}, and the compressor went on ${Math.round(restS / 60)} min later from ${kPaText(wentOnKPa)}; it usually waits until ${kPaText(band.startKPa)}.`;
  return mixedCondition('running', [['stops-short', 0.9], ['set-point-changed', 0.1]], startMs, [{ says, for: 'stops-short', weight: 2 }]);
}

/** A tank that falls much faster than in a usual rest is drawn from: its stop is seen too low, and it may start by right. */
function fallsFast(fellKPa: number, restS: number, { startKPa, stopKPa }: Band, usualRestS: number): boolean {
  return fellKPa > (FALLS_TIMES * (stopKPa - startKPa) * restS) / usualRestS + FALLS_LEAST_KPA;
}

/** Each rest between these runs is one in which much more is drawn than usual: as while piping is filled, or somebody uses gas. */
function areDrawnFrom(last: readonly RecentCycle[], band: Band, cycles: RecentCycles): boolean {
  const usualRestS = median(cycles.last.slice(0, -LOOKED_BACK).map((cycle) => cycle[2]));
  return usualRestS !== undefined && last.every(([, , restS, , stopKPa], index) => index === last.length - 1 || fallsFast(stopKPa! - last[index + 1]![3]!, restS, band, usualRestS));
}

type Band = { readonly startKPa: number; readonly stopKPa: number };

/** Above this a start comes before its time. */
function earlyKPa({ startKPa, stopKPa }: Band): number {
  return startKPa + Math.max(SWITCH_TOLERANCE_KPA, LEFT_SHARE * (stopKPa - startKPa));
}

/** Whether somebody worked on it then, or shortly before. */
export function isWorkedOn(entries: readonly Entry[], fromMs: number, toMs: number): boolean {
  return entries.some((entry) => Date.parse(entry.startedAt) < toMs && Date.parse(entry.finishedAt ?? entry.startedAt) > fromMs - DISTURBED_MS);
}

/** Where runs usually start and stop: by the weeks since the set point was last logged, else by the last cycles. */
export function usualBand({ usual, weeks }: RecentCycles, entries: readonly Entry[]): Band | undefined {
  const setMs = lastSetMs(entries);
  const since = weeks.filter((week) => week.startMs > setMs);
  const startKPa = median(since.flatMap((week) => week.startKPa ?? [])) ?? usual?.startKPa ?? null;
  const stopKPa = median(since.flatMap((week) => week.stopKPa ?? [])) ?? usual?.stopKPa ?? null;
  return startKPa === null || stopKPa === null || stopKPa <= startKPa ? undefined : { startKPa, stopKPa };
}

/** When a set point was logged last, ms; 0 without one. */
export function lastSetMs(entries: readonly Entry[]): number {
  return Math.max(0, ...entries.filter(isSetPoint).map((entry) => Date.parse(entry.startedAt)));
}

/** Days that are looked at; of so many starts a stretch of days is one of those that say what is usual, and that it takes. */
const USUAL_DAYS = 42;
const LEAST_STARTS = 3;
const LEAST_USUAL = 10;
const JUDGED = 2;
/** Once two of them said so it holds for so many more while they stay shorter. */
const HOLDS = 12;
/** Runs of less than this share of the usual, with so many times the starts, at about the same run time. Common practice, no source. */
const RUN_SHARE = 0.7;
const STARTS_TIMES = 1.35;
const SAME_DUTY = 0.25;

/**
 * By days, or by as many of them as have three starts: the runs are shorter and more by the same factor, and the run time is as
 * it was. What is drawn lengthens runs and shortens rests, what is lost lengthens runs: only a band that is narrower, or cut
 * short, shortens both.
 */
export function shorterRuns(rows: readonly DayRow[], sinceMs: number): Condition | undefined {
  const counted = stretchesOf(rows.filter((row) => row.startMs >= sinceMs && isUsableDay(row) && row.dutyRatio !== null && row.holdingRatio > 0.9));
  for (let end = counted.length; end > Math.max(0, counted.length - HOLDS); end -= 1) {
    const before = counted.slice(0, Math.max(0, end - JUDGED));
    if (before.length < LEAST_USUAL) return undefined;
    const since = counted.slice(end - JUDGED);
    if (!areShorter(since.slice(0, JUDGED), before) || !stayShorter(since, before)) continue;
    const says = `Runs last ${minutes(since.map(lengthOf))} min instead of ${minutes(before.map(lengthOf))} min, and there are ${(median(since.map(perHour))! / median(before.map(perHour))!).toFixed(1)} times as many; the run time is as it was.`;
    return mixedCondition('running', [['stops-short', 0.75], ['set-point-changed', 0.25]], since[0]!.startMs, [{ says, for: 'stops-short', weight: 2 }]);
  }
  return undefined;
}

const lengthOf = (row: Stretch): number => row.runS / row.starts;
const perHour = (row: Stretch): number => (3600 * row.starts) / row.coveredS;

/** Each of them is shorter and begins earlier. Where a day has few runs its run time goes up and down by one of them, so that they are taken together. */
function areShorter(some: readonly Stretch[], before: readonly Stretch[]): boolean {
  const least = Math.min(RUN_SHARE * median(before.map(lengthOf))!, quantile(before.map(lengthOf), 0.05)!);
  const usualStarts = median(before.map(perHour))!;
  return some.every((row) => lengthOf(row) < least && perHour(row) > STARTS_TIMES * usualStarts) && isSameDuty(some, before);
}

/** Taken together those since are still shorter by half of what it takes. */
function stayShorter(since: readonly Stretch[], before: readonly Stretch[]): boolean {
  return median(since.slice(-JUDGED).map(lengthOf))! < (1 - (1 - RUN_SHARE) / 2) * median(before.map(lengthOf))! && isSameDuty(since, before);
}

function isSameDuty(some: readonly Stretch[], before: readonly Stretch[]): boolean {
  return Math.abs(Math.log(sumOf(some, 'runS') / sumOf(some, 'coveredS') / median(before.map((row) => row.runS / row.coveredS))!)) < SAME_DUTY;
}

type Stretch = Pick<DayRow, 'startMs' | 'runS' | 'starts' | 'coveredS'>;

const sumOf = (some: readonly Stretch[], name: 'runS' | 'starts' | 'coveredS'): number => some.reduce((sum, one) => sum + one[name], 0);

/** Days, the last ones first taken together until each has its starts, in order of time. */
function stretchesOf(rows: readonly DayRow[]): Stretch[] {
  const stretches: Stretch[] = [];
  let open: Stretch[] = [];
  for (let index = rows.length - 1; index >= 0 && stretches.length < USUAL_DAYS; index -= 1) {
    open.unshift(rows[index]!);
    if (sumOf(open, 'starts') < LEAST_STARTS) continue;
    stretches.unshift({ startMs: open[0]!.startMs, runS: sumOf(open, 'runS'), starts: sumOf(open, 'starts'), coveredS: sumOf(open, 'coveredS') });
    open = [];
  }
  return stretches;
}

const minutes = (seconds: readonly number[]): string => (median(seconds)! / 60).toFixed(1);
