import type { Channel } from '../shared/channels.ts';
import type { RegisteredGenerator } from '../shared/registry.ts';
import { seesOf } from '../shared/distinguish.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../shared/time.ts';
import type { DaysJudged } from './causes/assess.ts';
import { median, quantile } from './change/robust.ts';
import { LATE_START_KPA, LET_DOWN, type Normal, type Present, type SaidOpen } from './causes/clock-view.ts';
import { risesPerHour } from './causes/cannot-reach.ts';
import type { LeftOut } from './causes/left-out.ts';
import { middleTimes, type RecentCycle } from './causes/recent-cycles.ts';
import { type Fill, oxygenAtReference } from './causes/day-series.ts';
import { mayBeSaidLate } from './cycles/late-start.ts';
import { type FoldState, STATE_HOLDS_MS } from './generator-fold.ts';
import { usualTold } from './causes/told-by-meter.ts';
import { usualByDays } from './usual-by-days.ts';
import { lowestStartKPa } from './usual-start.ts';

/** Mains state is sent on change, and at least daily. */
const POWER_HOLDS_MS = 26 * HOUR_MS;
const MOST_FILLS = 20;
const TRAIL_STEP_MS = 10 * MINUTE_MS;
const TRAIL_KEPT = 7;
const HOURS_KEPT = 49;

/** What the faults of the clock remember between ticks; plain JSON. */
export type ClockState = {
  /** Since when the tank has been below cut-in without a run. */
  belowSinceMs: number | null;
  /** It came there much faster than this tank ever falls; so through runs, until it has been at its start again. */
  belowSuddenly: boolean;
  /** How the tank moved in the first hour of the run that began then, kPa a minute. */
  runMove: [sinceMs: number, kPaPerMin: number] | null;
  /** Tank and piping pressure every 10 minutes of the last hour; of several risers that of the lowest, above what it is set to, so that one compares with another. */
  trail: [atMs: number, tankKPa: number | null, systemKPa: number | null][];
  /** The same every hour of the last two days: a visit may be logged hours after its end. Absent in what earlier builds saved. */
  hours?: [atMs: number, tankKPa: number][];
  systemHours?: [atMs: number, systemKPa: number][];
  /** The last long runs that filled something up, and times in which nothing started: none of them tells what is drawn or made. */
  fills: Fill[];
  /** Since when the piping has been let down. */
  systemLowSinceMs: number | null;
};

export function startClock(): ClockState {
  return { belowSinceMs: null, belowSuddenly: false, runMove: null, trail: [], fills: [], systemLowSinceMs: null };
}

/** Step by step lower, for as long as a test of the low-pressure switch doesn't last: such a test lets it fall at once, and then it rises. */
function sagsOn({ trail }: ClockState, leastKPa: number): boolean {
  const last = trail.slice(-SAG_STEPS).map((step) => step[2] ?? Infinity);
  return last.length === SAG_STEPS && last.every((kPa, index) => kPa < leastKPa - SAGS_KPA && (index === 0 || kPa <= last[index - 1]!)) && last[0]! - last.at(-1)! > SAGGING_KPA;
}

/** Tight piping that isn't fed loses a fraction of a kPa an hour: lower from hour to hour, but for what a gauge scatters, and by so much in all. Common practice, no source. */
const SINK_HOURS = 4;
const MOST_SINK_HOURS = 8;
const SCATTERS_KPA = 0.4;
const SUNK_KPA = 1.4;

function sinksOn({ systemHours = [] }: ClockState, leastKPa: number): boolean {
  const last = systemHours.slice(-MOST_SINK_HOURS - 1).map(([, kPa]) => kPa);
  const fromTop = last.slice(last.lastIndexOf(Math.max(...last)));
  return fromTop.length > SINK_HOURS && fromTop.at(-1)! < leastKPa - SAGS_KPA && fromTop[0]! - fromTop.at(-1)! > SUNK_KPA && fromTop.every((kPa, index) => index === 0 || kPa < fromTop[index - 1]! + SCATTERS_KPA);
}

type Known = { readonly registered: RegisteredGenerator; readonly judged: DaysJudged | undefined; readonly said: SaidOpen; /** When the piping was fed by something else or by nothing: no day of it says what is usual. */ readonly unfed: readonly LeftOut[] };

