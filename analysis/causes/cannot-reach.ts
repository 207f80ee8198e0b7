import type { Entry } from '../../shared/entry.ts';
import type { Cause, CauseProbability } from '../../shared/finding.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { type Normal, type Present, SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { nameCause } from './name-cause.ts';
import { dayWords, kPaText } from './evidence.ts';

/** Cycles whose runs and rests tell what went wrong before the stop couldn't be reached. */
const LAST_CYCLES = 4;

/** Pressure before the elements this far below what it is in good runs: the air goes elsewhere, or isn't made. Common practice, no source. */
const LOST_HEAD_KPA = 60;

/**
 * The stop isn't reached, so demand has come up to delivery: no fault of the switch. Which of them moved is told, in this
 * order, by the pressure before the elements; by the tank, which falls at its usual pace where nothing is made; by the last
 * rests and runs: demand shortens the rests, lost delivery lengthens the runs alone (design, section 6). Where none of them
 * moved it came within this run, and a leak large enough for that is as rare as a drain that stands open. `visit`: a service
 * that ended within the day before.
 */
export function cannotReach(present: Present, normal: Normal, visit: Entry | undefined, shortKPa: number, says: string): Condition {
  const told = lostSide(present, normal);
  const onset = { earliestMs: present.sinceMs, likelyMs: present.sinceMs, latestMs: present.sinceMs };
  // Near the stop, delivery is almost what is drawn: the switch itself may be the matter, if it moved up.
  const end = shortKPa < SWITCH_TOLERANCE_KPA ? 0.2 : 0.08;
  const near = visit === undefined ? [] : [{ says: `It began within a day of the visit of ${dayWords(visit.startedAt, normal.timeZone)}.`, for: 'bleed-left-open' as const, weight: 1.5 }];
  if (told !== null && told.all === true && visit !== undefined) {
    return mixedCondition('delivery', FEED_SHUT, present.sinceMs, [{ says: `${says}: ${balanceWords(present)}. ${told.says}`, for: 'valve-left-shut', weight: 2 }, { says: `It began within a day of the visit of ${dayWords(visit.startedAt, normal.timeZone)}: the feed valve may be shut, or a bleed before the tank wide open.`, for: 'valve-left-shut', weight: 1.5 }]);
  }
  if (told !== null && told.side === 'delivery') {
    const causes = mixed([['drain-stuck-open', told.atOnce ? 0.5 : 0.3], ['compressor-side', 0.45 - end], ['element-loading', told.atOnce ? 0.05 : 0.25], ['runs-without-end', end]], visit);
    return { ...nameCause('delivery', { causes }, normal.sees, onset, [{ says: `${says}: ${balanceWords(present)}. ${told.says}`, for: 'drain-stuck-open', weight: 1.5 }, ...near], 1), urgent: true };
  }
  const leak = told === null ? 0.42 : 0.75;
  const other = (1 - leak - end) / 2;
  const causes = mixed([['leak', leak], ['drain-stuck-open', other], ['compressor-side', other], ['runs-without-end', end]], visit);
  return mixedCondition('demand', causes.map(({ cause, probability }) => [cause, probability]), present.sinceMs, [{ says: `${says}: ${balanceWords(present)}.${told === null ? '' : ` ${told.says}`}`, for: causes[0]!.cause, weight: 1 }, ...near]);
}

/** Of what a visit leaves behind, what lets nothing at all through to the tank. Common practice, no source. */
const FEED_SHUT: readonly (readonly [Cause, number])[] = [['valve-left-shut', 0.6], ['bleed-left-open', 0.25], ['drain-stuck-open', 0.08], ['compressor-side', 0.07]];

/** Right after a visit, what it left open comes before everything that breaks by itself. Common practice, no source. */
const LEFT_OPEN = 0.6;

