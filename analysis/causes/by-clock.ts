import type { Entry } from '../../shared/entry.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import type { Cause, CauseProbability, Evidence } from '../../shared/finding.ts';
import { certainCondition, type Condition, type Slot } from './condition.ts';
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
  /** Highest tank pressure since the run was said to begin, and the lowest since that, kPa. */
  readonly runPeak: readonly [peakKPa: number, lowestSinceKPa: number] | null;
  /** The tank has fallen over the last half hour: it is hardly being filled. */
  readonly falling: boolean;
  readonly tankKPa: number | null;
  readonly tankAtMs: number | null;
  /** Since when the tank has been below cut-in without a run; null if it isn't. */
  readonly belowSinceMs: number | null;
  /** The tank keeps its pressure while the compressor rests: nothing is drawn. `null` where it isn't sent. */
  readonly tankHolds: boolean | null;
  readonly systemKPa: number | null;
  readonly systemAtMs: number | null;
  readonly power: boolean | null;
  readonly powerSinceMs: number | null;
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
  if (hasStopped(present, normal)) return [];
  const says = `The compressor has run for ${hours(runMs)} without a stop; its usual longest run is ${usual === null ? 'not known yet' : minutes(usual.longestRunS * 1000)}.`;
  const cutOutKPa = usual?.stopKPa ?? normal.cutOutKPa;
  const tankKPa = freshValue(present.tankKPa, present.tankAtMs, present.frontierMs);
  if (tankKPa === null || cutOutKPa === null) return [mixed('running', [['runs-without-end', 0.7], ['leak', 0.15], ['compressor-side', 0.15]], present.sinceMs, [{ says, for: 'runs-without-end', weight: 2 }])];
  if (tankKPa >= cutOutKPa - SWITCH_TOLERANCE_KPA / 2) {
    const above = { says: `The tank is at ${kPa(tankKPa)}, at or above the usual stop at ${kPa(cutOutKPa)}: the stop doesn't come.`, for: 'runs-without-end' as const, weight: 3 };
    return [mixed('running', [['runs-without-end', 0.95], ['sensor-fault', 0.05]], present.sinceMs, [{ says, for: 'runs-without-end', weight: 2 }, above])];
  }
  const below = { says: `The tank is at ${kPa(tankKPa)} and doesn't reach the usual stop at ${kPa(cutOutKPa)}: more is drawn than is made, or less is made.`, for: 'runs-without-end' as const, weight: 0.5 };
  return [mixed('running', [['runs-without-end', 0.55], ['leak', 0.2], ['drain-stuck-open', 0.1], ['compressor-side', 0.15]], present.sinceMs, [{ says, for: 'runs-without-end', weight: 2 }, below])];
}

/** The tank came to its usual stop and has fallen since: the run ended, and the packet that said so was lost. */
function hasStopped({ runPeak }: Present, normal: Normal): boolean {
  const stopKPa = normal.cycles.usual?.stopKPa ?? normal.cutOutKPa;
  return runPeak !== null && stopKPa !== null && runPeak[0] > stopKPa - SWITCH_TOLERANCE_KPA && runPeak[1] < runPeak[0] - SWITCH_TOLERANCE_KPA;
}

function notStarting(present: Present, normal: Normal): Condition[] {
  const cutInKPa = normal.cycles.usual?.startKPa ?? normal.cutInKPa;
  const tankKPa = freshValue(present.tankKPa, present.tankAtMs, present.frontierMs);
  // Counters come late: without a run state a low tank may well be a run under way.
  if (present.running !== false || present.belowSinceMs === null || tankKPa === null || cutInKPa === null) return [];
  if (present.frontierMs - present.belowSinceMs < 10 * MINUTE_MS) return [];
  const says = `The tank is at ${kPa(tankKPa)}, below its usual start at ${kPa(cutInKPa)} for ${minutes(present.frontierMs - present.belowSinceMs)}, and the compressor has not started.`;
  return [certainCondition('running', 'not-starting', 0.95, present.belowSinceMs, says, true)];
}

/** The last two stops came well below the usual one while the starts are as usual: a trip, a pressure switch, a timer. */
function stopsShort(normal: Normal): Condition[] {
  const { usual } = normal.cycles;
  const last = normal.cycles.last.slice(-2);
  if (usual === null || usual.stopKPa === null || usual.startKPa === null || last.length < 2) return [];
  const short = last.every((cycle) => cycle[4] !== null && cycle[4] < usual.stopKPa! - SWITCH_TOLERANCE_KPA - 10 && cycle[3] !== null && Math.abs(cycle[3] - usual.startKPa!) < SWITCH_TOLERANCE_KPA);
  if (!short) return [];
  const says = `The last two runs stopped at ${kPa(last[0]![4]!)} and ${kPa(last[1]![4]!)}; the usual stop is ${kPa(usual.stopKPa)}, and the starts are as usual.`;
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

function mixed(slot: Slot, causes: readonly (readonly [Cause, number])[], sinceMs: number, evidence: readonly Evidence[]): Condition {
  const named: CauseProbability[] = causes.map(([cause, probability]) => ({ cause, probability }));
  return { slot, cause: named[0]!.cause, causes: named, among: null, missingChannels: [], onset: { earliestMs: sinceMs, likelyMs: sinceMs, latestMs: sinceMs }, evidence, urgent: true, size: 1 };
}

function freshValue(value: number | null, atMs: number | null, nowMs: number): number | null {
  return value !== null && atMs !== null && nowMs - atMs <= FRESH_MS ? value : null;
}

const kPa = (value: number): string => `${Math.round(value)} kPa`;
const minutes = (ms: number): string => `${Math.round(ms / MINUTE_MS)} min`;
const hours = (ms: number): string => (ms < 2 * HOUR_MS ? minutes(ms) : `${Math.round((ms / HOUR_MS) * 10) / 10} h`);