/** What goes on at the frontier and what is normal here; keeps the trail of pressures. */
export function lookAtClock(clock: ClockState, fold: FoldState, known: Known): { readonly present: Present; readonly normal: Normal } {
  const piping = lowestPiping(fold, known);
  const startSetKPa = startSet(known, fold.frontierMs);
  const present = presentOf(clock, fold, known, { piping, startSetKPa });
  clock.belowSinceMs = present.belowSinceMs;
  clock.belowSuddenly = present.belowSuddenly;
  clock.systemLowSinceMs = present.systemLowSinceMs;
  const { generator, site } = known.registered;
  const normal: Normal = { cycles: fold.cycles, ...usualByDays(known), usualTold: fold.told === undefined ? null : usualTold(fold.told), systemKPa: piping.normalKPa, systemSetKPa: piping.setKPa, lowPressureKPa: piping.lowKPa, cutInKPa: generator.cutInKPa ?? null, cutOutKPa: generator.cutOutKPa ?? null, setStartKPa: startSetKPa, setStopKPa: lastSet(known, 'cutOutKPa'), sees: known.judged?.sees ?? seesOf(new Set()), dischargeKPa: known.judged?.epochs.get('discharge')?.baseline.centre ?? null, nitrogenPercent: usualNitrogen(known), feedFall: known.judged?.epochs.get('feedFall')?.baseline ?? null, timeZone: site.timeZone };
  return { present, normal };
}

/** Nitrogen of good days at the room's temperature of the last closed day, per cent. */
function usualNitrogen({ judged }: Known): number | null {
  const centre = judged?.epochs.get('nitrogen')?.baseline.centre;
  return centre === undefined ? null : 100 - (100 - centre) / oxygenAtReference(judged!.rows.at(-1)?.roomC ?? null);
}

type Piping = { readonly kPa: number | null; readonly atMs: number | null; readonly normalKPa: number | null; readonly setKPa: number | null; readonly lowKPa: number | null; /** What it is below on a quarter of the last days at most. */ readonly leastKPa: number | null; /** What is kept of it is above this: among several risers another one may be the lowest the next time. */ readonly aboveKPa: number };

/** Lower than on other days by more than what a gauge scatters; and by how much it falls meanwhile, kPa. Common practice, no source. */
const SAGS_KPA = 1.5;
const SAGGING_KPA = 0.7;
/** Piping that is being filled rises by more, and one that nothing feeds falls by more. Common practice, no source. */
const RISES_KPA = 0.5;
const SAG_DAYS = 3;
const SAG_STEPS = 3;
/** A regulator with a dead band lets its piping fall for days before it fills it: the quarter of days that saw it lowest say how far. Common practice, no source. */
const SELDOM = 0.25;

/** The riser that is farthest below its own normal pressure. */
function lowestPiping(fold: FoldState, { registered, judged }: Known): Piping {
  const { risers } = registered.generator;
  let lowest: Piping | undefined;
  for (const [channel, [kPa, atMs]] of Object.entries(fold.systems) as [Channel, [number, number]][]) {
    const riser = risers.find((one) => channel === `system-pressure.${one.id}`) ?? risers[0];
    const learnedKPa = channel === 'system-pressure' ? judged?.epochs.get('system')?.baseline.centre : undefined;
    const least = fold.spanDays.flatMap((day) => day.spans[channel]?.[0] ?? []);
    // Nor above what is set: a gauge that a visit exchanged reads otherwise than on the days before.
    const leastKPa = least.length < SAG_DAYS ? null : Math.min(quantile(least, SELDOM)!, riser?.setKPa ?? Infinity);
    const aboveKPa = Object.keys(fold.systems).length === 1 ? 0 : (riser?.setKPa ?? fold.descriptors.usualSystemKPa[channel] ?? 0);
    const piping = { kPa, atMs, aboveKPa, normalKPa: learnedKPa ?? heldKPa(fold, channel, riser?.setKPa) ?? riser?.setKPa ?? fold.descriptors.usualSystemKPa[channel] ?? null, setKPa: riser?.setKPa ?? null, lowKPa: riser?.lowPressureKPa ?? null, leastKPa };
    if (lowest === undefined || (piping.normalKPa ?? 0) - kPa > (lowest.normalKPa ?? 0) - (lowest.kPa ?? 0)) lowest = piping;
  }
  return lowest ?? { kPa: null, atMs: null, normalKPa: risers[0]?.setKPa ?? null, setKPa: risers[0]?.setKPa ?? null, lowKPa: risers[0]?.lowPressureKPa ?? null, leastKPa: null, aboveKPa: 0 };
}