function mixed(causes: readonly (readonly [Cause, number])[], visit: Entry | undefined): CauseProbability[] {
  const all = visit === undefined ? causes : [['bleed-left-open', LEFT_OPEN] as const, ...causes.map(([cause, probability]) => [cause, probability * (1 - LEFT_OPEN)] as const)];
  return all.map(([cause, probability]) => ({ cause, probability })).sort((one, other) => other.probability - one.probability);
}

/** Without a rest demand can't be told; only the sign of the tank's slope is left (design, section 6). Less in an hour is a tank that stands, kPa. */
const STANDS_KPA = 2;
/** The trail must lie in this run for so long, and the run's start itself, which fills, not count. */
const LEAST_TRAIL_MS = 30 * MINUTE_MS;
const STARTED_MS = 10 * MINUTE_MS;

/** By how much the tank rises in an hour, kPa, by its pressures since the tenth minute of a run; `undefined` where these are of less than half an hour. */
export function risesPerHour(tankTrail: Present['tankTrail'], sinceMs: number | null): number | undefined {
  const inRun = tankTrail.filter(([atMs]) => sinceMs !== null && atMs - sinceMs >= STARTED_MS);
  const [first, last] = [inRun[0], inRun.at(-1)];
  return first === undefined || last === undefined || last[0] - first[0] < LEAST_TRAIL_MS ? undefined : ((last[1] - first[1]) * HOUR_MS) / (last[0] - first[0]);
}

/** Whether more is drawn than made, by where the tank went over the last hour of the run. */
export function balanceWords({ tankTrail, sinceMs }: Pick<Present, 'tankTrail' | 'sinceMs'>): string {
  const perHour = risesPerHour(tankTrail, sinceMs);
  if (perHour === undefined) return 'as much is drawn as is made';
  if (Math.abs(perHour) < STANDS_KPA) return 'it stands still, so as much is drawn as is made';
  return perHour < 0 ? `it falls by ${kPaText(-perHour)} an hour while the compressor runs, so more is drawn than is made` : `it rises by only ${kPaText(perHour)} an hour, so nearly as much is drawn as is made`;
}

type LostSide = { readonly side: 'demand' | 'delivery'; readonly atOnce: boolean; /** Next to nothing is made. */ readonly all?: true; readonly says: string };

/** How fast the tank falls in this run, as a share of how fast it falls in a usual rest; `undefined` where that isn't known. */
function fallShare({ tankKPaPerMin }: Present, { cycles: { usual, last }, cutInKPa }: Normal): number | undefined {
  // A tank that is read rarely is seldom seen as runs begin.
  const startKPa = usual?.startKPa ?? cutInKPa;
  if (tankKPaPerMin === null || usual === null || startKPa === null || usual.stopKPa === null || usual.stopKPa <= startKPa) return undefined;
  const restS = median(last.slice(0, -LAST_CYCLES).map((cycle) => cycle[2])) ?? usual.longestRestS;
  return (-tankKPaPerMin * restS) / 60 / (usual.stopKPa - startKPa);
}

const LEAST_FALL = 0.45;
const isUsualFall = (share: number): boolean => share > LEAST_FALL && share < 1.6;

/** Since its run began the tank falls as in a usual rest: what fills an empty piping falls faster, and what is made falls slower. */
export function makesNothing(present: Present, normal: Normal): boolean {
  const share = fallShare(present, normal);
  return share !== undefined && isUsualFall(share);
}

/** Below this share of its start a tank feeds no piping. Common practice, no source. */
const EMPTY_SHARE = 0.3;

function standsEmpty({ tankKPa, tankTrail, sinceMs }: Present, { cycles: { usual }, cutInKPa }: Normal): boolean {
  const startKPa = usual?.startKPa ?? cutInKPa;
  const perHour = risesPerHour(tankTrail, sinceMs);
  return tankKPa !== null && startKPa !== null && perHour !== undefined && tankKPa < EMPTY_SHARE * startKPa && perHour < STANDS_KPA;
}

