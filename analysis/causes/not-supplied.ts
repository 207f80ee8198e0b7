import type { Entry } from '../../shared/entry.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { FRESH_MS, freshValue, hours, LET_DOWN, type Normal, type Present, SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { dayWords, kPaText } from './evidence.ts';
import { barelyFalls, demandMended, drawnAgain, GOES_ON_TIMES, HARDLY_DRAWN_MS, hardlyDrawn, outlasted, OUTLASTS, restedSince, usualRestS } from './hardly-drawn.ts';
import { MENDS_DEMAND } from './mends.ts';
import { restsFarLonger } from './rests-far-longer.ts';

/** Where the low-pressure signal isn't registered: the margin of a usual dry-pipe system; common practice, no source. */
const USUAL_MARGIN_KPA = 60;
/** A service counts as just done for so long. */
const AFTER_SERVICE_MS = 5 * 24 * HOUR_MS;

/** Whether the piping isn't supplied: a valve was left shut by a visit, or another supply was left open. The first that says so is heard. */
export function notSupplied(present: Present, normal: Normal, entries: readonly Entry[]): Condition[] {
  const lastService = entries.findLast((entry) => entry.kind === 'service');
  for (const said of [restTooLong(present, normal, lastService), restTold(present, normal, lastService), sagging(present, normal, lastService), notFilled(present, normal, entries), hardlyDrawn(present, normal, lastService), sagsUnseen(present, normal), restsFarLonger(present, normal, entries)]) if (said.length > 0) return said;
  return [];
}

/** A rest that began so long after the work at most is the first one after it: the tank is filled once more, and the work is logged to the hour. Common practice, no source. */
const FIRST_REST_MS = 2 * HOUR_MS;

/** Without its leak a rest may be so much longer than any before it was found. Common practice, no source. */
const MENDED_TIMES = 1.5;

/** A rest that is too long for the work in it has gone on for so long since. Common practice, no source. */
const SINCE_WORK_MS = HOUR_MS;

/** How long a rest must have gone on since the work in it; one that was half over when they came says little by its length. */
function leastSinceWorkMs(beforeMs: number, longestMs: number): number {
  return beforeMs > longestMs / 2 ? longestMs / 2 : Math.min(SINCE_WORK_MS, longestMs / 2);
}

/** A tank that was filled past its stop, by a run that didn't end, lasts so many times as long. Common practice, no source. */
const OVERFULL_TIMES = 2;

function isOverfull({ endlessOverMs }: Present, sinceMs: number): boolean {
  return endlessOverMs !== null && endlessOverMs > sinceMs;
}