/** Piping that is told so low on each of so many days, within what gauges and weather make of it, is held there by its regulator: what nothing feeds falls on. Common practice, no source. */
const HELD_DAYS = 7;
const HELD_WITHIN_KPA = 3;

/** Where a riser was held on the last days before this one, if that is below what the registry has it set to. */
function heldKPa({ spanDays }: FoldState, channel: Channel, setKPa: number | undefined): number | undefined {
  const middles = spanDays.slice(-HELD_DAYS).flatMap(({ spans }) => (spans[channel] === undefined ? [] : [(spans[channel][0] + spans[channel][1]) / 2]));
  if (setKPa === undefined || middles.length < HELD_DAYS || Math.max(...middles) - Math.min(...middles) > HELD_WITHIN_KPA) return undefined;
  return Math.min(setKPa, median(middles)!);
}

function presentOf(clock: ClockState, fold: FoldState, known: Known, { piping, startSetKPa }: { readonly piping: Piping; readonly startSetKPa: number | null }): Present {
  const { frontierMs, tank, power, producing, descriptors } = fold;
  const state = producing ?? fold.running;
  const heard = state !== null && frontierMs - state[2] <= STATE_HOLDS_MS;
  // The cycles know better: where the message of a start or a stop got lost, the tank told them.
  const folded = heard && descriptors.run.phase !== null;
  const running = heard ? (folded ? descriptors.run.phase : state[0]) === 1 : null;
  const sinceMs = heard ? (folded ? descriptors.run.sinceMs : state[1]) : null;
  const usualStartKPa = lowestStartKPa(fold, known.registered.generator.cutInKPa) ?? known.registered.generator.cutInKPa ?? null;
  const cutInKPa = usualStartKPa === null ? null : Math.min(usualStartKPa, startSetKPa ?? Infinity);
  // A compressor that is called and doesn't start, where both are told.
  // One that is called for days and rests meanwhile has a full receiver: the air doesn't get through. What was said not to start still doesn't.
  const standsOn = known.said.missedStartMs !== null && fold.running !== null && fold.running[1] < known.said.missedStartMs;
  const stands = producing !== null && (frontierMs - producing[1] < CALLED_MS || standsOn) && fold.running !== null && fold.running[0] === 0 && frontierMs - fold.running[2] <= STATE_HOLDS_MS;
  const isLow = tank !== null && cutInKPa !== null && tank[0] < cutInKPa - LATE_START_KPA;
  // A tank that was read last before this rest began, in the run or before it, is filled since.
  const readSince = running !== false || sinceMs === null || (tank !== null && tank[1] >= sinceMs);
  const below = (running !== true || stands) && isLow && readSince && power?.[0] !== 0;
  const moved = movedSince(clock, frontierMs, tank?.[0] ?? null, piping.kPa === null ? null : piping.kPa - piping.aboveKPa);
  const told = heard ? { full: null, toldRest: null } : toldNow(fold);
  const tankTrail = clock.trail.flatMap(([atMs, kPa]) => (kPa === null ? [] : [[atMs, kPa] as const]));
  noteRun(clock, fold.frontierMs, tankTrail, running === true ? sinceMs : (told.full?.sinceMs ?? null));
  return {
    frontierMs,
    running,
    restUnsaid: folded && running === false && state[0] === 1,
    motorOn: fold.running !== null && frontierMs - fold.running[2] <= STATE_HOLDS_MS ? fold.running[0] === 1 : null,
    motorSinceMs: fold.running?.[1] ?? null,
    motorTimesSaid: fold.running?.[3] ?? 0,
    motorRuns: fold.motor ?? null,
    sinceMs,
    saidLate: mayBeSaidLate(descriptors),
    startedMs: descriptors.open?.startMs ?? null,
    startKPa: descriptors.open?.startKPa ?? null,
    openCycle: running === false && folded ? openCycleOf(fold) : null,
    heardMs: heard ? state[2] : null,
    timesSaid: heard ? state[3] : 0,
    ...tankShows(fold),
    meterSinceMs: fold.meter?.[1] ?? null,
    meterStillMs: fold.meter === null ? null : fold.meter[2] - fold.meter[1],
    isMetered: fold.told !== undefined || fold.meter !== null,
    ...told,
    tankKPaPerMin: clock.runMove !== null && clock.runMove[0] === (sinceMs ?? told.full?.sinceMs) ? clock.runMove[1] : moved.minutes === 0 ? null : moved.tankKPa / moved.minutes,
    dischargeKPa: descriptors.discharge !== null && running === true && sinceMs !== null && descriptors.discharge.atMs - sinceMs > 5 * MINUTE_MS ? descriptors.discharge.value : null,
    nitrogenPercent: inRunNitrogen(fold),
    tankHolds: tankHolds(fold, heard),
    crestKPa: fold.crest?.[0] ?? null,
    crestAtMs: fold.crest?.[1] ?? null,
    feedFalls: descriptors.feedFalls,
    tankTrail,
    tankHours: clock.hours ?? [],
    systemHours: piping.aboveKPa === 0 ? (clock.systemHours ?? []) : (clock.systemHours ?? []).map(([atMs, kPa]) => [atMs, kPa + piping.aboveKPa] as const),
    pipings: Object.keys(fold.systems).length,
    tankKPa: tank?.[0] ?? null,
    tankAtMs: tank?.[1] ?? null,
    belowSinceMs: below ? Math.max(clock.belowSinceMs ?? tank[1], stands ? fold.running![1] : 0) : null,
    belowSuddenly: isLow && jumped(clock, fold, cutInKPa - LATE_START_KPA),
    systemKPa: piping.kPa,
    systemAtMs: piping.atMs,
    systemSags: piping.kPa !== null && piping.leastKPa !== null && piping.kPa < piping.leastKPa - SAGS_KPA && (known.said.supplyOpen || sagsOn(clock, piping.leastKPa - piping.aboveKPa)),
    systemSinks: piping.leastKPa !== null && sinksOn(clock, piping.leastKPa - piping.aboveKPa),
    systemRises: moved.systemKPa > RISES_KPA,
    systemFalls: moved.systemKPa < -RISES_KPA,
    systemLowSinceMs: piping.kPa !== null && piping.normalKPa !== null && piping.kPa < LET_DOWN * piping.normalKPa ? (clock.systemLowSinceMs ?? piping.atMs) : null,
    power: power === null || frontierMs - power[2] > POWER_HOLDS_MS ? null : power[0] === 1,
    powerSinceMs: power?.[1] ?? null,
    powerHeardMs: power?.[2] ?? null,
    filling: descriptors.run.filling || moved.tankKPa > 5 || moved.systemKPa > 2,
    falling: moved.tankKPa < -5,
    ...known.said,
  };
}

