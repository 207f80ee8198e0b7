import type { Entry } from '../../shared/entry.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import type { Cause, CauseProbability, Evidence } from '../../shared/finding.ts';
import type { Sees } from '../../shared/distinguish.ts';
import { median } from '../change/robust.ts';
import { certainCondition, type Condition, type Slot } from './condition.ts';
import { nameCause } from './name-cause.ts';
import type { RecentCycles } from './recent-cycles.ts';

/*
 * Faults that go by the clock and not by cycles: known within the hour, because nothing has to be averaged
 * (design, section 6: not-starting, stops-short, runs-without-end; valve-left-shut, supply-bypassed by the open rest).
 */

/** What is going on at the frontier. Pressures are kPa gauge and carry the time of their sample. */
export type Present = {
  readonly frontierMs: number;
  readonly running: boolean | null;
  readonly sinceMs: number | null;
  /** When the run state was last said: one lost packet must not make a run endless. */
  readonly heardMs: number | null;
  readonly timesSaid: number;
  /** The tank has fallen over the last half hour: it is hardly being filled. */
  readonly falling: boolean;
  readonly tankKPa: number | null;
  readonly tankAtMs: number | null;
  /** Since when the tank has been below cut-in without a run; null if it isn't. */
  readonly belowSinceMs: number | null;
  /** It came there much faster than this tank ever falls: by a gauge that jumped, or by a burst. */
  readonly belowSuddenly: boolean;
  /** How long the hour meter was heard standing still, ms; null where it isn't sent. */
  readonly meterStillMs: number | null;
  /** How the tank has moved over the last half hour to hour, kPa a minute; null where that isn't known. */
  readonly tankKPaPerMin: number | null;
  /** Newest pressure before the elements, where it came in this run. */
  readonly dischargeKPa: number | null;
  /** Newest nitrogen of this run, once it is ten minutes old, per cent. */
  readonly nitrogenPercent: number | null;
  /** The tank keeps its pressure while the compressor rests: nothing is drawn. `null` where it isn't sent. */
  readonly tankHolds: boolean | null;
  readonly systemKPa: number | null;
  readonly systemAtMs: number | null;
  readonly power: boolean | null;
  readonly powerSinceMs: number | null;
  /** When the mains were last said to be present or absent. */
  readonly powerHeardMs: number | null;
  /** The tank or the piping rises: what was let out is filled up again. */
  readonly filling: boolean;
  /** A supply finding is open: it holds until the piping is nearly back. */
  readonly supplyOpen: boolean;
};

/** What is normal here, and what was set. */
export type Normal = {
  readonly cycles: RecentCycles;
  /** Middle of the piping's pressure in good days, kPa gauge. */
  readonly systemKPa: number | null;
  readonly lowPressureKPa: number | null;
  /** Longest rest of the days that the baseline was learned from, s: after a leak is mended rests grow back to it. */
  readonly baselineRestS: number;
  readonly cutInKPa: number | null;
  readonly cutOutKPa: number | null;
  readonly sees: Sees;
  /** What the pressure before the elements is in runs of good days, kPa gauge. */
  readonly dischargeKPa: number | null;
  /** What nitrogen is in good days, per cent. */
  readonly nitrogenPercent: number | null;
};

/** Piping below this share of its usual pressure was let down by somebody, or by a trip: no shut valve does that at once. */
export const LET_DOWN = 0.6;
/** A pressure older than this is not "now". */
const FRESH_MS = 20 * MINUTE_MS;
/** Where the low-pressure signal isn't registered: the margin of a usual dry-pipe system; common practice, no source. */
const USUAL_MARGIN_KPA = 60;
/** A service counts as just done for so long. */
const AFTER_SERVICE_MS = 5 * 24 * HOUR_MS;
/** Filling a drained system takes hours; longer is no filling. Common practice, no source. */
const FILL_MS = 8 * HOUR_MS;
/** A controller's switch wanders by a few kPa; what is farther off is no wander. Common practice, no source. */
export const SWITCH_TOLERANCE_KPA = 20;

/** Every fault of the clock that holds now. */
export function byClock(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  if (present.power === false) return noPower(present);
  return [...neverStops(present, normal), ...notStarting(present, normal), ...(present.running === null ? [] : stopsShort(normal)), ...supplyShut(present, normal, lastService)];
}

function noPower(present: Present): Condition[] {
  if (present.powerSinceMs === null || present.frontierMs - present.powerSinceMs < 10 * MINUTE_MS) return [];
  return [certainCondition('power', 'no-power', 0.97, present.powerSinceMs, 'The gateway says that mains power is absent; the compressor can not run.', true)];
}

