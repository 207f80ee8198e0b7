import type { Entry } from '../../shared/entry.ts';
import type { Cause } from '../../shared/finding.ts';
import { HOUR_MS } from '../../shared/time.ts';
import { mad, median } from '../change/robust.ts';
import { SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { kPaText } from './evidence.ts';
import type { RecentCycle, RecentCycles } from './recent-cycles.ts';
import { HABIT, isWorkedOn, lastSetMs, LEAST_BEFORE, LEAST_RISE_KPA, SHORT_KPA, usualBand } from './stops-short.ts';

/*
 * Runs that are cut short at different pressures and rest until the tank is at its start again: a protector, a relay or a timer. Where the
 * pressure at each stop is sent, two short stops say so (`stops-short.ts`); where it isn't, several cycles do.
 */

/** Cycles that are looked at where only their lengths tell, and how many of them must be short. */
const UNEVEN_OF = 6;
const UNEVEN_LEAST = 3;
/** Once told it stands while one of so many is, or two of more. */
const TOLD_OF = 20;
const TOLD_LEAST = 2;
/** Or so many of the last few, the newest among them. */
const UNEVEN_NOW_OF = 4;
const UNEVEN_NOW = 2;
/** A run that lasts less than this share of the shortest usual one, with a rest after it that is shorter by as much, within this factor; of those that are short one is so many times another, or a whole one came between: a band that was set is even. Common practice, no source. */
const SHORT_RUN = 0.8;
const IN_PROPORTION = 2;
/** After a whole run, a rest under this share of the middle one ended in a start before its time. Common practice, no source. */
const EARLY_REST = 0.85;
const UNEVEN = 1.15;
/** Whoever works on it runs it for a while, and logs that later. */
const UNEVEN_MS = 2 * HOUR_MS;
/** A stop within this of the usual one is whole, whatever its run lasted, kPa. */
const WHOLE_KPA = 8;

/** By the times of runs and rests, where stops aren't seen: runs that are cut short at different pressures, and rests that are short by as much. What is drawn lengthens runs, and what is made shortens them alike and leaves rests as they were. `told`: that runs are cut short was said, and goes on until hardly any of the last is. */
export function unevenRuns(cycles: RecentCycles, entries: readonly Entry[], told: boolean): Condition | undefined {
  const { weeks } = cycles;
  const last = told ? leftAlone(cycles.last, entries) : cycles.last;
  const of = told ? TOLD_OF : UNEVEN_OF;
  const newest = last.slice(-of);
  const setMs = lastSetMs(entries);
  const shortestS = median(weeks.flatMap((week) => (week.startMs > setMs ? (week.shortRunS ?? []) : [])));
  const before = last.slice(0, -of);
  if (shortestS === undefined || before.length < LEAST_BEFORE || !newest.some((cycle) => cycle[1] < SHORT_RUN * shortestS)) return undefined;
  const usualKPa = usualBand(cycles, entries)?.stopKPa;
  const times = median(before.map((cycle) => cycle[2] / cycle[1]))!;
  const usualS = median(before.map((cycle) => cycle[2]))!;
  // A burst that calls for a start before its time leaves less to fill.
  const early = new Set(last.filter((_, index) => index > 0 && last[index - 1]![1] >= shortestS && last[index - 1]![2] < EARLY_REST * usualS));
  const isCutShort = ([, runS, restS, , stopKPa]: RecentCycle): boolean => runS < SHORT_RUN * shortestS && Math.abs(Math.log(restS / runS / times)) < Math.log(IN_PROPORTION) && !(stopKPa !== null && usualKPa !== undefined && stopKPa > usualKPa - WHOLE_KPA);
  const isShort = (cycle: RecentCycle): boolean => !early.has(cycle) && isCutShort(cycle);
  const short = newest.filter(isShort);
  if (!told && before.filter(isShort).length > HABIT * before.length) return undefined;
  const isNow = isShort(newest.at(-1)!) && newest.slice(-UNEVEN_NOW_OF).filter(isShort).length >= UNEVEN_NOW;
  if (!isNow && !(told ? goesOn(newest, short) : short.length >= UNEVEN_LEAST)) return undefined;
  const runs = short.map((cycle) => cycle[1]);
  // Stops that are seen and are alike are those of a band that stands elsewhere.
  const seenKPa = short.flatMap((cycle) => cycle[4] ?? []);
  const areAlike = seenKPa.length >= UNEVEN_LEAST && Math.max(...seenKPa) - Math.min(...seenKPa) < UNEVEN_KPA;
  const lastSix = newest.slice(-UNEVEN_OF);
  const isSet = told ? lastSix.every((cycle) => short.includes(cycle)) && (areAlike || isEven(lastSix)) : areAlike;
  if (isSet && !told) return undefined;
  const isUneven = Math.max(...runs) > UNEVEN * Math.min(...runs) || newest.slice(newest.indexOf(short[0]!)).some((cycle) => cycle[1] >= shortestS);
  const [, runS, restS] = short.at(-1)!;
  const endMs = short.at(-1)![0] + 1000 * (runS + restS);
  if (!told && (!isUneven || endMs - short[0]![0] < UNEVEN_MS || isWorkedOn(entries, short[0]![0], endMs))) return undefined;
  const says = `Of the last ${newest.length} runs ${short.length} ended after ${valuesText(runs.map((s) => s / 60), 1)} min, and ${short.length === 1 ? 'the rest after it was' : 'the rests after them were'} shorter by as much; hardly any lasted less than ${(shortestS / 60).toFixed(1)} min in the weeks before. They stop ${isSet ? 'at one pressure' : 'at different pressures'}, before the tank is full.`;
  return cutUnevenly(isSet ? BAND_STANDS_ELSEWHERE : [['stops-short', 0.85], ['set-point-changed', 0.15]], short[0]![0], says);
}

/** What was told goes on: runs that are short by chance are fewer. */
function goesOn(newest: readonly RecentCycle[], short: readonly RecentCycle[]): boolean {
  return short.length >= TOLD_LEAST || newest.slice(-UNEVEN_OF).some((cycle) => short.includes(cycle));
}

/** Runs of a band that was set are as long as one another, within this factor, and none is whole; so are those that a timer cuts. Common practice, no source. */
const EVEN = 1.08;
const BAND_STANDS_ELSEWHERE: readonly (readonly [Cause, number])[] = [['set-point-changed', 0.6], ['stops-short', 0.4]];

function isEven(cycles: readonly RecentCycle[]): boolean {
  const runs = cycles.map((cycle) => cycle[1]);
  return Math.max(...runs) < EVEN * Math.min(...runs);
}

/** Cycles in which nobody worked on it. */
function leftAlone(cycles: readonly RecentCycle[], entries: readonly Entry[]): readonly RecentCycle[] {
  return cycles.filter(([startMs, runS, restS]) => !isWorkedOn(entries, startMs, startMs + 1000 * (runS + restS)));
}

/** What is drawn and made, and where the band stands, is told by whole cycles. */
function cutUnevenly(causes: readonly (readonly [Cause, number])[], sinceMs: number, says: string): Condition {
  return { ...mixedCondition('running', causes, sinceMs, [{ says, for: 'stops-short', weight: 2 }]), hides: ['demand', 'delivery', 'duty', 'set-point'] };
}

/** Cycles that are looked at where the tank alone tells, how many of them must stop short, and by how much: so far, this share of the band, and so many standard deviations. */
const SCATTERED_OF = 6;
const SCATTERED_LEAST = 3;
const SCATTERED_SHARE = 0.25;
const SCATTERED_SD = 6;
const MOST_FAR = 1.4;
/** What short stops of a switch that was turned are within, kPa, where samples are few. Common practice, no source. */
const UNEVEN_KPA = 15;
/** Few samples of a tank see a start within this share of its band. */
const START_SHARE = 0.35;

/** By the tank alone: of the last fillings several ended far below the usual stop, and at different pressures; a switch that was turned stops at one. */
export function scatteredStops(cycles: RecentCycles, entries: readonly Entry[], told: boolean): Condition | undefined {
  const last = told ? leftAlone(cycles.last, entries) : cycles.last;
  const band = usualBand(cycles, entries);
  const of = told ? TOLD_OF : SCATTERED_OF;
  const newest = last.slice(-of);
  const before = last.slice(0, -of).flatMap((cycle) => cycle[4] ?? []);
  // What was just set is learned anew.
  if (cycles.weeks.every((week) => week.startMs <= lastSetMs(entries)) || band === undefined || before.length < LEAST_BEFORE || (!told && newest.some((cycle) => cycle[3] === null || cycle[4] === null))) return undefined;
  const { startKPa, stopKPa } = band;
  const bandKPa = stopKPa - startKPa;
  const farKPa = Math.max(SHORT_KPA, SCATTERED_SHARE * bandKPa);
  // Weeks of short stops are no scatter of whole ones.
  const leastKPa = Math.max(farKPa, Math.min(MOST_FAR * farKPa, SCATTERED_SD * (mad(before.filter((stop) => stop > stopKPa - farKPa)) ?? 0)));
  const isShort = ([, , , start, stop]: RecentCycle): boolean => start !== null && stop !== null && stop < stopKPa - leastKPa && stop > start + LEAST_RISE_KPA && Math.abs(start - startKPa) < Math.max(SWITCH_TOLERANCE_KPA, START_SHARE * bandKPa);
  const short = newest.filter(isShort);
  if (!(told ? goesOn(newest, short) : short.length >= SCATTERED_LEAST)) return undefined;
  const earlier = last.slice(0, -of).filter((cycle) => cycle[3] !== null && cycle[4] !== null);
  if (!told && earlier.filter(isShort).length > HABIT * earlier.length) return undefined;
  const stops = short.map((cycle) => cycle[4]!);
  const isUneven = Math.max(...stops) - Math.min(...stops) > UNEVEN_KPA || newest.slice(newest.indexOf(short[0]!)).some((cycle) => cycle[4] !== null && cycle[4] >= stopKPa - farKPa / 2);
  if (!told && !isUneven) return undefined;
  const endMs = newest.at(-1)![0] + 1000 * (newest.at(-1)![1] + newest.at(-1)![2]);
  if (!told && (endMs - short[0]![0] < UNEVEN_MS || isWorkedOn(entries, short[0]![0], endMs))) return undefined;
  const says = `Of the last ${newest.length} fillings ${short.length} ended at ${valuesText(stops, 0)} kPa; the usual stop is ${kPaText(stopKPa)}, and starts stayed at ${kPaText(startKPa)}.`;
  return cutUnevenly([['stops-short', 0.8], ['set-point-changed', 0.2]], short[0]![0], says);
}

/** `4.1, 5.0 and 3.8`, or of many `3.8 to 6.2`. */
function valuesText(values: readonly number[], digits: number): string {
  const words = values.map((value) => value.toFixed(digits));
  if (words.length > UNEVEN_OF) return `${Math.min(...values).toFixed(digits)} to ${Math.max(...values).toFixed(digits)}`;
  return words.length < 2 ? words.join() : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}