/** What a meter says of the run or the rest under way. */
function toldNow({ told, frontierMs }: FoldState): Pick<Present, 'full' | 'toldRest'> {
  if (told === undefined || frontierMs - told.atMs > STATE_HOLDS_MS) return { full: null, toldRest: null };
  const { full, atMs: heardMs, restSinceMs, lastRestS, spanS } = told;
  return { full: full && { ...full, heardMs }, toldRest: restSinceMs < heardMs ? { sinceMs: restSinceMs, heardMs, lastRestS, spanS } : null };
}

/** Share of the band that the tank must have lost before its fall tells how long the rest will be: at first its gas cools, and it seems to fall faster. Common practice, no source. */
const FALL_TELLS = 0.5;

/** The cycle under way with the rest that it comes to if the tank falls on to its usual start as it did. */
function openCycleOf({ descriptors: { open, run }, tank, cycles: { usual } }: FoldState): RecentCycle | null {
  if (open === null || !open.seen || open.runS === 0 || open.stopKPa === null || tank === null || usual === null || usual.startKPa === null) return null;
  const bandKPa = open.stopKPa - usual.startKPa;
  const fellKPa = open.stopKPa - tank[0];
  const restS = (tank[1] - run.sinceMs) / 1000;
  if (bandKPa <= 0 || restS <= 0 || fellKPa < FALL_TELLS * bandKPa) return null;
  return [open.startMs, Math.round(open.runS), Math.round((restS * bandKPa) / fellKPa), open.startKPa, open.stopKPa];
}

