import type { Entry } from '../../shared/entry.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { FRESH_MS, freshValue, hours, LET_DOWN, type Normal, type Present, SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { median } from '../change/robust.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { dayWords, kPaText } from './evidence.ts';
import { MENDS_DEMAND } from './mends.ts';

/** Where the low-pressure signal isn't registered: the margin of a usual dry-pipe system; common practice, no source. */
const USUAL_MARGIN_KPA = 60;
/** A service counts as just done for so long. */
const AFTER_SERVICE_MS = 5 * 24 * HOUR_MS;

/** Whether the piping isn't supplied: a valve was left shut by a visit, or another supply was left open. The first that says so is heard. */
export function notSupplied(present: Present, normal: Normal, entries: readonly Entry[]): Condition[] {
  const lastService = entries.findLast((entry) => entry.kind === 'service');
  for (const said of [restTooLong(present, normal, lastService), restTold(present, normal, lastService), sagging(present, normal, lastService), notFilled(present, normal, entries), hardlyDrawn(present, normal, lastService), sagsUnseen(present, normal)]) if (said.length > 0) return said;
  return [];
}

/** A rest that began so long after the work at most is the first one after it: the tank is filled once more, and the work is logged to the hour. Common practice, no source. */
const FIRST_REST_MS = 2 * HOUR_MS;

/** Piping that nothing feeds, of a compressor that rests on though nobody was there. Common practice, no source. */
const NOBODY_THERE = [['not-starting', 0.65], ['valve-left-shut', 0.25], ['leak', 0.1]] as const;

/** A rest outlasts what is outlasted once in 200 by so much. */
const OUTLASTS = 1.1;

/**
 * After a service the first rest doesn't end, or the piping sags while the generator rests: a valve in the supply was left
 * shut; if the piping holds, another supply feeds it. Without piping pressure that can't be promised.
 */
