import type { Entry } from '../../shared/entry.ts';
import type { Evidence } from '../../shared/finding.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { abruptChange } from './abrupt.ts';
import { byTankAlone } from './by-tank-alone.ts';
import { cannotReach, makesNothing, risesPerHour } from './cannot-reach.ts';
import { certainCondition, type Condition, mixedCondition, SPOILT_BY_ENDLESS } from './condition.ts';
import { emptiesFaster } from './emptying.ts';
import { dayWords, kPaText } from './evidence.ts';
import { leftOpen } from './left-open.ts';
import { notStarting, startsLower } from './not-starting.ts';
import { motorTrips } from './motor-trips.ts';
import { notSupplied } from './not-supplied.ts';
import { stopsShort } from './stops-short.ts';
import { scatteredStops, unevenRuns } from './uneven-runs.ts';
import { freshValue, hours, minutes, type Normal, type Present, SWITCH_TOLERANCE_KPA } from './clock-view.ts';

/*
 * Faults that go by the clock and not by cycles: known within the hour, because nothing has to be averaged
 * (design, section 6: not-starting, stops-short, runs-without-end; valve-left-shut, supply-bypassed by the open rest).
 */

/** Filling a drained system takes hours; longer is no filling. Common practice, no source. */
const FILL_MS = 8 * HOUR_MS;

/** After a trip test or a purge that was logged, with the piping drained or swept, it takes as long as this. */
const FILL_AFTER_TEST_MS = DAY_MS;

/** What leaves the piping drained, or sweeps it. */
const DRAINS: ReadonlySet<Entry['kind']> = new Set(['trip-test', 'purge', 'impairment']);
/** What a test of the low-pressure switch let out is filled up again. */
const LETS_OUT: ReadonlySet<Entry['kind']> = new Set(['low-pressure-test']);

/** Whether a test or a purge of these kinds that somebody logged ended within a day before a run began, or went on then. */
function isAfter(kinds: ReadonlySet<Entry['kind']>, entries: readonly Entry[], sinceMs: number): boolean {
  return entries.some((entry) => kinds.has(entry.kind) && Date.parse(entry.startedAt) <= sinceMs + HOUR_MS && Date.parse(entry.finishedAt ?? entry.startedAt) > sinceMs - DAY_MS);
}

/** A tank that had lost so many times its band below its start before the run began fills its piping too. Common practice, no source. */
const EMPTIED_BANDS = 1;

/** What the tank rises by in its last hour while its piping fills, kPa. Common practice, no source. */
const FILLS_KPA = 5;

/** The run began with a tank that had run down, as after days without a start, and it or its piping still rises: the piping it feeds had run down with it. */
function fillsAll({ startKPa, tankKPa, tankTrail, systemRises }: Present, { cycles: { usual } }: Normal): boolean {
  if (startKPa === null || tankKPa === null || usual === null || usual.startKPa === null || usual.stopKPa === null) return false;
  const rises = systemRises || (tankTrail.length > 1 && tankTrail.at(-1)![1] - tankTrail[0]![1] > FILLS_KPA);
  return rises && tankKPa < usual.stopKPa + PAST_STOP_KPA && startKPa < usual.startKPa - EMPTIED_BANDS * (usual.stopKPa - usual.startKPa);
}

/** Large piping takes longer; while the tank or the piping rises it is being filled. Common practice, no source. */
const MOST_FILL_MS = 3 * DAY_MS;

/** Whether this run fills what a test or a purge let out, or what ran down meanwhile. */
function isFilled(present: Present, normal: Normal, entries: readonly Entry[], runMs: number): boolean {
  const afterTest = isAfter(DRAINS, entries, present.sinceMs!);
  if (runMs < FILL_AFTER_TEST_MS) return afterTest || fillsAll(present, normal);
  return runMs < MOST_FILL_MS && afterTest && (present.systemRises || (risesPerHour(present.tankTrail, present.sinceMs) ?? 0) > FILLS_KPA);
}

/** Every fault of the clock that holds now. */
export function byClock(present: Present, normal: Normal, entries: readonly Entry[]): Condition[] {
  if (present.power === false) return noPower(present);
  return [...neverStops(byMeter(present, normal), normal, entries), ...motorNeverStops(present), ...notStarting(present, normal), ...byTankAlone(present, normal), ...cutShort(present, normal, entries), ...startsLower(present, normal, entries), ...notSupplied(present, normal, entries), ...(present.leaksBack ? [] : emptiesFaster(present.feedFalls, normal.feedFall, entries, present.frontierMs, normal.timeZone)), ...leftOpen(normal.cycles, entries, present, normal.timeZone).filter((condition) => condition.slot !== 'demand' || !isRefilled(present, normal)), ...(present.heardMs === null ? [] : abruptChange(normal.cycles, entries, present.frontierMs, normal.sees))];
}

