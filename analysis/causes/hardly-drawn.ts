import type { Entry } from '../../shared/entry.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { freshValue, hours, type Normal, type Present, SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { dayWords, kPaText } from './evidence.ts';
import { MENDS_DEMAND } from './mends.ts';

/*
 * A tank that nothing is drawn from, by its own pressure: known hours before its rest is too long, and where no run state is sent.
 */

/** A rest outlasts what is outlasted once in 200 by so much. */
export const OUTLASTS = 1.1;

/** What nothing but the tank's own leakage draws from rests many times as long. Common practice, no source. */
export const GOES_ON_TIMES = 2;

/** The last rest, since the last service, was none that ends as rests did: what leaks at the tank alone makes the compressor run now and then. */
export function outlasted(normal: Normal, servedMs: number): boolean {
  const [startMs, runS, restS] = normal.cycles.last.at(-1) ?? [0, 0, 0];
  return startMs + 1000 * (runS + restS) > servedMs && restS > GOES_ON_TIMES * usualRestS(normal);
}

/** The tank falls since its last run as it does where its piping draws from it. */
export function drawnAgain({ crestKPa, crestAtMs, tankKPa, tankAtMs }: Present, { fallKPaPerMin }: Normal): boolean {
  if (crestKPa === null || tankKPa === null || fallKPaPerMin === null) return false;
  const expectedKPa = (fallKPaPerMin * (tankAtMs! - crestAtMs!)) / MINUTE_MS;
  return expectedKPa >= STANDS_KPA && crestKPa - tankKPa > DRAWN_SHARE * expectedKPa;
}

/** By now the tank should have lost this share of its band, and it lost less than that share of what it should have. Common practice, no source. */
const SHOULD_HAVE_LOST = 0.8;
const DRAWN_SHARE = 0.35;
/** Or it should have started long ago, and isn't near it: the tank's own leakage is left of what was drawn. */
const LONG_PAST = 1.4;
const NEAR_START = 0.85;
/** Looked for so long after a service, and until it is over once it was found: longer, and tests and upsets that nobody logged yet come in between. */
export const HARDLY_DRAWN_MS = 48 * HOUR_MS;
const HARDLY_DRAWN_LEAST_MS = 40 * MINUTE_MS;
/** Where starts and stops are told, a rest is surely one. */
const HARDLY_DRAWN_TOLD_MS = 20 * MINUTE_MS;
/** A pressure so soon after the work stands for its end. */
const AFTER_END_MS = 15 * MINUTE_MS;
/** Or it stands nearly still for so long, while by what is drawn in the quietest hours it should have fallen by more than gauges and the day's warmth move it, and by such a share of its band; sooner where its rest is told. Common practice, no source. */
const STANDS = [
  { ms: 30 * MINUTE_MS, share: 0.35, told: true },
  { ms: HOUR_MS, share: 0.2, told: false },
] as const;
const STANDS_KPA = 25;
/** Hours before the work in which a gauge that had one value stood still by itself. */
const STOOD_HOURS = 3;
/** Where nobody can tell bursts from what is drawn quietly. */
const STANDS_UNTOLD = 0.5;
/** Where less than this share is drawn quietly, a regulator or a user draws in bursts. Common practice, no source. */
const MOSTLY_QUIET = 0.5;
/** Share of a rest for which an hour meter that is sent must have stood still. */
const METER_STILL = 0.6;
/** Meters are read each hour. Common practice, no source. */
const METER_EVERY_MS = HOUR_MS;
/** Piping that has sagged by so much isn't fed. */
const SAGS_KPA = 3;
/** Piping that holds for so long, and for longer than usual rests, is fed by something. Common practice, no source. */
const HOLDS_MS = 6 * HOUR_MS;
/** Whatever it does meanwhile. */
const HOLDS_SURELY_MS = 24 * HOUR_MS;
/** People log the end of their work to the hour: what ended sooner may still belong to it. */
const AFTER_WORK_MS = HOUR_MS;

/** The tank's first pressure after the work: what fell while they still worked on it is none of what is drawn since. */
function firstSince(servedMs: number, { tankTrail, tankHours }: Present): readonly [atMs: number, kPa: number] | undefined {
  return tankTrail.find(([atMs]) => atMs >= servedMs && atMs - servedMs < AFTER_END_MS) ?? tankHours.find(([atMs]) => atMs >= servedMs && atMs - servedMs <= HOUR_MS);
}

/** Whatever was mended, less than this share of what the quietest hours drew is what the tank itself loses. Common practice, no source. */
const OWN_LOSS_SHARE = 0.2;

