import { sampleStandardDeviation } from 'simple-statistics';
import type { Sees } from '../../shared/distinguish.ts';
import type { Entry } from '../../shared/entry.ts';
import type { CauseProbability } from '../../shared/finding.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { mad, median, quantile } from '../change/robust.ts';
import { SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import type { Condition } from './condition.ts';
import { nameCause } from './name-cause.ts';
import { purgedAt, purgedBetween } from './purges.ts';
import { badness, bandKPa, type CycleWeek, type RecentCycle, type RecentCycles, WEEK_MS } from './recent-cycles.ts';

/** So many whole cycles must all say so, over so long at least: users draw in bursts of an hour or two. Common practice, no source. */
const CYCLES = 6;
const LEAST_MS = 4 * HOUR_MS;
/** Cycles before that say what is usual and how they scatter, of the last so many days. */
const LEAST_BEFORE = 20;
const BEFORE_MS = 14 * DAY_MS;
/** ln by which demand and delivery must be worse than ever in eight weeks, and in standard deviations of a cycle. Common practice, no source. */
const LEAST_DEMAND = 0.3;
const LEAST_DELIVERY = 0.1;
/** One week has hardly seen how much people draw on a day: then it must be twice as much. Common practice, no source. */
const LEAST_WEEKS = 2;
const LEAST_DEMAND_YOUNG = Math.LN2;
const LEAST_SD = 4;
const MOST_SHARE = 0.95;
/** What broke makes cycles that are as alike as those before; people who draw in bursts don't: so much wider, and so much of ln at least. Common practice, no source. */
const WIDER = 3;
const LEAST_WIDTH = 0.04;
/** A visit's own changes are looked at elsewhere. */
const AFTER_SERVICE_MS = 2 * DAY_MS;
/** What a test let out of the piping is made up for within so long. Common practice, no source. */
const AFTER_TEST_MS = 12 * HOUR_MS;
const SPEAKS_FOR_MS: Readonly<Record<Entry['kind'], number>> = { service: AFTER_SERVICE_MS, 'set-point': AFTER_SERVICE_MS, 'low-pressure-test': AFTER_TEST_MS, 'hold-test': AFTER_TEST_MS, 'trip-test': AFTER_TEST_MS, purge: AFTER_TEST_MS, impairment: AFTER_TEST_MS };

/**
 * What changed so much, within hours, that single cycles tell: the last six whole cycles all draw more, or all make less, than
 * the cycles before and than any week of the last eight. Quarters and days take over as soon as they know; needs starts and stops
 * as they happen.
 */
export function abruptChange(cycles: RecentCycles, entries: readonly Entry[], frontierMs: number, sees: Sees): Condition[] {
  const last = cycles.last.slice(-CYCLES);
  const fromMs = last[0]?.[0] ?? frontierMs;
  const endMs = Math.max(...last.map(endOf));
  if (last.length < CYCLES || endMs - fromMs < LEAST_MS || frontierMs - endMs > LEAST_MS || isDisturbed(entries, fromMs)) return [];
  const before = cycles.last.slice(0, -CYCLES).filter((cycle) => cycle[0] > fromMs - BEFORE_MS);
  const banded = [...before, ...last].every((cycle) => bandKPa(cycle) !== null);
  if (before.length < LEAST_BEFORE) return [];
  const weeks = cycles.weeks.filter((week) => !banded || week.bandKPa !== null);
  const demand = badness('demand', banded);
  const delivery = badness('delivery', banded);
  const more = worseBy(() => before, last, weeks.filter((week) => !purgedBetween(entries, week.startMs, week.startMs + WEEK_MS)), demand, LEAST_DEMAND);
  const less = worseBy(() => atTheirRests(before, last), last, weeks, delivery, LEAST_DELIVERY);
  const isYoung = weeks.length < LEAST_WEEKS;
  if (less === 0 && (more === 0 || (isYoung && more < LEAST_DEMAND_YOUNG))) return [];
  const startKPa = banded ? median(before.map((cycle) => cycle[3]!))! : 0;
  // What begins below the usual start is a refill.
  if (banded && last.some((cycle) => Math.abs(cycle[3]! - startKPa) > SWITCH_TOLERANCE_KPA)) return [];
  const onset = { earliestMs: endOf(before.at(-1)!), likelyMs: fromMs, latestMs: fromMs };
  if (less > 0) return [nameCause('delivery', { causes: LESS_MADE }, sees, onset, [{ says: `The last ${CYCLES} runs took longer at the same rests: ${Math.round(-Math.expm1(-less) * 100)} % less is made.`, for: LESS_MADE[0]!.cause, weight: 2 }], less)];
  // What runs back is made and drawn alike; more than a seat lets through is let out.
  const amount = (of: (cycle: RecentCycle) => number): number => Math.exp(median(last.map(of))!) - Math.exp(median(before.map(of))!);
  const causes = more < MOST_RUNS_BACK && amount((cycle) => -delivery.ofCycle(cycle)) > amount(demand.ofCycle) / 2 ? RUNS_BACK : MORE_DRAWN;
  return [nameCause('demand', { causes }, sees, onset, [{ says: `The last ${CYCLES} rests were shorter than any week's: ${Math.round(Math.expm1(more) * 100)} % more is drawn.`, for: causes[0]!.cause, weight: 2 }], more)];
}

/** By how often these come at once. Common practice, no source. */
const MORE_DRAWN: readonly CauseProbability[] = [{ cause: 'leak', probability: 0.9 }, { cause: 'check-valve-leaking', probability: 0.1 }];
const RUNS_BACK: readonly CauseProbability[] = [{ cause: 'check-valve-leaking', probability: 0.75 }, { cause: 'leak', probability: 0.25 }];
/** ln of a rise of demand; a purge is three times as much and more. Common practice, no source. */
const MOST_RUNS_BACK = Math.log(3);
const LESS_MADE: readonly CauseProbability[] = [{ cause: 'drain-stuck-open', probability: 0.6 }, { cause: 'compressor-side', probability: 0.2 }, { cause: 'element-loading', probability: 0.1 }, { cause: 'membrane-decline', probability: 0.1 }];

const endOf = ([startMs, runS, restS]: RecentCycle): number => startMs + 1000 * (runS + restS);

function isDisturbed(entries: readonly Entry[], fromMs: number): boolean {
  return purgedAt(entries, fromMs) || entries.some((entry) => Date.parse(entry.finishedAt ?? entry.startedAt) > fromMs - SPEAKS_FOR_MS[entry.kind]);
}

/** Rests are the same within so much of ln, where so many of those before are. Common practice, no source. */
const SAME_REST = 0.15;
const LEAST_SAME = 6;

/** The cycles before with rests like the last: one that a burst of drawing cuts short begins a run of another length. */
function atTheirRests(before: readonly RecentCycle[], last: readonly RecentCycle[]): readonly RecentCycle[] {
  const restLog = median(last.map((cycle) => Math.log(cycle[2])))!;
  const same = before.filter((cycle) => Math.abs(Math.log(cycle[2]) - restLog) < SAME_REST);
  return same.length < LEAST_SAME ? before : same;
}

/** ln by which all the last are worse than nearly all before and than every week; 0 where that is within what wanders, or where they are unlike each other. */
function worseBy(before: () => readonly RecentCycle[], last: readonly RecentCycle[], weeks: readonly CycleWeek[], { ofCycle, ofWeek }: ReturnType<typeof badness>, least: number): number {
  const values = last.map(ofCycle);
  const now = Math.min(...values);
  const worstWeek = Math.max(-Infinity, ...weeks.map(ofWeek));
  // Asked first, as it costs least: at nearly every tick some week was as bad.
  if (now - worstWeek <= least) return 0;
  const usual = before().map(ofCycle);
  const centre = median(usual)!;
  if (sampleStandardDeviation(values) > LEAST_WIDTH + WIDER * mad(usual, centre)!) return 0;
  const by = now - Math.max(centre, worstWeek);
  return by > Math.max(least, LEAST_SD * mad(usual, centre)!) && now > quantile(usual, MOST_SHARE)! ? by : 0;
}