/** By the tank, by the compressor's own runs behind a receiver, or by how long runs and rests are. */
function cutShort({ running, startKPa, saidLate, motorRuns, cutShort: against }: Present, { cycles }: Normal, entries: readonly Entry[]): Condition[] {
  const told = against !== null;
  const held = told && against.length > 0 ? { ...cycles, weeks: [...against] } : cycles;
  const found = (): readonly (Condition | undefined)[] => {
    if (running === null) return [scatteredStops(held, entries, told)];
    const byTank = stopsShort(held, entries, startKPa, saidLate);
    if (byTank.length > 0) return byTank;
    const byMotor = motorRuns === null ? [] : motorTrips(motorRuns, entries, told);
    return byMotor.length > 0 ? byMotor : [unevenRuns(held, entries, told)];
  };
  return found().flatMap((one) => (one === undefined ? [] : [{ ...one, against: [...held.weeks] }]));
}

/** Piping this far below what it usually holds, and rising, is still being filled. Common practice, no source. */
const REFILLED_KPA = 6;
/** What a shut valve kept from its piping flows in once it is opened, and the first rests of the visit are looked at for as long. Common practice, no source. */
const REFILLED_MS = 3 * DAY_MS;

/** What a repair let the supply through to again draws more until it is full, and no bleed is open. */
function isRefilled({ systemKPa, systemAtMs, systemRises, frontierMs, supplyOpen, supplyOverMs, endlessOverMs }: Present, normal: Normal): boolean {
  if (supplyOpen || [supplyOverMs, endlessOverMs].some((overMs) => overMs !== null && frontierMs - overMs < REFILLED_MS)) return true;
  const nowKPa = freshValue(systemKPa, systemAtMs, frontierMs);
  return systemRises && nowKPa !== null && normal.systemKPa !== null && nowKPa < normal.systemKPa - REFILLED_KPA;
}

function noPower(present: Present): Condition[] {
  if (present.powerSinceMs === null || present.frontierMs - present.powerSinceMs < 10 * MINUTE_MS) return [];
  return [certainCondition('power', 'no-power', 0.97, present.powerSinceMs, 'The gateway says that mains power is absent; the compressor cannot run.', true)];
}

/** As a run state would say it, where none is sent but a meter says that it ran all the time. A duty ratio alone is told by its days: a compressor that runs all the time may as well be one whose air is lost (tests/analysis/compressor-windows.test.ts, a real one). */
function byMeter(present: Present, { sees }: Normal): Present {
  const { running, full } = present;
  return running !== null || full === null || !sees.split ? present : { ...present, running: true, sinceMs: full.sinceMs, heardMs: full.heardMs, timesSaid: full.times };
}

function neverStops(present: Present, normal: Normal, entries: readonly Entry[]): Condition[] {
  const { usual } = normal.cycles;
  if (present.running !== true || present.sinceMs === null || present.motorOn === false) return [];
  const runMs = present.frontierMs - present.sinceMs;
  const visit = servedBefore(entries, present.sinceMs);
  const usualStopKPa = usual?.stopKPa ?? normal.cutOutKPa;
  const cutOutKPa = usualStopKPa === null ? normal.setStopKPa : Math.max(usualStopKPa, normal.setStopKPa ?? 0, present.tankShowsRuns ? 0 : (normal.cutOutKPa ?? 0));
  const tankKPa = freshValue(present.tankKPa, present.tankAtMs, present.frontierMs);
  const isPastStop = tankKPa !== null && cutOutKPa !== null && tankKPa > cutOutKPa + PAST_STOP_KPA;
  // Whatever is filled up, a tank past its stop is full.
  if (!isPastStop && ((present.filling && runMs < FILL_MS && !(visit !== undefined && makesNothing(present, normal))) || isFilled(present, normal, entries, runMs))) return [];
  const longestRunS = usual?.longestRunS ?? normal.countedRunS ?? normal.usualTold?.runS ?? null;
  const limitMs = Math.max(3 * (longestRunS ?? 3600) * 1000, HOUR_MS, visit !== undefined && tankKPa === null ? 1000 * fillsFromEmptyS(longestRunS, usual?.startKPa ?? normal.setStartKPa ?? normal.cutInKPa, cutOutKPa) : 0);
  if (runMs <= limitMs || present.heardMs === null || present.heardMs - present.sinceMs < 0.8 * limitMs) return [];
  if (present.falling && present.timesSaid < 3) return [];
  const says = `The compressor has run for ${hours(runMs)} without a stop; its usual longest run is ${longestRunS === null ? 'not known yet' : minutes(longestRunS * 1000)}.`;
  const endless = { says, for: 'runs-without-end' as const, weight: 2 };
  // Nor does what has run down while nothing started.
  if ((tankKPa === null || cutOutKPa === null) && runMs < FILL_MS && (present.missedStartMs !== null || isRefilled(present, normal) || isAfter(LETS_OUT, entries, present.sinceMs))) return [];
  if (tankKPa === null || cutOutKPa === null) return [{ ...(visit === undefined ? mixedCondition('running', [['runs-without-end', 0.7], ['leak', 0.15], ['compressor-side', 0.15]], present.sinceMs, [endless]) : endlessSince(visit, present.sinceMs, endless, normal.timeZone)), hides: SPOILT_BY_ENDLESS }];
  if (isPastStop) {
    const above = { says: `The tank is at ${kPaText(tankKPa)}, above the usual stop at ${kPaText(cutOutKPa)}: the stop doesn't come.`, for: 'runs-without-end' as const, weight: 3 };
    return [{ ...mixedCondition('running', [['runs-without-end', 0.95], ['sensor-fault', 0.05]], present.sinceMs, [endless, above]), letsOff: true, hides: SPOILT_BY_ENDLESS }];
  }
  // By its meter it runs on, and yet its tank was filled and has rested since: behind an air receiver, or by a valve that lets it idle.
  if (present.full !== null && present.crestKPa !== null && present.crestAtMs! - present.sinceMs > HOUR_MS && present.crestKPa > cutOutKPa - (tankKPa < present.crestKPa - SWITCH_TOLERANCE_KPA ? SWITCH_TOLERANCE_KPA : AT_STOP_KPA)) {
    return [{ ...mixedCondition('running', [['runs-without-end', 0.9], ['compressor-side', 0.1]], present.sinceMs, [{ says: `${says} Meanwhile the tank was filled to ${kPaText(present.crestKPa)}, its usual stop, and drawn from as in a rest.`, for: 'runs-without-end', weight: 2.5 }]), hides: SPOILT_BY_ENDLESS }];
  }
  // Behind a stop that got lost, a state that is said again by chance in a later run is no endless run.
  if (present.timesSaid < 3) return [];
  // What people draw in a burst, or what one let down, is filled up again within hours; what a visit left open isn't.
  if (runMs < BURST_MS && visit === undefined) return [];
  const risesKPa = risesPerHour(present.tankTrail, present.sinceMs);
  if (risesKPa !== undefined && risesKPa > cutOutKPa - tankKPa) return [];
  return [cannotReach(present, normal, visit, cutOutKPa - tankKPa, `${says} The tank is at ${kPaText(tankKPa)} and doesn't get past the usual stop at ${kPaText(cutOutKPa)}`)];
}