function restTooLong(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const { usual } = normal.cycles;
  if (present.running !== false || present.sinceMs === null || usual === null) return [];
  const servedMs = lastService === undefined ? -Infinity : Date.parse(lastService.finishedAt ?? lastService.startedAt);
  const justServed = present.frontierMs - servedMs < AFTER_SERVICE_MS && present.frontierMs > servedMs;
  const firstRest = justServed && !normal.cycles.last.some((cycle) => cycle[0] > servedMs + HOUR_MS && cycle[2] > 0);
  const restMs = present.frontierMs - present.sinceMs;
  // Rests grow only where something of demand was mended, or runs are no longer cut short.
  const mayGrow = !justServed || present.cutShortOpen || lastService!.replaced.length === 0 || lastService!.replaced.some((part) => MENDS_DEMAND.has(part));
  const longestRestMs = 1000 * (mayGrow ? Math.max(usual.longestRestS, normal.baselineRestS) : OUTLASTS * usual.longestRestS);
  const goesOn = present.supplyOpen && outlasted(normal, servedMs) && !drawnAgain(present, normal);
  const tooLong = restMs > longestRestMs || goesOn;
  const systemKPa = freshValue(present.systemKPa, present.systemAtMs, present.frontierMs);
  // A tank that has run down past its start is no shut valve: something else keeps the compressor from starting.
  if (usual.startKPa !== null && present.tankKPa !== null && present.tankKPa < usual.startKPa - SWITCH_TOLERANCE_KPA) return [];
  const rest = goesOn && restMs <= longestRestMs ? `The last rest took ${hours(1000 * normal.cycles.last.at(-1)![2])}; usual rests end within ${hours(1000 * usualRestS(normal))}.` : `The compressor has rested for ${hours(restMs)}; usual rests end within ${hours(longestRestMs)}.`;
  if (systemKPa !== null && normal.systemKPa !== null) {
    const marginKPa = normal.systemKPa - (normal.lowPressureKPa ?? normal.systemKPa - USUAL_MARGIN_KPA);
    const sagKPa = normal.systemKPa - systemKPa;
    const sag = `The piping is at ${kPaText(systemKPa)}, ${kPaText(sagKPa)} below its usual ${kPaText(normal.systemKPa)}${normal.lowPressureKPa === null ? '' : `; its low-pressure signal comes at ${kPaText(normal.lowPressureKPa)}`}.`;
    if (sagKPa > Math.max(marginKPa / 3, 6) * (present.supplyOpen ? 0.5 : 1) && (justServed || tooLong || present.supplyOpen) && (systemKPa > LET_DOWN * normal.systemKPa || present.supplyOpen || present.missedStartMs !== null)) {
      // Nobody was there, and no tank tells whether it should have started.
      const mayNotStart = !justServed && tooLong && !goesOn && present.tankKPa === null;
      const causes = mayNotStart ? NOBODY_THERE : ([['valve-left-shut', justServed ? 0.95 : 0.8], ['leak', justServed ? 0.05 : 0.2]] as const);
      return [mixedCondition(mayNotStart ? 'running' : 'supply', causes, present.sinceMs, [{ says: sag, for: causes[0][0], weight: 3 }, ...(tooLong ? [{ says: rest, for: causes[0][0], weight: 1 }] : [])])];
    }
    // Piping that falls is held by nothing, however little it has fallen yet.
    if (tooLong && (present.supplyOpen || (firstRest && present.tankHolds !== false)) && sagKPa < 4 && !present.systemFalls) return [mixedCondition('supply', [['supply-bypassed', 0.7], ['valve-left-shut', 0.3]], present.sinceMs, [{ says: rest, for: 'supply-bypassed', weight: 1 }, { says: `The piping holds its usual ${kPaText(normal.systemKPa)}: another supply feeds it.`, for: 'supply-bypassed', weight: 2 }])];
    return [];
  }
  // It did start meanwhile.
  if (goesOn) return [mixedCondition('supply', [['valve-left-shut', 0.85], ['supply-bypassed', 0.15]], present.sinceMs, [{ says: rest, for: 'valve-left-shut', weight: 1.5 }])];
  if (!(tooLong && firstRest) || (present.tankHolds === false && !barelyFalls(servedMs, present, normal))) return [];
  return [firstRestTooLong(rest, present.sinceMs, lastService!, normal.timeZone)];
}

/** Whatever was mended, less than this share of what the quietest hours drew is what the tank itself loses. Common practice, no source. */
const OWN_LOSS_SHARE = 0.2;

/** Since the work the tank has lost hardly any of what it usually loses, bursts and all, however low it was by then. */
function barelyFalls(servedMs: number, present: Present, { fallKPaPerMin }: Normal): boolean {
  const from = firstSince(servedMs, present);
  if (from === undefined || present.tankKPa === null || fallKPaPerMin === null) return false;
  const expectedKPa = (fallKPaPerMin * (present.tankAtMs! - from[0])) / MINUTE_MS;
  return expectedKPa >= STANDS_KPA && from[1] - present.tankKPa < OWN_LOSS_SHARE * expectedKPa;
}

/** Each rest is told by up to two spans shorter than it is. */
const SPANS_SHORT = 2;

/** By an hour meter or a duty ratio alone, with no pressure that tells more: the first rest after a visit outlasts every rest of the weeks before, until one ends as rests did. */
function restTold({ running, toldRest, tankKPa, systemKPa, supplyOpen, frontierMs }: Present, { usualTold, timeZone }: Normal, lastService: Entry | undefined): Condition[] {
  if (running !== null || toldRest === null || usualTold === null || tankKPa !== null || systemKPa !== null || lastService === undefined) return [];
  const servedMs = endOf(lastService);
  const longestS = usualTold.restS + SPANS_SHORT * toldRest.spanS;
  const goesOn = supplyOpen && toldRest.lastRestS > GOES_ON_TIMES * longestS;
  const isFirst = frontierMs - servedMs < AFTER_SERVICE_MS && toldRest.sinceMs < servedMs + FIRST_REST_MS;
  const restMs = toldRest.heardMs - toldRest.sinceMs;
  const isTooLong = isFirst && toldRest.heardMs > servedMs && restMs > 1000 * OUTLASTS * longestS;
  if (!goesOn && !isTooLong) return [];
  const rest = isTooLong ? `The compressor has rested for ${hours(restMs)}` : `The last rest took ${hours(1000 * toldRest.lastRestS)}`;
  return [firstRestTooLong(`${rest}; usual rests end within ${hours(1000 * longestS)}.`, toldRest.sinceMs, lastService, timeZone)];
}