/** Since the work the tank has lost hardly any of what it usually loses, bursts and all, however low it was by then. */
export function barelyFalls(servedMs: number, present: Present, { fallKPaPerMin }: Normal): boolean {
  const from = firstSince(servedMs, present);
  if (from === undefined || present.tankKPa === null || fallKPaPerMin === null) return false;
  const expectedKPa = (fallKPaPerMin * (present.tankAtMs! - from[0])) / MINUTE_MS;
  return expectedKPa >= STANDS_KPA && from[1] - present.tankKPa < OWN_LOSS_SHARE * expectedKPa;
}

/** What was drawn too much is found still, or was found and is over since the work: rests grow by right. */
export function demandMended({ demandOpen, demandOverMs }: Present, servedMs: number): boolean {
  return demandOpen || (demandOverMs !== null && demandOverMs > servedMs);
}

/** Where a day's longest rest isn't known, so many times the middle rest of the weeks before. Common practice, no source. */
const LONGEST_TIMES = 4;

/** The longest of usual rests, s; rests of days in which nothing was drawn don't become usual. */
export function usualRestS({ cycles: { usual, weeks }, usualDayRestS }: Normal): number {
  const weekRestS = median(weeks.map((week) => Math.exp(-week.demand)));
  const byDays = usualDayRestS > 0 ? OUTLASTS * usualDayRestS : weekRestS === undefined ? Infinity : LONGEST_TIMES * weekRestS;
  return Math.min(usual?.longestRestS ?? Infinity, byDays);
}

/** A whole rest since the visit ended as rests do: the tank has been drawn from, whoever logs the visit how late. */
export function restedSince(servedMs: number, normal: Normal): boolean {
  return normal.cycles.usual !== null && normal.cycles.last.some(([startMs, runS, restS]) => restS > 0 && restS <= usualRestS(normal) && startMs + 1000 * runS >= servedMs && startMs + 1000 * (runS + restS) >= servedMs + AFTER_WORK_MS);
}

/**
 * After a service that mended nothing of demand, the tank hardly falls, though it should be near its next start: nothing is
 * drawn. Known before the rest is too long, and where no run state is sent.
 */
export function hardlyDrawn(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const { crestKPa, crestAtMs, tankAtMs, frontierMs } = present;
  const tankKPa = freshValue(present.tankKPa, tankAtMs, frontierMs);
  const startKPa = normal.cycles.usual?.startKPa ?? normal.cutInKPa ?? NaN;
  const bandKPa = (normal.cycles.usual?.stopKPa ?? normal.cutOutKPa ?? NaN) - startKPa;
  if (lastService === undefined || present.running === true || tankKPa === null || crestKPa === null || normal.fallKPaPerMin === null || !(bandKPa > 0)) return [];
  // A gauge that already stood still for hours before shows nothing of what is drawn.
  const before = present.tankHours.filter(([atMs]) => atMs < Date.parse(lastService.startedAt)).slice(-STOOD_HOURS);
  if (before.length === STOOD_HOURS && before.every(([, kPa]) => kPa === tankKPa)) return [];
  // One that was never filled up to where runs start should have been: it isn't started, or its gauge reads in another unit.
  if (crestKPa < startKPa - SWITCH_TOLERANCE_KPA) return [];
  // Nor does one below its start that is told to rest by nothing: more is drawn than is made, or it isn't started.
  if (present.running === null && tankKPa < startKPa - SWITCH_TOLERANCE_KPA) return [];
  // A tank above its stop is being filled, whatever was last said of runs.
  if (tankKPa > (normal.cycles.usual?.stopKPa ?? normal.cutOutKPa ?? Infinity) + SWITCH_TOLERANCE_KPA) return [];
  const servedMs = Date.parse(lastService.finishedAt ?? lastService.startedAt);
  if ((frontierMs - servedMs > HARDLY_DRAWN_MS && !present.supplyOpen) || restedSince(servedMs, normal) || demandMended(present, servedMs) || lastService.replaced.some((part) => MENDS_DEMAND.has(part))) return [];
  const restsMs = Math.max(crestAtMs!, servedMs, present.running === false ? (present.sinceMs ?? 0) : 0);
  const afterWork = servedMs === restsMs ? firstSince(servedMs, present) : undefined;
  // Against its crest before the work it fell more in the same time; either is enough.
  const stood = (afterWork && standsSince(afterWork, present, normal, bandKPa)) ?? standsSince([restsMs, crestKPa], present, normal, bandKPa);
  // Told by its tank alone, it goes on until a rest ends as rests did, though the tank is filled meanwhile.
  const goesOn = stood === undefined && present.running === null && present.supplyOpen && outlasted(normal, servedMs) && !drawnAgain(present, normal);
  if (stood === undefined && !goesOn) return [];
  const visit = `Since the visit of ${dayWords(lastService.startedAt, normal.timeZone)}`;
  const says = stood === undefined ? `${visit} rests are far too long: the last took ${hours(1000 * normal.cycles.last.at(-1)![2])}; usual rests end within ${hours(1000 * usualRestS(normal))}.` : `${visit} the tank fell by ${kPaText(stood.fellKPa)} in ${hours(stood.restMs)}; ${kPaText(Math.min(stood.expectedKPa, bandKPa))} or more is usual: hardly anything is drawn.`;
  return [shutOrBypassed(says, servedMs, present, normal)];
}