/** Piping that nothing feeds, of a compressor that rests on though nobody was there. Common practice, no source. */
const NOBODY_THERE = [['not-starting', 0.65], ['valve-left-shut', 0.25], ['leak', 0.1]] as const;

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
  const sinceWorkMs = justServed ? Math.min(restMs, present.frontierMs - servedMs) : restMs;
  // Rests grow only where something of demand was mended, or runs are no longer cut short.
  const isMended = demandMended(present, servedMs);
  const mayGrow = !justServed || present.cutShort !== null || isMended || lastService!.replaced.length === 0 || lastService!.replaced.some((part) => MENDS_DEMAND.has(part));
  const longestRestMs = (isOverfull(present, present.sinceMs) ? OVERFULL_TIMES : 1) * 1000 * (mayGrow ? (isMended ? MENDED_TIMES : 1) * Math.max(usual.longestRestS, normal.baselineRestS) : OUTLASTS * usual.longestRestS);
  const goesOn = present.supplyOpen && outlasted(normal, servedMs) && !drawnAgain(present, normal);
  // Nothing was drawn while they worked on it.
  const tooLong = (restMs > longestRestMs && sinceWorkMs > leastSinceWorkMs(restMs - sinceWorkMs, longestRestMs)) || goesOn;
  const systemKPa = pipingKPa(present, normal);
  // A tank that has run down past its start is no shut valve: something else keeps the compressor from starting.
  if (usual.startKPa !== null && present.tankKPa !== null && present.tankKPa < usual.startKPa - SWITCH_TOLERANCE_KPA) return [];
  const rest = goesOn && restMs <= longestRestMs ? `The last rest took ${hours(1000 * normal.cycles.last.at(-1)![2])}; usual rests end within ${hours(1000 * usualRestS(normal))}.` : `The compressor has rested for ${hours(restMs)}; usual rests end within ${hours(longestRestMs)}.`;
  if (systemKPa !== null && normal.systemKPa !== null) {
    // What fell while they worked on it is only just being filled up again.
    const isFilling = justServed && !present.supplyOpen && present.frontierMs - servedMs < FILLED_WITHIN_MS;
    const leastKPa = isFilling ? LOST_SHARE * marginOf(normal.systemKPa, normal) : unfedSagKPa(normal.systemKPa, normal);
    const sagKPa = normal.systemKPa - systemKPa;
    const sag = `The piping is at ${kPaText(systemKPa)}, ${kPaText(sagKPa)} below its usual ${kPaText(normal.systemKPa)}${normal.lowPressureKPa === null ? '' : `; its low-pressure signal comes at ${kPaText(normal.lowPressureKPa)}`}.`;
    // What rises is fed.
    const rises = present.systemRises && !present.supplyOpen;
    if (sagKPa > leastKPa * (present.supplyOpen ? 0.5 : 1) && !rises && !(justServed ? isFed(present, normal, servedMs) : wasLowBefore(present, normal, leastKPa)) && (justServed || tooLong || (present.supplyOpen && present.pipings > 1)) && (systemKPa > LET_DOWN * normal.systemKPa || present.supplyOpen || present.missedStartMs !== null)) {
      // Nobody was there, and no tank tells whether it should have started.
      const mayNotStart = !justServed && tooLong && !goesOn && present.tankKPa === null;
      const causes = mayNotStart ? NOBODY_THERE : ([['valve-left-shut', justServed ? 0.95 : 0.8], ['leak', justServed ? 0.05 : 0.2]] as const);
      return [mixedCondition(mayNotStart ? 'running' : 'supply', causes, present.sinceMs, [{ says: sag, for: causes[0][0], weight: 3 }, ...(tooLong ? [{ says: rest, for: causes[0][0], weight: 1 }] : [])])];
    }
    // Piping that falls is held by nothing, however little it has fallen yet.
    if (tooLong && (present.supplyOpen || (firstRest && present.tankHolds !== false && sinceWorkMs > longestRestMs)) && sagKPa < HOLDS_KPA && !present.systemFalls && !refilledSince(present, normal, servedMs)) return [mixedCondition('supply', [['supply-bypassed', 0.7], ['valve-left-shut', 0.3]], present.sinceMs, [{ says: rest, for: 'supply-bypassed', weight: 1 }, { says: `The piping holds its usual ${kPaText(normal.systemKPa)}: another supply feeds it.`, for: 'supply-bypassed', weight: 2 }])];
    return [];
  }
  const isLongAgo = lastService === undefined || present.frontierMs - endOf(lastService) > LONG_AFTER_MS;
  if (isLongAgo && !present.supplyOpen && present.tankKPa === null && present.systemKPa === null) return restsOn({ sinceMs: present.sinceMs, restMs, longestS: longestRestMs / 1000, lastRestS: normal.cycles.last.at(-1)![2], by: '' });
  // It did start meanwhile.
  if (goesOn) return [mixedCondition('supply', [['valve-left-shut', 0.85], ['supply-bypassed', 0.15]], present.sinceMs, [{ says: rest, for: 'valve-left-shut', weight: 1.5 }])];
  if (!(tooLong && firstRest) || (present.tankHolds === false && !barelyFalls(servedMs, present, normal))) return [];
  return [firstRestTooLong(rest, present.sinceMs, lastService!, normal.timeZone)];
}

/** The only piping stood as low before this rest, and the rest before it ended as rests do: it was fed, and its gauge reads low. */
function wasLowBefore({ pipings, sinceMs, systemHours }: Present, normal: Normal, leastKPa: number): boolean {
  const before = systemHours.findLast(([atMs]) => atMs <= sinceMs!);
  return pipings === 1 && before !== undefined && normal.systemKPa! - before[1] > leastKPa && (normal.cycles.last.at(-1)?.[2] ?? Infinity) <= usualRestS(normal);
}