function neverStops(present: Present, normal: Normal): Condition[] {
  const { usual } = normal.cycles;
  if (present.running !== true || present.sinceMs === null) return [];
  const runMs = present.frontierMs - present.sinceMs;
  if (present.filling && runMs < FILL_MS) return [];
  const limitMs = Math.max(3 * (usual?.longestRunS ?? 3600) * 1000, HOUR_MS);
  if (runMs <= limitMs || present.heardMs === null || present.heardMs - present.sinceMs < 0.8 * limitMs) return [];
  if (present.falling && present.timesSaid < 3) return [];
  const says = `The compressor has run for ${hours(runMs)} without a stop; its usual longest run is ${usual === null ? 'not known yet' : minutes(usual.longestRunS * 1000)}.`;
  const cutOutKPa = usual?.stopKPa ?? normal.cutOutKPa;
  const tankKPa = freshValue(present.tankKPa, present.tankAtMs, present.frontierMs);
  const endless = { says, for: 'runs-without-end' as const, weight: 2 };
  if (tankKPa === null || cutOutKPa === null) return [mixed('running', [['runs-without-end', 0.7], ['leak', 0.15], ['compressor-side', 0.15]], present.sinceMs, [endless])];
  if (tankKPa > cutOutKPa + PAST_STOP_KPA) {
    const above = { says: `The tank is at ${kPa(tankKPa)}, above the usual stop at ${kPa(cutOutKPa)}: the stop doesn't come.`, for: 'runs-without-end' as const, weight: 3 };
    return [mixed('running', [['runs-without-end', 0.95], ['sensor-fault', 0.05]], present.sinceMs, [endless, above])];
  }
  return [cannotReach(present, normal, cutOutKPa - tankKPa, `${says} The tank is at ${kPa(tankKPa)} and doesn't get past the usual stop at ${kPa(cutOutKPa)}`)];
}

/** Past the usual stop by so much the switch should have opened; it wanders by a few kPa. Common practice, no source. */
const PAST_STOP_KPA = 8;
/** Cycles whose runs and rests tell what went wrong before the stop couldn't be reached. */
const LAST_CYCLES = 4;

/** Pressure before the elements this far below what it is in good runs: the air goes elsewhere, or isn't made. Common practice, no source. */
const LOST_HEAD_KPA = 60;

/**
 * The stop isn't reached, so demand has come up to delivery: no fault of the switch. Which of them moved is told, in this
 * order, by the pressure before the elements; by the tank, which falls at its usual pace where nothing is made; by the last
 * rests and runs: demand shortens the rests, lost delivery lengthens the runs alone (design, section 6). Where none of them
 * moved it came within this run, and a leak large enough for that is as rare as a drain that stands open.
 */
function cannotReach(present: Present, normal: Normal, shortKPa: number, says: string): Condition {
  const told = lostSide(present, normal);
  const onset = { earliestMs: present.sinceMs, likelyMs: present.sinceMs, latestMs: present.sinceMs };
  // Near the stop, delivery is almost what is drawn: the switch itself may be the matter, if it moved up.
  const end = shortKPa < SWITCH_TOLERANCE_KPA ? 0.2 : 0.08;
  if (told !== null && told.side === 'delivery') {
    const causes = ([['drain-stuck-open', told.atOnce ? 0.5 : 0.3], ['compressor-side', 0.45 - end], ['element-loading', told.atOnce ? 0.05 : 0.25], ['runs-without-end', end]] as const).map(([cause, probability]) => ({ cause, probability })).sort((one, other) => other.probability - one.probability);
    return { ...nameCause('delivery', { causes }, normal.sees, onset, [{ says: `${says}. ${told.says}`, for: 'drain-stuck-open', weight: 1.5 }], 1), urgent: true };
  }
  const leak = told === null ? 0.42 : 0.75;
  const other = (1 - leak - end) / 2;
  return mixed('demand', [['leak', leak], ['drain-stuck-open', other], ['compressor-side', other], ['runs-without-end', end]], present.sinceMs, [{ says: `${says}: as much is drawn as is made.${told === null ? '' : ` ${told.says}`}`, for: 'leak', weight: 1 }]);
}

type LostSide = { readonly side: 'demand' | 'delivery'; readonly atOnce: boolean; readonly says: string };