/** Between the compressor and the tank nothing comes through, or all of it goes elsewhere. */
const NOTHING_MADE: LostSide = { side: 'delivery', atOnce: true, all: true, says: 'The tank falls while the compressor runs, as fast as in a usual rest: next to nothing is made.' };

function lostSide(present: Present, normal: Normal): LostSide | null {
  const { last } = normal.cycles;
  if (present.dischargeKPa !== null && normal.dischargeKPa !== null && present.dischargeKPa < normal.dischargeKPa - LOST_HEAD_KPA) return { side: 'delivery', atOnce: true, says: `The pressure before the elements is ${kPaText(present.dischargeKPa)}, in good runs ${kPaText(normal.dischargeKPa)}: less is made.` };
  // Little flow through the membrane is purer, much is less pure.
  const oxygen = present.nitrogenPercent === null || normal.nitrogenPercent === null ? 1 : (100 - present.nitrogenPercent) / Math.max(0.01, 100 - normal.nitrogenPercent);
  const is = `Nitrogen is ${present.nitrogenPercent?.toFixed(2)} %`;
  const good = `that of good runs (${normal.nitrogenPercent?.toFixed(2)} %)`;
  if (oxygen > 1.3) return { side: 'demand', atOnce: true, says: `${is}, below ${good}, as it is when much is drawn.` };
  const share = fallShare(present, normal);
  if (share !== undefined && isUsualFall(share)) return NOTHING_MADE;
  if (oxygen < 0.5) return { side: 'delivery', atOnce: true, says: `${is}, purer than ${good}: little comes through.` };
  if (share !== undefined && share > 2.5) return { side: 'demand', atOnce: true, says: 'The tank falls while the compressor runs, faster than in any usual rest: more is drawn.' };
  const before = last.slice(0, -LAST_CYCLES);
  if (before.length < 8) return null;
  const rests = Math.log(median(before.map((cycle) => cycle[2]))! / median(last.slice(-LAST_CYCLES).map((cycle) => cycle[2]))!);
  const runs = Math.log(median(last.slice(-LAST_CYCLES).map((cycle) => cycle[1]))! / median(before.map((cycle) => cycle[1]))!);
  if (rests > Math.max(0.2, runs / 2)) return { side: 'demand', atOnce: false, says: 'Rests had become shorter before.' };
  if (runs > 0.3) return { side: 'delivery', atOnce: false, says: 'Runs had become longer before while rests had not become shorter: less is made.' };
  // A leak is as likely to begin in any minute, and most minutes are rest; a drain sticks and a belt slips in a run.
  const lastS = last.at(-1)![2];
  const usualS = median(before.map((cycle) => cycle[2]))!;
  if (lastS < 0.5 * usualS) return { side: 'demand', atOnce: true, says: `The rest before it lasted ${minutes(lastS)} min instead of ${minutes(usualS)} min: more is drawn.` };
  // A rest many times as long is none that ended by the tank's fall.
  if (lastS < 0.75 * usualS || lastS > OUTAGE_TIMES * usualS || usualS < 3 * median(before.map((cycle) => cycle[1]))!) return null;
  const rest = `The rest before it was as long as usual (${minutes(lastS)} min)`;
  // Piping that stands above its tank draws nothing from it: what is made would raise it.
  if (standsEmpty(present, normal)) return { ...NOTHING_MADE, says: `${rest}, and now the tank doesn't rise from far below its start while the compressor runs: next to nothing is made.` };
  // No more is drawn than it was, and yet the tank falls as fast as where nothing is made, or faster.
  return share !== undefined && share > LEAST_FALL ? { ...NOTHING_MADE, says: `${rest}, and the tank falls as in a rest while the compressor runs: next to nothing is made.` } : { side: 'delivery', atOnce: true, says: `${rest}: less is made.` };
}

/** A rest so many times as long as usual was an outage. Common practice, no source. */
const OUTAGE_TIMES = 3;

const minutes = (seconds: number): string => String(Math.round(seconds / 60));