/** Piping that is so near its usual holds. */
const HOLDS_KPA = 4;

/** Piping that had sagged since the work and is full again: its valve was opened, and no other supply was. */
function refilledSince({ systemHours }: Present, normal: Normal, servedMs: number): boolean {
  return systemHours.some(([atMs, kPa]) => atMs > servedMs + FIRST_REST_MS && normal.systemKPa! - kPa > HOLDS_KPA);
}

/** Piping that is fed again rises, where it had been cut off while they worked on it, within so long. Common practice, no source. */
const FILLED_WITHIN_MS = 20 * MINUTE_MS;

/** Less is a gauge's and the day's warmth; else a share of the margin to the low-pressure signal. Common practice, no source. */
const LEAST_UNFED_KPA = 6;
const UNFED_SHARE = 1 / 3;

function marginOf(usualKPa: number, { lowPressureKPa }: Normal): number {
  return lowPressureKPa === null ? USUAL_MARGIN_KPA : usualKPa - lowPressureKPa;
}

/** By so much piping sags that isn't fed, kPa. */
function unfedSagKPa(usualKPa: number, normal: Normal): number {
  return Math.max(UNFED_SHARE * marginOf(usualKPa, normal), LEAST_UNFED_KPA);
}

/** Piping is told by change where a gateway saves messages: one that has sagged is still low. */
const LOW_PIPING_MS = 3 * HOUR_MS;

function pipingKPa({ systemKPa, systemAtMs, frontierMs }: Present, normal: Normal): number | null {
  const isLow = systemKPa !== null && normal.systemKPa !== null && normal.systemKPa - systemKPa > LEAST_UNFED_KPA;
  return freshValue(systemKPa, systemAtMs, frontierMs) ?? (isLow && frontierMs - systemAtMs! < LOW_PIPING_MS ? systemKPa : null);
}

/** Piping whose gauge reads lower since a visit, though it is drawn from and filled as before: the gauge was exchanged, or set. So much in half a day is no gauge, nor the day's warmth. Common practice, no source. */
const FELL_KPA = 3;
const FELL_WITHIN_MS = 12 * HOUR_MS;
/** A gauge that drifts reads about the same for so long. Common practice, no source. */
const DRIFTS_MS = 4 * HOUR_MS;

/** Since the visit the compressor cycles as it did, and the piping, where there is another one, stays where it is. */
function isFed({ systemHours, systemKPa, frontierMs, pipings }: Present, normal: Normal, servedMs: number): boolean {
  if (!restedSince(servedMs, normal)) return false;
  if (pipings === 1) return true;
  const before = systemHours.find(([atMs]) => atMs > servedMs && atMs > frontierMs - FELL_WITHIN_MS);
  return before !== undefined && systemKPa !== null && before[1] - systemKPa < FELL_KPA;
}

/** Each rest is told by up to two spans shorter than it is. */
const SPANS_SHORT = 2;

/** By an hour meter or a duty ratio alone, with no tank pressure that tells more: the first rest after a visit outlasts every rest of the weeks before, until one ends as rests did; or any rest does while the piping sags. */
function restTold(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const { running, toldRest, tankKPa, supplyOpen, frontierMs } = present;
  const { usualTold, timeZone } = normal;
  if (running !== null || toldRest === null || usualTold === null || tankKPa !== null) return [];
  const systemKPa = pipingKPa(present, normal);
  if (systemKPa !== null) return unfedTold(toldRest, systemKPa, normal);
  if (present.systemKPa !== null) return [];
  const longestS = (isOverfull(present, toldRest.sinceMs) ? OVERFULL_TIMES : 1) * (usualTold.restS + SPANS_SHORT * toldRest.spanS);
  if (lastService === undefined || frontierMs - endOf(lastService) > LONG_AFTER_MS) return restsOn({ sinceMs: toldRest.sinceMs, restMs: toldRest.heardMs - toldRest.sinceMs, longestS, lastRestS: toldRest.lastRestS, by: ', by its meter' });
  const servedMs = endOf(lastService);
  const goesOn = supplyOpen && toldRest.lastRestS > GOES_ON_TIMES * longestS;
  const isFirst = frontierMs - servedMs < AFTER_SERVICE_MS && toldRest.sinceMs < servedMs + FIRST_REST_MS;
  const restMs = toldRest.heardMs - toldRest.sinceMs;
  const isTooLong = isFirst && toldRest.heardMs - servedMs > leastSinceWorkMs(servedMs - toldRest.sinceMs, 1000 * longestS) && restMs > 1000 * OUTLASTS * longestS;
  if (!goesOn && !isTooLong) return [];
  const rest = isTooLong ? `The compressor has rested for ${hours(restMs)}` : `The last rest took ${hours(1000 * toldRest.lastRestS)}`;
  return [firstRestTooLong(`${rest}; usual rests end within ${hours(1000 * longestS)}.`, toldRest.sinceMs, lastService, timeZone)];
}

