import type { DayRow } from '../../shared/cycle.ts';
import type { DaysJudged } from './assess.ts';
import { isUsableDay, lastRows } from './day-series.ts';
import type { Watching } from './change-watch.ts';
import { LET_DOWN } from './clock-view.ts';
import { MENDS_DEMAND, visitBefore } from './mends.ts';
import { shapeOf } from './shape.ts';

/** ln of what is left of demand: where nobody could have mended anything; where a visit mended something of demand; where it may have shut one of several risers. */
const DEMAND_LOST = -0.9;
const DEMAND_GONE = -2.3;
const RISER_LOST = -0.35;
/** Where no visit is near: more than users who come and go make it wander. */
const RISER_GONE = -0.45;
/** Chance of a step from which a loss that nobody was there for is one: valves are turned, leaks that are mended are logged. */
const AT_ONCE = 0.8;
/** Piping so far above its usual pressure within so many days is fed by what is in it. Common practice, no source. */
const SURPLUS_KPA = 10;
const SURPLUS_DAYS = 14;

/** Demand that falls is good news unless nearly all of it goes, or a riser's share does as a visit ends that mended nothing there. */
export function isLost(days: DaysJudged, { epoch, shift }: Watching): boolean {
  if (shift.effect > RISER_LOST || usesSurplus(days) || runsAsBefore(days, epoch.points[shift.onsetIndex]!.startMs, shift.effect)) return false;
  const manyRisers = days.registered.generator.risers.length > 1;
  const { onset, stepChance } = shapeOf(epoch.points, epoch.baseline, shift);
  const visit = visitBefore(days.entries, onset);
  if (visit === undefined && (standsLower(days) || !lastsOn(epoch, shift))) return false;
  if (visit === undefined) return shift.effect < DEMAND_LOST || (manyRisers && shift.effect < RISER_GONE && (stepChance ?? 0) > AT_ONCE);
  if (visit.replaced.some((part) => MENDS_DEMAND.has(part))) return shift.effect < DEMAND_GONE;
  return manyRisers || shift.effect < DEMAND_LOST;
}

/** People stay away for a long weekend, and come back. Common practice, no source. */
const AWAY_DAYS = 3;

/** As little is drawn for more days than people stay away, and on the last of them. */
function lastsOn({ points, baseline }: Watching['epoch'], { onsetIndex }: Watching['shift']): boolean {
  return points.length - onsetIndex > AWAY_DAYS && points.at(-1)!.value - baseline.centre < RISER_LOST;
}

/** Piping that stands so still for so many days is fed. Common practice, no source. */
const STANDS_KPA = 2;
const STANDS_DAYS = 3;

/** Piping that is held lower than it was, and isn't empty, leaks less; piping that isn't fed would fall on. */
function standsLower({ epochs }: DaysJudged): boolean {
  const system = epochs.get('system');
  const last = system?.points.slice(-STANDS_DAYS).map((point) => point.value) ?? [];
  return system !== undefined && last.length === STANDS_DAYS && Math.max(...last) < system.baseline.centre - SURPLUS_KPA && Math.max(...last) - Math.min(...last) < STANDS_KPA && Math.min(...last) > LET_DOWN * system.baseline.centre;
}

/** Days before that say how much it ran; of now so many that they would hold some runs, and the share of what demand fell by, as ln, that its run time must have fallen by too. Common practice, no source. */
const BEFORE_DAYS = 14;
const RUN_DAYS = [3, 10] as const;
const RUNS = 3;
const USUAL_RUN_S = 600;
const RUNS_LESS_SHARE = 0.4;

/** What isn't drawn isn't made: where the compressor runs as it did, gas goes in bursts that no rest shows. */
function runsAsBefore({ rows }: DaysJudged, sinceMs: number, effect: number): boolean {
  const before = lastRows(rows, BEFORE_DAYS, (row) => row.startMs < sinceMs && isUsableDay(row));
  if (before.length < RUN_DAYS[0]) return false;
  const dutyOf = (some: readonly DayRow[]): number => some.reduce((sum, row) => sum + row.runS, 0) / some.reduce((sum, row) => sum + row.coveredS, 0);
  const runsADay = before.reduce((sum, row) => sum + (row.starts > 0 ? row.starts : row.runS / USUAL_RUN_S), 0) / before.length;
  const now = lastRows(rows, Math.max(RUN_DAYS[0], Math.min(RUN_DAYS[1], Math.ceil(RUNS / runsADay))), isUsableDay);
  return Math.log(dutyOf(now) / dutyOf(before)) > RUNS_LESS_SHARE * effect;
}

/** Piping that stood above what it usually is, as by a regulator that crept or in warm weather, and comes down again, needs nothing meanwhile. */
function usesSurplus({ epochs }: DaysJudged): boolean {
  const system = epochs.get('system');
  if (system === undefined) return false;
  const mostKPa = Math.max(...system.points.slice(-SURPLUS_DAYS).map((point) => point.value));
  return mostKPa > system.baseline.centre + SURPLUS_KPA && system.points.at(-1)!.value < mostKPa - SURPLUS_KPA;
}