/** For so long after a service a controller may stand where the registry says, whatever was usual before. Common practice, no source. */
const AS_REGISTERED_MS = 3 * DAY_MS;

/** A set point as it was logged last. */
function lastSet({ judged }: Known, name: 'cutInKPa' | 'cutOutKPa'): number | null {
  const kPa = judged?.entries.findLast((entry) => entry.adjusted[name] !== undefined)?.adjusted[name];
  return typeof kPa === 'number' ? kPa : null;
}

/** Where it is set to start, as it was logged last; just after a service as the registry has it, which may have been set again, or its gauge put right. */
function startSet(known: Known, nowMs: number): number | null {
  const setKPa = lastSet(known, 'cutInKPa');
  const { cutInKPa } = known.registered.generator;
  if (setKPa !== null || cutInKPa === undefined) return setKPa;
  const service = known.judged?.entries.findLast((entry) => entry.kind === 'service');
  return service !== undefined && Math.abs(nowMs - Date.parse(service.finishedAt ?? service.startedAt)) < AS_REGISTERED_MS ? cutInKPa : null;
}

/** No filling takes longer. Common practice, no source. */
const CALLED_MS = 24 * HOUR_MS;

/** A tank at rest falls at its own pace; so many times that is a gauge that jumped, or gas that was let out. */
const SUDDEN_TIMES = 8;

/** Whether the tank came below its start in one step, so much faster than it ever falls, and has stayed there: a gauge that jumped. Gas that is let out for a test falls in several. */
function jumped({ trail, belowSuddenly }: ClockState, { cycles }: FoldState, leastKPa: number): boolean {
  const { restS } = middleTimes(cycles);
  const { usual } = cycles;
  if (usual === null || usual.stopKPa === null || usual.startKPa === null || restS === undefined) return false;
  const usualPerMs = (usual.stopKPa - usual.startKPa) / (1000 * restS);
  const told = trail.flatMap(([atMs, kPa]) => (kPa === null ? [] : [[atMs, kPa] as const]));
  const steps = told.filter(([atMs, kPa], index) => index > 0 && told[index - 1]![1] - kPa > SUDDEN_TIMES * usualPerMs * (atMs - told[index - 1]![0])).length;
  const [before, now] = told.slice(-2);
  const comesNow = before !== undefined && now !== undefined && before[1] >= leastKPa && now[1] < leastKPa;
  return steps < 2 && (belowSuddenly || (comesNow && steps === 1));
}

/** How the tank moves is read while a long run is young: later it stands wherever it came to rest, and tells no more. */
const RUN_YOUNG_MS = 80 * MINUTE_MS;

/** Keep how the tank moves while a long run is young, from its tenth minute on. */
function noteRun(clock: ClockState, frontierMs: number, tankTrail: Present['tankTrail'], sinceMs: number | null): void {
  if (sinceMs === null || frontierMs - sinceMs > RUN_YOUNG_MS) return;
  const rises = risesPerHour(tankTrail, sinceMs);
  if (rises !== undefined) clock.runMove = [sinceMs, rises / 60];
}

const NITROGEN_SETTLES_S = 600;

function inRunNitrogen({ descriptors }: FoldState): number | null {
  const last = descriptors.samples.nitrogen.at(-1);
  return descriptors.run.phase !== 1 || last === undefined || last.atS < NITROGEN_SETTLES_S ? null : last.value * 100;
}

/** Samples of the tank in a usual run, or rest. */
const SHOWN_BY = 3;