/** With no pressure that tells what is fed, a shut valve comes first of what a visit leaves behind. */
function firstRestTooLong(rest: string, sinceMs: number, { startedAt }: Entry, timeZone: string): Condition {
  const evidence = [
    { says: `${rest} It is the first rest after the visit of ${dayWords(startedAt, timeZone)}.`, for: 'valve-left-shut' as const, weight: 1.5 },
    { says: "Piping pressure isn't sent: it would tell a valve that is shut from another supply, and from a compressor that doesn't start.", for: 'valve-left-shut' as const, weight: 0 },
  ];
  return { ...mixedCondition('supply', [['valve-left-shut', 0.7], ['supply-bypassed', 0.15], ['not-starting', 0.15]], sinceMs, evidence), missingChannels: ['system-pressure'] };
}

/** Piping that another supply held somewhat higher comes down to where its regulator holds it. Common practice, no source. */
const LEAST_SAG_KPA = 2;

/** After a service the piping goes below what it ever is, and goes on falling: its supply was left shut. Known long before its margin is lost. */
function sagging({ systemKPa, systemAtMs, systemSags, frontierMs }: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const servedMs = lastService === undefined ? -Infinity : endOf(lastService);
  const nowKPa = freshValue(systemKPa, systemAtMs, frontierMs);
  if (!systemSags || nowKPa === null || normal.systemKPa === null || frontierMs < servedMs || frontierMs - servedMs > HARDLY_DRAWN_MS || nowKPa < LET_DOWN * normal.systemKPa || normal.systemKPa - nowKPa < LEAST_SAG_KPA) return [];
  const says = `Since the visit of ${dayWords(lastService!.startedAt, normal.timeZone)} the piping falls: it is at ${kPaText(nowKPa)}, and its usual is ${kPaText(normal.systemKPa)}. Nothing feeds it.`;
  return [mixedCondition('supply', [['valve-left-shut', 0.9], ['leak', 0.1]], servedMs, [{ says, for: 'valve-left-shut', weight: 2.5 }])];
}

/** Of the margin to the low-pressure signal. */
const LOST_SHARE = 0.5;
/** Cycles that say how it is drawn from now, and rests so much shorter than before by which more is drawn. Common practice, no source. */
const NEWEST = 3;
const SHORTER = 0.6;

/** Piping is filled, or is seen to rise, within so long of the mains' return, or of a start that came late. Common practice, no source. */
const REFILLS_MS = 3 * HOUR_MS;