/** Which of the two feeds nothing, by the piping: what nothing feeds for longer than it ever rests has sagged. */
function shutOrBypassed(says: string, servedMs: number, { crestAtMs, frontierMs, systemFalls, ...present }: Present, normal: Normal): Condition {
  const shut = { says, for: 'valve-left-shut' as const, weight: 2.5 };
  const systemKPa = freshValue(present.systemKPa, present.systemAtMs, frontierMs);
  if (systemKPa === null || normal.systemKPa === null) return mixedCondition('supply', [['valve-left-shut', 0.75], ['supply-bypassed', 0.25]], crestAtMs, [shut]);
  if (normal.systemKPa - systemKPa > SAGS_KPA) return mixedCondition('supply', [['valve-left-shut', 0.9], ['supply-bypassed', 0.1]], crestAtMs, [shut, { says: `The piping is at ${kPaText(systemKPa)}; its usual is ${kPaText(normal.systemKPa)}.`, for: 'valve-left-shut', weight: 2 }]);
  const unfedMs = frontierMs - servedMs;
  const holds = unfedMs > Math.max(HOLDS_MS, 1000 * (normal.cycles.usual?.longestRestS ?? 0)) && (!systemFalls || unfedMs > HOLDS_SURELY_MS);
  if (!holds) return mixedCondition('supply', [['valve-left-shut', 0.85], ['supply-bypassed', 0.15]], crestAtMs, [shut]);
  return mixedCondition('supply', [['supply-bypassed', 0.8], ['valve-left-shut', 0.2]], crestAtMs, [{ ...shut, for: 'supply-bypassed' }, { says: `The piping holds its usual ${kPaText(normal.systemKPa)}: another supply feeds it.`, for: 'supply-bypassed', weight: 2 }]);
}

/** How far the tank fell since then, where that is hardly any of what it should have; `undefined` where it isn't, or can't be said yet. */
function standsSince([fromMs, fromKPa]: readonly [fromMs: number, fromKPa: number], { tankKPa, tankAtMs, running, tankShowsRuns, meterSinceMs, meterStillMs }: Present, normal: Normal, bandKPa: number): { readonly fellKPa: number; readonly restMs: number; readonly expectedKPa: number } | undefined {
  const { fallKPaPerMin, quietShare } = normal;
  const restMs = tankAtMs! - fromMs;
  const expectedKPa = (fallKPaPerMin! * restMs) / MINUTE_MS;
  const fellKPa = Math.max(0, fromKPa - tankKPa!);
  // The hour meter went on: it ran since, though the tank's few samples don't show it. Of many samples what it went on by may have been before.
  const wentBefore = tankShowsRuns && meterSinceMs !== null && meterSinceMs < fromMs + METER_EVERY_MS;
  if (!wentBefore && meterStillMs !== null && meterStillMs < METER_STILL * restMs) return undefined;
  const hardlyAny = expectedKPa >= SHOULD_HAVE_LOST * bandKPa && fellKPa <= DRAWN_SHARE * expectedKPa;
  const tooLong = expectedKPa >= LONG_PAST * bandKPa && fellKPa < NEAR_START * bandKPa;
  // Between two bursts a tank stands still by right.
  const quietKPa = (quietShare ?? 1) * expectedKPa;
  const standsStill = STANDS.some(({ ms, share, told }) => restMs >= ms && (!told || running === false) && quietKPa >= Math.max(STANDS_KPA, (quietShare === null ? STANDS_UNTOLD : share) * bandKPa) && fellKPa <= DRAWN_SHARE * quietKPa);
  const leastMs = running === false ? HARDLY_DRAWN_TOLD_MS : HARDLY_DRAWN_LEAST_MS;
  // What is mostly drawn in bursts has its quiet hours: the longest usual rest says how many.
  const inBursts = quietShare !== null && quietShare < MOSTLY_QUIET;
  const enough = restMs >= leastMs && (!inBursts || restMs > 1000 * usualRestS(normal));
  return standsStill || (enough && (hardlyAny || tooLong)) ? { fellKPa, restMs, expectedKPa } : undefined;
}