function lostSide(present: Present, normal: Normal): LostSide | null {
  const { usual, last } = normal.cycles;
  if (present.dischargeKPa !== null && normal.dischargeKPa !== null && present.dischargeKPa < normal.dischargeKPa - LOST_HEAD_KPA) return { side: 'delivery', atOnce: true, says: `The pressure before the elements is ${kPa(present.dischargeKPa)}, in good runs ${kPa(normal.dischargeKPa)}: less is made.` };
  if (present.nitrogenPercent !== null && normal.nitrogenPercent !== null) {
    // Little flow through the membrane is purer, much is less pure.
    const oxygen = (100 - present.nitrogenPercent) / Math.max(0.01, 100 - normal.nitrogenPercent);
    if (oxygen < 0.5) return { side: 'delivery', atOnce: true, says: `Nitrogen is ${present.nitrogenPercent.toFixed(2)} %, purer than in good runs (${normal.nitrogenPercent.toFixed(2)} %): little comes through.` };
    if (oxygen > 1.3) return { side: 'demand', atOnce: true, says: `Nitrogen is ${present.nitrogenPercent.toFixed(2)} %, below that of good runs (${normal.nitrogenPercent.toFixed(2)} %), as it is when much is drawn.` };
  }
  if (present.tankKPaPerMin !== null && usual !== null && usual.startKPa !== null && usual.stopKPa !== null) {
    const restS = median(last.slice(0, -LAST_CYCLES).map((cycle) => cycle[2])) ?? usual.longestRestS;
    const usualFall = ((usual.stopKPa - usual.startKPa) * 60) / restS;
    const share = -present.tankKPaPerMin / usualFall;
    if (share > 0.6 && share < 1.6) return { side: 'delivery', atOnce: true, says: 'The tank falls while the compressor runs, as fast as in a usual rest: next to nothing is made.' };
    if (share > 2.5) return { side: 'demand', atOnce: true, says: 'The tank falls while the compressor runs, faster than in any usual rest: more is drawn.' };
  }
  const before = last.slice(0, -LAST_CYCLES);
  if (before.length < 8) return null;
  const rests = Math.log(median(before.map((cycle) => cycle[2]))! / median(last.slice(-LAST_CYCLES).map((cycle) => cycle[2]))!);
  const runs = Math.log(median(last.slice(-LAST_CYCLES).map((cycle) => cycle[1]))! / median(before.map((cycle) => cycle[1]))!);
  if (rests > Math.max(0.2, runs / 2)) return { side: 'demand', atOnce: false, says: 'Rests had become shorter before.' };
  return runs > 0.3 ? { side: 'delivery', atOnce: false, says: 'Runs had become longer before while rests had not become shorter: less is made.' } : null;
}

/** Gateways repeat the state of the mains each hour. Common practice, no source. */
const POWER_WAIT_MS = 45 * MINUTE_MS;
/** An hour meter that was heard and hasn't moved for so long says that nothing runs. */
const METER_STANDS_MS = 50 * MINUTE_MS;
/** A start that comes late by so little may be a set point that was lowered: that is waited for; common practice, no source. */
const FAR_BELOW_KPA = 45;

function notStarting(present: Present, normal: Normal): Condition[] {
  const cutInKPa = normal.cycles.usual?.startKPa ?? normal.cutInKPa;
  const tankKPa = freshValue(present.tankKPa, present.tankAtMs, present.frontierMs);
  if (present.running === true || present.belowSinceMs === null || tankKPa === null || cutInKPa === null) return [];
  const belowMs = present.frontierMs - present.belowSinceMs;
  // The word that the mains went may be lost: where they are told of, the next word is waited for.
  if (present.power === true && present.powerHeardMs !== null && present.powerHeardMs < present.belowSinceMs && belowMs < POWER_WAIT_MS) return [];
  // Counters come late: without a run state a low tank may well be a run under way, unless the hour meter was heard and stood still.
  if (present.running === null && (present.meterStillMs === null || Math.min(present.meterStillMs, belowMs) < METER_STANDS_MS)) return [];
  if (belowMs < (tankKPa < cutInKPa - FAR_BELOW_KPA ? 10 : 40) * MINUTE_MS) return [];
  if (present.belowSuddenly && present.sinceMs !== null && present.frontierMs - present.sinceMs < 1000 * (normal.cycles.usual?.longestRestS ?? 0)) return [];
  const says = `The tank is at ${kPa(tankKPa)}, below its usual start at ${kPa(cutInKPa)} for ${minutes(belowMs)}, and the compressor has not started.`;
  return [certainCondition('running', 'not-starting', 0.95, present.belowSinceMs, says, true)];
}

/** The last two stops came well below the usual one while no start came lower: a trip (which cools and goes on before the tank has fallen), a pressure switch, a timer. */
function stopsShort(normal: Normal): Condition[] {
  const { usual } = normal.cycles;
  const last = normal.cycles.last.slice(-2);
  if (usual === null || usual.stopKPa === null || usual.startKPa === null || last.length < 2) return [];
  const short = last.every((cycle) => cycle[4] !== null && cycle[4] < usual.stopKPa! - SWITCH_TOLERANCE_KPA - 10 && cycle[3] !== null && cycle[3] > usual.startKPa! - SWITCH_TOLERANCE_KPA && cycle[3] < cycle[4] - 10);
  if (!short) return [];
  const says = `The last two runs stopped at ${kPa(last[0]![4]!)} and ${kPa(last[1]![4]!)}; the usual stop is ${kPa(usual.stopKPa)}, and no start came lower than usual.`;
  return [mixed('running', [['stops-short', 0.85], ['set-point-changed', 0.15]], last[0]![0], [{ says, for: 'stops-short', weight: 2.5 }])];
}