/** Whoever shut what, and whether or not other risers go on drawing: beside a tank that is full enough, piping that has lost half of its margin and falls on isn't fed, or loses more than its supply gives. */
function sagsUnseen({ systemKPa, systemAtMs, systemSags, supplyOpen, frontierMs, startedMs, powerSinceMs, tankKPa, tankAtMs }: Present, normal: Normal): Condition[] {
  const nowKPa = freshValue(systemKPa, systemAtMs, frontierMs);
  // What fell while the mains were off, or nothing started, is filled again now.
  const { last, usual } = normal.cycles;
  // An empty tank feeds nothing: what keeps it empty is told elsewhere.
  const [inTankKPa, startKPa] = [freshValue(tankKPa, tankAtMs, frontierMs), usual?.startKPa ?? normal.cutInKPa];
  if (inTankKPa === null || startKPa === null || inTankKPa < startKPa - SWITCH_TOLERANCE_KPA) return [];
  const startedLate = usual !== null && (last.at(-1)?.[2] ?? 0) > usual.longestRestS;
  const begunMs = Math.max(powerSinceMs ?? 0, startedLate ? (startedMs ?? 0) : 0);
  if (frontierMs - begunMs < REFILLS_MS) return [];
  if (nowKPa === null || normal.systemKPa === null || !systemSags || (nowKPa < LET_DOWN * normal.systemKPa && !supplyOpen)) return [];
  const usualKPa = Math.min(normal.systemKPa, normal.systemSetKPa ?? Infinity);
  const marginKPa = usualKPa - (normal.lowPressureKPa ?? usualKPa - USUAL_MARGIN_KPA);
  if (usualKPa - nowKPa < LOST_SHARE * marginKPa) return [];
  const says = `The piping falls on: it is at ${kPaText(nowKPa)}, and its usual is ${kPaText(usualKPa)}. Nothing feeds it, or it loses more than its supply gives.`;
  const rests = normal.cycles.last.map((cycle) => cycle[2]);
  const drawnMore = rests.length > 2 * NEWEST && median(rests.slice(-NEWEST))! < SHORTER * median(rests.slice(0, -NEWEST))!;
  return [mixedCondition('supply', drawnMore ? [['leak', 0.7], ['valve-left-shut', 0.3]] : [['valve-left-shut', 0.7], ['leak', 0.3]], null, [{ says, for: drawnMore ? 'leak' : 'valve-left-shut', weight: 1.5 }])];
}

/** What nothing but the tank's own leakage draws from rests many times as long. Common practice, no source. */
const GOES_ON_TIMES = 2;

/** The last rest, since the last service, was none that ends as rests did: what leaks at the tank alone makes the compressor run now and then. */
function outlasted(normal: Normal, servedMs: number): boolean {
  const [startMs, runS, restS] = normal.cycles.last.at(-1) ?? [0, 0, 0];
  return startMs + 1000 * (runS + restS) > servedMs && restS > GOES_ON_TIMES * usualRestS(normal);
}