/** What a service left shut shows sooner. Common practice, no source. */
const LONG_AFTER_MS = 14 * 24 * HOUR_MS;
/** Nobody was there, and no pressure is sent: a rest so many times as long as any of the weeks before is no chance. Common practice, no source. */
const RESTS_ON_TIMES = 2;
const RESTS_ON = [['not-starting', 0.6], ['supply-bypassed', 0.3], ['valve-left-shut', 0.1]] as const;

function restsOn({ sinceMs, restMs, longestS, lastRestS, by }: { readonly sinceMs: number; readonly restMs: number; /** No usual rest takes longer. */ readonly longestS: number; readonly lastRestS: number; readonly by: string }): Condition[] {
  // Where rests have been too long for days, nothing is drawn.
  if (restMs <= 1000 * RESTS_ON_TIMES * longestS || lastRestS > longestS) return [];
  const says = `The compressor has rested for ${hours(restMs)}${by}; usual rests end within ${hours(1000 * longestS)}. No pressure is sent that would tell whether it should have started.`;
  return [{ ...mixedCondition('running', RESTS_ON, sinceMs, [{ says, for: 'not-starting', weight: 1.5 }]), missingChannels: ['tank-pressure'] }];
}

/** A rest that outlasts every rest of the weeks before, as a meter tells it, and piping that lost a third of its margin meanwhile: it isn't fed, since nothing starts or a valve is shut. */
function unfedTold(toldRest: NonNullable<Present['toldRest']>, systemKPa: number, normal: Normal): Condition[] {
  const longestS = normal.usualTold!.restS + SPANS_SHORT * toldRest.spanS;
  const restMs = toldRest.heardMs - toldRest.sinceMs;
  if (normal.systemKPa === null || restMs <= 1000 * OUTLASTS * longestS) return [];
  const sagKPa = normal.systemKPa - systemKPa;
  if (sagKPa < unfedSagKPa(normal.systemKPa, normal)) return [];
  const says = `The compressor has rested for ${hours(restMs)}, by its meter; usual rests end within ${hours(1000 * longestS)}. The piping is at ${kPaText(systemKPa)}, ${kPaText(sagKPa)} below its usual ${kPaText(normal.systemKPa)}.`;
  return [mixedCondition('running', NOBODY_THERE, toldRest.sinceMs, [{ says, for: 'not-starting', weight: 2.5 }])];
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
/** What fell while they worked on it is filled up again: it must have fallen for so long since. Common practice, no source. */
const FALLS_SINCE_MS = 40 * MINUTE_MS;

/** After a service the piping goes below what it ever is, and goes on falling: its supply was left shut. Known long before its margin is lost. */
function sagging(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const { systemKPa, systemAtMs, systemSags, systemSinks, frontierMs } = present;
  const servedMs = lastService === undefined ? -Infinity : endOf(lastService);
  const nowKPa = freshValue(systemKPa, systemAtMs, frontierMs);
  if (!(systemSags || systemSinks) || nowKPa === null || normal.systemKPa === null || frontierMs < servedMs + FALLS_SINCE_MS || frontierMs - servedMs > HARDLY_DRAWN_MS || nowKPa < LET_DOWN * normal.systemKPa || normal.systemKPa - nowKPa < LEAST_SAG_KPA || isFed(present, normal, servedMs)) return [];
  const falls = `Since the visit of ${dayWords(lastService!.startedAt, normal.timeZone)} the piping falls: it is at ${kPaText(nowKPa)}, and its usual is ${kPaText(normal.systemKPa)}.`;
  if (drawsMore(normal)) return [mixedCondition('supply', MORE_IS_LOST, servedMs, [{ says: `${falls} ${RUNS_MORE}`, for: 'bleed-left-open', weight: 2 }])];
  const says = `${falls} Nothing feeds it.`;
  return [mixedCondition('supply', [['valve-left-shut', 0.9], ['leak', 0.1]], servedMs, [{ says, for: 'valve-left-shut', weight: 2.5 }])];
}

/** Of the margin to the low-pressure signal. */
const LOST_SHARE = 0.5;
/** Cycles that say how it is drawn from now, and rests so much shorter than before by which more is drawn. Common practice, no source. */
const NEWEST = 3;
const SHORTER = 0.6;

/** The last rests are far shorter than those before. */
function drawsMore({ cycles: { last } }: Normal): boolean {
  const rests = last.map((cycle) => cycle[2]);
  return rests.length > 2 * NEWEST && median(rests.slice(-NEWEST))! < SHORTER * median(rests.slice(0, -NEWEST))!;
}

/** What sags although more is drawn for it isn't cut off: more leaves it than comes. Common practice, no source. */
const MORE_IS_LOST = [['bleed-left-open', 0.6], ['leak', 0.25], ['valve-left-shut', 0.15]] as const;
const RUNS_MORE = 'The compressor starts far more often than it did: more is let out than its supply gives.';

/** The only piping is drawn from and filled as ever, and most of what it is low by it was low by hours ago: so slowly falls a gauge. */
function driftsOn(nowKPa: number, usualKPa: number, { pipings, systemHours, running, sinceMs, frontierMs }: Present, normal: Normal): boolean {
  const [first] = systemHours;
  const longestMs = 1000 * usualRestS(normal);
  const restsOn = running === false && sinceMs !== null && frontierMs - sinceMs > longestMs;
  return pipings === 1 && first !== undefined && frontierMs - first[0] > DRIFTS_MS && first[1] - nowKPa < (usualKPa - nowKPa) / 2 && !restsOn && 1000 * (normal.cycles.last.at(-1)?.[2] ?? Infinity) <= longestMs;
}

/** Piping is filled, or is seen to rise, within so long of the mains' return, or of a start that came late. Common practice, no source. */
const REFILLS_MS = 3 * HOUR_MS;

/** Whoever shut what, and whether or not other risers go on drawing: beside a tank that is full enough, piping that has lost half of its margin and falls on isn't fed, or loses more than its supply gives. */
function sagsUnseen(present: Present, normal: Normal): Condition[] {
  const { systemKPa, systemAtMs, systemSags, supplyOpen, frontierMs, startedMs, powerSinceMs, tankKPa, tankAtMs } = present;
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
  if (usualKPa - nowKPa < LOST_SHARE * marginOf(usualKPa, normal) || driftsOn(nowKPa, usualKPa, present, normal)) return [];
  const says = `The piping falls on: it is at ${kPaText(nowKPa)}, and its usual is ${kPaText(usualKPa)}. Nothing feeds it, or it loses more than its supply gives.`;
  const drawnMore = drawsMore(normal);
  return [mixedCondition('supply', drawnMore ? [['leak', 0.7], ['valve-left-shut', 0.3]] : [['valve-left-shut', 0.7], ['leak', 0.3]], null, [{ says, for: drawnMore ? 'leak' : 'valve-left-shut', weight: 1.5 }])];
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
  const drawn = drawsMore(normal);
  const says = `The piping is at ${kPaText(systemKPa)} ${hours(frontierMs - sinceMs)} after the visit of ${dayWords(service.startedAt, normal.timeZone)}; its usual is ${kPaText(normal.systemKPa)}.`;
  if (drawn) return [mixedCondition('supply', MORE_IS_LOST, sinceMs, [{ says: `${says} ${RUNS_MORE}`, for: 'bleed-left-open', weight: 2 }])];
  return [mixedCondition('supply', [['valve-left-shut', 0.95], ['sensor-fault', 0.05]], sinceMs, [{ says: `${says} The compressor rests, and nothing fills it.`, for: 'valve-left-shut', weight: 3 }])];
}

const endOf = (entry: Entry): number => Date.parse(entry.finishedAt ?? entry.startedAt);