/**
 * After a service the first rest doesn't end, or the piping sags while the generator rests: a valve in the supply was left
 * shut; if the piping holds, another supply feeds it. Without piping pressure that can't be promised.
 */
function supplyShut(present: Present, normal: Normal, lastService: Entry | undefined): Condition[] {
  const { usual } = normal.cycles;
  if (present.running !== false || present.sinceMs === null || usual === null) return [];
  const servedMs = lastService === undefined ? -Infinity : Date.parse(lastService.finishedAt ?? lastService.startedAt);
  const justServed = present.frontierMs - servedMs < AFTER_SERVICE_MS && present.frontierMs > servedMs;
  const firstRest = justServed && !normal.cycles.last.some((cycle) => cycle[0] > servedMs + HOUR_MS && cycle[2] > 0);
  const restMs = present.frontierMs - present.sinceMs;
  const longestRestMs = Math.max(usual.longestRestS, normal.baselineRestS) * 1000;
  const tooLong = restMs > longestRestMs;
  const systemKPa = freshValue(present.systemKPa, present.systemAtMs, present.frontierMs);
  // A tank that has run down past its start is no shut valve: something else keeps the compressor from starting.
  if (usual.startKPa !== null && present.tankKPa !== null && present.tankKPa < usual.startKPa - SWITCH_TOLERANCE_KPA) return [];
  const rest = `The compressor has rested for ${hours(restMs)}; usual rests end within ${hours(longestRestMs)}.`;
  if (systemKPa !== null && normal.systemKPa !== null) {
    const marginKPa = normal.systemKPa - (normal.lowPressureKPa ?? normal.systemKPa - USUAL_MARGIN_KPA);
    const sagKPa = normal.systemKPa - systemKPa;
    const sag = `The piping is at ${kPa(systemKPa)}, ${kPa(sagKPa)} below its usual ${kPa(normal.systemKPa)}${normal.lowPressureKPa === null ? '' : `; its low-pressure signal comes at ${kPa(normal.lowPressureKPa)}`}.`;
    if (sagKPa > Math.max(marginKPa / 3, 6) * (present.supplyOpen ? 0.5 : 1) && (justServed || tooLong || present.supplyOpen) && (systemKPa > LET_DOWN * normal.systemKPa || present.supplyOpen)) return [mixed('supply', [['valve-left-shut', justServed ? 0.95 : 0.8], ['leak', justServed ? 0.05 : 0.2]], present.sinceMs, [{ says: sag, for: 'valve-left-shut', weight: 3 }, { says: rest, for: 'valve-left-shut', weight: 1 }])];
    if (tooLong && firstRest && sagKPa < 4 && present.tankHolds !== false) return [mixed('supply', [['supply-bypassed', 0.7], ['valve-left-shut', 0.3]], present.sinceMs, [{ says: rest, for: 'supply-bypassed', weight: 1 }, { says: `The piping holds its usual ${kPa(normal.systemKPa)}: another supply feeds it.`, for: 'supply-bypassed', weight: 2 }])];
    return [];
  }
  if (!(tooLong && firstRest) || present.tankHolds === false) return [];
  const causes: [Cause, number][] = [['valve-left-shut', 0.6], ['supply-bypassed', 0.2], ['not-starting', 0.2]];
  return [{ ...mixed('supply', causes, present.sinceMs, [{ says: `${rest} It is the first rest after the visit of ${lastService!.startedAt.slice(0, 10)}.`, for: 'valve-left-shut', weight: 1.5 }]), cause: 'undetermined', among: ['valve-left-shut', 'supply-bypassed', 'not-starting'], missingChannels: ['system-pressure'] }];
}

function mixed(slot: Slot, causes: readonly (readonly [Cause, number])[], sinceMs: number | null, evidence: readonly Evidence[]): Condition {
  const named: CauseProbability[] = causes.map(([cause, probability]) => ({ cause, probability }));
  return { slot, cause: named[0]!.cause, causes: named, among: null, missingChannels: [], onset: { earliestMs: sinceMs, likelyMs: sinceMs, latestMs: sinceMs }, evidence, urgent: true, size: 1 };
}

function freshValue(value: number | null, atMs: number | null, nowMs: number): number | null {
  return value !== null && atMs !== null && nowMs - atMs <= FRESH_MS ? value : null;
}

const kPa = (value: number): string => `${Math.round(value)} kPa`;
const minutes = (ms: number): string => `${Math.round(ms / MINUTE_MS)} min`;
const hours = (ms: number): string => (ms < 2 * HOUR_MS ? minutes(ms) : `${Math.round((ms / HOUR_MS) * 10) / 10} h`);