function tankShows({ cycles, descriptors: { saw } }: FoldState): Pick<Present, 'tankShowsRuns' | 'tankShowsRests'> {
  const { runS, restS } = middleTimes(cycles);
  const shows = (spanS: number | undefined): boolean => spanS !== undefined && saw.usualS > 0 && spanS >= SHOWN_BY * saw.usualS;
  return { tankShowsRuns: shows(runS), tankShowsRests: shows(restS) };
}

/** Whether the tank has kept all but a fifth of its usual band since its usual stop. */
function tankHolds({ tank, cycles }: FoldState, heard: boolean): boolean | null {
  const { usual } = cycles;
  if (!heard || tank === null || usual === null || usual.stopKPa === null || usual.startKPa === null) return null;
  return tank[0] > usual.stopKPa - 0.2 * (usual.stopKPa - usual.startKPa);
}

/** How tank and piping moved over the last half hour to hour, kPa. */
function movedSince(clock: ClockState, frontierMs: number, tankKPa: number | null, systemKPa: number | null): { readonly tankKPa: number; readonly systemKPa: number; readonly minutes: number } {
  const { trail } = clock;
  if (trail.length === 0 || frontierMs - trail.at(-1)![0] >= TRAIL_STEP_MS) trail.push([frontierMs, tankKPa, systemKPa]);
  while (trail.length > TRAIL_KEPT) trail.shift();
  noteHour((clock.hours ??= []), frontierMs, tankKPa);
  noteHour((clock.systemHours ??= []), frontierMs, systemKPa);
  const earlier = trail.find(([atMs]) => frontierMs - atMs <= HOUR_MS + TRAIL_STEP_MS && frontierMs - atMs >= 2 * TRAIL_STEP_MS);
  const rise = (now: number | null, before: number | null | undefined): number => (now === null || before === null || before === undefined ? 0 : now - before);
  return { tankKPa: rise(tankKPa, earlier?.[1]), systemKPa: rise(systemKPa, earlier?.[2]), minutes: earlier === undefined || earlier[1] === null || tankKPa === null ? 0 : (frontierMs - earlier[0]) / MINUTE_MS };
}

function noteHour(hours: [atMs: number, kPa: number][], frontierMs: number, kPa: number | null): void {
  if (kPa === null || (hours.length > 0 && frontierMs - hours.at(-1)![0] < HOUR_MS)) return;
  hours.push([frontierMs, kPa]);
  if (hours.length > HOURS_KEPT) hours.shift();
}

/** Piping is filled within the hour by the standards, and within a day by anybody. Common practice, no source. */
const FILLS_WITHIN_MS = 24 * HOUR_MS;

/** What is one filling, though it paused; and up to this pause it shades no closed day or quarter that it didn't shade before, as none that began after it has ended. */
const SAME_FILL_MS = 12 * HOUR_MS;
const SHORT_PAUSE_MS = HOUR_MS;

/** Remember that the piping was let down, that a run was long enough to be a filling, or that nothing started (`stands`); gives whether closed days look different by it. */
export function noteFill(clock: ClockState, present: Present, normal: Normal, stands: boolean): boolean {
  // What stays down for longer isn't being filled, and is no reason to look away from it.
  const letDown = present.systemLowSinceMs !== null && present.frontierMs - present.systemLowSinceMs < FILLS_WITHIN_MS && present.systemAtMs! > present.frontierMs - HOUR_MS;
  const longRun = present.running === true && present.sinceMs !== null && present.frontierMs - present.sinceMs > Math.max(HOUR_MS, 3000 * (normal.cycles.usual?.longestRunS ?? 3600));
  if (!letDown && !(longRun && present.filling) && !stands) return false;
  const { fills } = clock;
  const last = fills.at(-1);
  const pausedMs = last === undefined ? Infinity : present.frontierMs - last[1];
  if (last !== undefined && pausedMs < SAME_FILL_MS) fills[fills.length - 1] = [last[0], present.frontierMs, last[2] || letDown];
  else fills.push([stands ? present.belowSinceMs! : longRun ? present.sinceMs : present.frontierMs, present.frontierMs, letDown]);
  if (fills.length > MOST_FILLS) fills.shift();
  return pausedMs > SHORT_PAUSE_MS;
}