/** What keeps a run from ending since a visit, where no tank is sent. Common practice, no source. */
const SINCE_VISIT = [['runs-without-end', 0.4], ['bleed-left-open', 0.35], ['valve-left-shut', 0.25]] as const;

function endlessSince(visit: Entry, sinceMs: number, endless: Evidence, timeZone: string): Condition {
  const untold = { says: `It began about the visit of ${dayWords(visit.startedAt, timeZone)}. Tank pressure isn't sent: it would tell a switch that doesn't open from a bleed that stands open and from a valve that is shut before the tank.`, for: 'undetermined' as const, weight: 0 };
  return { ...mixedCondition('running', SINCE_VISIT, sinceMs, [endless, untold]), cause: 'undetermined', among: SINCE_VISIT.map(([cause]) => cause), missingChannels: ['tank-pressure'] };
}

/** People draw in bursts of an hour or two. Common practice, no source. */
const BURST_MS = 3 * HOUR_MS;

/** Whoever works on a tank vents it. By the pressure that a run adds to a tank it takes so long to fill it from nothing, and some more as it is drawn from meanwhile. Common practice, no source. */
const FILL_SPARE = 1.25;

function fillsFromEmptyS(longestRunS: number | null, startKPa: number | null, stopKPa: number | null): number {
  return longestRunS === null || startKPa === null || stopKPa === null || stopKPa <= startKPa ? 0 : (FILL_SPARE * longestRunS * stopKPa) / (stopKPa - startKPa);
}

/** What a visit left open shows in its first runs. Common practice, no source. */
const AFTER_VISIT_MS = DAY_MS;

/** The last service, where it ended within the day before the run, or the run began during it. */
function servedBefore(entries: readonly Entry[], sinceMs: number): Entry | undefined {
  const service = entries.findLast((entry) => entry.kind === 'service');
  return service === undefined || Date.parse(service.startedAt) > sinceMs + HOUR_MS || Date.parse(service.finishedAt ?? service.startedAt) < sinceMs - AFTER_VISIT_MS ? undefined : service;
}

/** A receiver that isn't drawn from is full within this. Common practice, no source. */
const RECEIVER_FILLS_MS = HOUR_MS;

/** Behind an air receiver: nothing is produced, so the receiver is full, and yet the compressor runs on. */
function motorNeverStops(present: Present): Condition[] {
  const { motorOn, motorSinceMs, running, sinceMs, frontierMs } = present;
  if (motorOn !== true || motorSinceMs === null || present.motorTimesSaid < 3 || running !== false || sinceMs === null) return [];
  const throughMs = frontierMs - Math.max(motorSinceMs, sinceMs);
  if (throughMs < RECEIVER_FILLS_MS) return [];
  const says = `The compressor has run for ${hours(frontierMs - motorSinceMs)} without a stop, though for ${hours(throughMs)} nothing has been drawn from its receiver.`;
  return [mixedCondition('running', [['runs-without-end', 0.9], ['compressor-side', 0.1]], motorSinceMs, [{ says, for: 'runs-without-end', weight: 2.5 }])];
}

/** Past the usual stop by so much the switch should have opened; it wanders by a few kPa. Common practice, no source. */
const PAST_STOP_KPA = 8;
/** A tank that came so near its stop came to it. */
const AT_STOP_KPA = 5;