/** The tank falls since its last run as it does where its piping draws from it. */
function drawnAgain({ crestKPa, crestAtMs, tankKPa, tankAtMs }: Present, { fallKPaPerMin }: Normal): boolean {
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
const HARDLY_DRAWN_MS = 48 * HOUR_MS;
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

/** Where a day's longest rest isn't known, so many times the middle rest of the weeks before. Common practice, no source. */
const LONGEST_TIMES = 4;

/** The longest of usual rests, s; rests of days in which nothing was drawn don't become usual. */
function usualRestS({ cycles: { usual, weeks }, usualDayRestS }: Normal): number {
  const weekRestS = median(weeks.map((week) => Math.exp(-week.demand)));
  const byDays = usualDayRestS > 0 ? OUTLASTS * usualDayRestS : weekRestS === undefined ? Infinity : LONGEST_TIMES * weekRestS;
  return Math.min(usual?.longestRestS ?? Infinity, byDays);
}

/** A whole rest since the visit ended as rests do: the tank has been drawn from, whoever logs the visit how late. */
function restedSince(servedMs: number, normal: Normal): boolean {
  return normal.cycles.usual !== null && normal.cycles.last.some(([startMs, runS, restS]) => restS > 0 && restS <= usualRestS(normal) && startMs + 1000 * runS >= servedMs && startMs + 1000 * (runS + restS) >= servedMs + AFTER_WORK_MS);
}

/**
 * After a service that mended nothing of demand, the tank hardly falls, though it should be near its next start: nothing is
 * drawn. Known before the rest is too long, and where no run state is sent.
 */
function hardlyDrawn(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const { crestKPa, crestAtMs, tankAtMs, frontierMs } = present;
  const tankKPa = freshValue(present.tankKPa, tankAtMs, frontierMs);
  const bandKPa = (normal.cycles.usual?.stopKPa ?? normal.cutOutKPa ?? NaN) - (normal.cycles.usual?.startKPa ?? normal.cutInKPa ?? NaN);
  if (lastService === undefined || present.running === true || tankKPa === null || crestKPa === null || normal.fallKPaPerMin === null || !(bandKPa > 0)) return [];
  // A gauge that already stood still for hours before shows nothing of what is drawn.
  const before = present.tankHours.filter(([atMs]) => atMs < Date.parse(lastService.startedAt)).slice(-STOOD_HOURS);
  if (before.length === STOOD_HOURS && before.every(([, kPa]) => kPa === tankKPa)) return [];
  // A tank above its stop is being filled, whatever was last said of runs.
  if (tankKPa > (normal.cycles.usual?.stopKPa ?? normal.cutOutKPa ?? Infinity) + SWITCH_TOLERANCE_KPA) return [];
  const servedMs = Date.parse(lastService.finishedAt ?? lastService.startedAt);
  if ((frontierMs - servedMs > HARDLY_DRAWN_MS && !present.supplyOpen) || restedSince(servedMs, normal) || lastService.replaced.some((part) => MENDS_DEMAND.has(part))) return [];
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
function standsSince([fromMs, fromKPa]: readonly [fromMs: number, fromKPa: number], { tankKPa, tankAtMs, running, tankShowsRuns, meterSinceMs, meterStillMs }: Present, { fallKPaPerMin, quietShare }: Normal, bandKPa: number): { readonly fellKPa: number; readonly restMs: number; readonly expectedKPa: number } | undefined {
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
  const enough = restMs >= (running === false ? HARDLY_DRAWN_TOLD_MS : HARDLY_DRAWN_LEAST_MS);
  return standsStill || (enough && (hardlyAny || tooLong)) ? { fellKPa, restMs, expectedKPa } : undefined;
}

/** Piping that is let down is filled again by the end of the work on it, or soon after. Common practice, no source. */
const NOT_FILLED_MS = HOUR_MS;
/** Work that ended longer ago didn't let the piping down. */
const LET_DOWN_WITHIN_MS = 24 * HOUR_MS;

/** The piping was let down around a visit, the work is over, and nothing fills it while the compressor rests: a valve in its supply is shut. */
function notFilled(present: Present, normal: Normal, entries: readonly Entry[]): Condition[] {
  const { systemLowSinceMs, systemKPa, frontierMs } = present;
  if (systemLowSinceMs === null || systemKPa === null || normal.systemKPa === null || present.systemAtMs! < frontierMs - FRESH_MS) return [];
  const around = entries.filter((entry) => Date.parse(entry.startedAt) < frontierMs && endOf(entry) > systemLowSinceMs - LET_DOWN_WITHIN_MS);
  const service = around.findLast((entry) => entry.kind === 'service');
  if (service === undefined || around.some((entry) => entry.finishedAt === undefined && entry.kind !== 'set-point')) return [];
  const sinceMs = Math.max(systemLowSinceMs, ...around.map(endOf));
  if (!present.supplyOpen && (frontierMs - sinceMs < NOT_FILLED_MS || present.filling || present.running === true)) return [];
  const says = `The piping is at ${kPaText(systemKPa)} ${hours(frontierMs - sinceMs)} after the visit of ${dayWords(service.startedAt, normal.timeZone)}; its usual is ${kPaText(normal.systemKPa)}. The compressor rests, and nothing fills it.`;
  return [mixedCondition('supply', [['valve-left-shut', 0.95], ['sensor-fault', 0.05]], sinceMs, [{ says, for: 'valve-left-shut', weight: 3 }])];
}

const endOf = (entry: Entry): number => Date.parse(entry.finishedAt ?? entry.startedAt);
