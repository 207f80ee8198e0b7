import type { Entry } from '../../shared/entry.ts';
import type { Cause } from '../../shared/finding.ts';
import type { Part } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { mad, median, quantile } from '../change/robust.ts';
import { type Present, SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { dayWords } from './evidence.ts';
import { MENDS_DEMAND } from './mends.ts';
import { purgedAt, purgedBetween } from './purges.ts';
import { lastSetMs } from './stops-short.ts';
import { badness, bandKPa, type CycleWeek, type RecentCycle, type RecentCycles, WEEK_MS } from './recent-cycles.ts';

/** A service is looked back at by single cycles for so long; then quarters and days know more. */
const LOOKED_AT_MS = 2 * DAY_MS;
/** Whole cycles after the visit that there must be (design, section 5: a bleed is due by the end of the second), and how many of the first ones must all agree: people draw air in bursts. */
const CYCLES = 2;
const MOST_CYCLES = 6;
/** Cycles before it that say what is usual, and how they scatter. */
const LEAST_BEFORE = 12;
/** ln by which demand and delivery must be worse at least, and in standard deviations of the mean of two cycles: users wander, a compressor hardly does. Common practice, no source. */
const LEAST_DEMAND = 0.22;
const LEAST_DELIVERY = 0.08;
/** Where the tank's samples alone tell how long a run was, by their own steps. */
const LEAST_UNSENT = 0.25;
/** So many cycles show a smaller loss of delivery, nearly all of them alike; where new elements were put in it should have risen. Common practice, no source. */
const MANY_CYCLES = 10;
const LEAST_BY_MANY = 0.04;
const ALIKE_SHARE = 0.9;
/** A bleed stays as it is: what gets less by so much from the first cycle to the last is piping that fills up again after a repair. Common practice, no source. */
const STAYS_SHARE = 0.7;
/** Work after which delivery may be smaller by right: a check valve that leaked made it look larger by what ran back, a new membrane passes what its bore is. */
const CHANGES_DELIVERY: ReadonlySet<Part> = new Set(['check-valve', 'membrane', 'compressor', 'pressure-switch']);
const LEAST_SD = 5;
/** Or so many beyond nine in ten of them, where cycles are unlike each other: all of the first ones. */
const BEYOND_SD = 1;
/** What some of the cycles before were as bad as is no news. */
const MOST_SHARE = 0.9;
/** By which chances. Common practice, no source. */
const OPEN: Readonly<Record<'demand' | 'delivery', readonly (readonly [Cause, number])[]>> = { demand: [['bleed-left-open', 0.7], ['leak', 0.3]], delivery: [['bleed-left-open', 0.85], ['drain-stuck-open', 0.15]] };

/**
 * Whether the first whole cycles after the last service, two at least, all say that something was left open: shorter rests draw
 * more from the tank or the piping, longer runs at the same rest make less (a bleed on a bowl or on the feed side). By times,
 * and by the band where the tank's pressure is sent. A cycle that began below the usual start is the refill; one within a logged
 * purge is no usual one. The cycle under way counts by the rest that its fall makes likely. What the visit mended (a valve that was shut, a stop that came short) isn't what is usual: no week of
 * the last eight may have been as bad. `heardMs`: starts and stops are told as they happen, or null. `timeZone` is the site's.
 */
export function leftOpen(cycles: RecentCycles, entries: readonly Entry[], { frontierMs, heardMs, openCycle, bleedSaid }: Pick<Present, 'frontierMs' | 'heardMs' | 'openCycle' | 'bleedSaid'>, timeZone: string): Condition[] {
  const statesSent = heardMs !== null;
  const service = entries.findLast((entry) => entry.kind === 'service');
  if (service === undefined) return [];
  const servedMs = Date.parse(service.finishedAt ?? service.startedAt);
  const startedMs = Date.parse(service.startedAt);
  if (frontierMs - servedMs > LOOKED_AT_MS) return bleedSaid.filter(({ openedMs }) => openedMs > servedMs).flatMap((said) => staysOpen(said, cycles, entries, service));
  const earlier = cycles.last.filter((cycle) => cycle[0] + 1000 * (cycle[1] + cycle[2]) < startedMs);
  const usualStartKPa = median(earlier.flatMap((cycle) => cycle[3] ?? []));
  const lasted = cycles.last.filter((cycle) => cycle[0] > servedMs);
  // The second cycle speaks before it has ended; of two that are under way neither does.
  const since = (openCycle === null || openCycle[0] <= servedMs || lasted.length < CYCLES - 1 ? lasted : [...lasted, openCycle]).filter((cycle) => !purged(cycle, entries));
  // Where pressures don't tell the refill from a cycle, the first is taken for it.
  const all = usualStartKPa === undefined ? since.slice(1) : since.filter((cycle) => cycle[3] !== null && Math.abs(cycle[3] - usualStartKPa) < SWITCH_TOLERANCE_KPA);
  const whole = all.slice(0, MOST_CYCLES);
  if (whole.length < CYCLES) return [];
  const withBand = earlier.filter((cycle) => bandKPa(cycle) !== null);
  const banded = withBand.length >= LEAST_BEFORE && whole.every((cycle) => bandKPa(cycle) !== null);
  const before = banded ? withBand : earlier;
  if (before.length < LEAST_BEFORE) return [];
  // Times alone can't be held against those of another band.
  const setMs = banded ? 0 : lastSetMs(entries);
  if (setMs > before[0]![0]) return [];
  const weeks = cycles.weeks.filter((week) => week.startMs > setMs && week.startMs < startedMs && (!banded || week.bandKPa !== null));
  const mended = service.replaced.some((part) => MENDS_DEMAND.has(part));
  const demand = worseBy(before, whole, { weeks: weeks.filter((week) => !purgedBetween(entries, week.startMs, week.startMs + WEEK_MS)), mended }, badness('demand', banded), LEAST_DEMAND);
  const byFew = worseBy(before, whole, { weeks, mended }, badness('delivery', banded), statesSent ? LEAST_DELIVERY : LEAST_UNSENT);
  const delivery = byFew > 0 || !banded || !statesSent ? byFew : worseByMany(before, all, weeks, service);
  const at = dayWords(service.startedAt, timeZone);
  if (delivery > 0 && !service.replaced.some((part) => CHANGES_DELIVERY.has(part))) return [mixedCondition('delivery', OPEN.delivery, servedMs, [{ says: `Since the visit of ${at} runs are longer at the same rests: ${Math.round(-Math.expm1(-delivery) * 100)} % less is made. A bleed on the feed side may stand open.`, for: 'bleed-left-open', weight: 2.5 }])];
  if (demand > 0 && !purgedAt(entries, servedMs) && !ranDry(cycles, servedMs)) return [mixedCondition('demand', OPEN.demand, servedMs, [{ says: `Since the visit of ${at} rests are shorter: ${Math.round(Math.expm1(demand) * 100)} % more is drawn. A bleed or a drain on the tank's side may stand open.`, for: 'bleed-left-open', weight: 2.5 }])];
  return [];
}

/** A rest so many times as long as usual, and so long, that ended with the visit: the piping ran down meanwhile, and is filled again. Common practice, no source. */
const DRY_TIMES = 3;
const DRY_S = 12 * 3600;
const DRY_WITHIN_MS = DAY_MS;

function ranDry({ last }: RecentCycles, servedMs: number): boolean {
  const restS = median(last.map((cycle) => cycle[2]))!;
  return last.some(([startMs, runS, rested]) => rested > Math.max(DRY_S, DRY_TIMES * restS) && Math.abs(startMs + 1000 * (runS + rested) - servedMs) < DRY_WITHIN_MS);
}

/** What was told of the visit, and by quarters and days isn't sure or isn't known to be the visit's, stands while the last cycles are worse by half of what it takes than in every week before. */
function staysOpen({ slot, evidence }: Present['bleedSaid'][number], cycles: RecentCycles, entries: readonly Entry[], service: Entry): Condition[] {
  const servedMs = Date.parse(service.finishedAt ?? service.startedAt);
  const setMs = lastSetMs(entries);
  const last = cycles.last.filter((cycle) => cycle[0] > servedMs && !purged(cycle, entries)).slice(-MANY_CYCLES);
  const all = cycles.weeks.filter((week) => week.startMs > setMs && week.startMs + WEEK_MS <= Date.parse(service.startedAt) && (slot !== 'demand' || !purgedBetween(entries, week.startMs, week.startMs + WEEK_MS)));
  const banded = last.every((cycle) => bandKPa(cycle) !== null) && all.some((week) => week.bandKPa !== null);
  const weeks = all.filter((week) => !banded || week.bandKPa !== null);
  if (last.length < CYCLES || weeks.length === 0 || setMs > servedMs) return [];
  const { ofCycle, ofWeek } = badness(slot, banded);
  const by = median(last.map(ofCycle))! - Math.max(...weeks.map(ofWeek));
  return by > (slot === 'demand' ? LEAST_DEMAND : LEAST_DELIVERY) / 2 ? [mixedCondition(slot, OPEN[slot], servedMs, evidence)] : [];
}

function purged(cycle: RecentCycle, entries: readonly Entry[]): boolean {
  return entries.some((entry) => entry.kind === 'purge' && Date.parse(entry.startedAt) < cycle[0] + 1000 * (cycle[1] + cycle[2]) && Date.parse(entry.finishedAt ?? entry.startedAt) > cycle[0]);
}

/** ln by which delivery is less in nearly all of many cycles since than in the middle one before and in every week. */
function worseByMany(before: readonly RecentCycle[], since: readonly RecentCycle[], weeks: readonly CycleWeek[], { replaced }: Entry): number {
  if (since.length < MANY_CYCLES || !since.every((cycle) => bandKPa(cycle) !== null) || replaced.some((part) => CHANGES_DELIVERY.has(part))) return 0;
  const { ofCycle, ofWeek } = badness('delivery', true);
  const usual = before.map(ofCycle);
  const centre = median(usual)!;
  const by = quantile(since.map(ofCycle), 1 - ALIKE_SHARE)! - Math.max(centre, ...weeks.map(ofWeek));
  return by > LEAST_BY_MANY && by > (LEAST_SD * mad(usual, centre)!) / Math.sqrt(MANY_CYCLES) ? by : 0;
}

/** ln by which all cycles since are worse than the middle one before and than every week; 0 where that is within what wanders. */
function worseBy(before: readonly RecentCycle[], after: readonly RecentCycle[], { weeks, mended }: { readonly weeks: readonly CycleWeek[]; /** Something of demand was mended. */ readonly mended: boolean }, { ofCycle, ofWeek }: ReturnType<typeof badness>, least: number): number {
  const usual = before.map(ofCycle);
  const centre = median(usual)!;
  const worse = after.map((cycle) => ofCycle(cycle) - centre);
  if (mended && worse.at(-1)! < STAYS_SHARE * worse[0]! && worse.every((one, index) => index === 0 || one < worse[index - 1]!)) return 0;
  const worst = Math.max(centre, quantile(usual, MOST_SHARE)!, ...weeks.map(ofWeek));
  const by = Math.min(...after.map(ofCycle)) - worst;
  const sd = mad(usual, centre) ?? 0;
  return by > Math.max(least, Math.min((LEAST_SD * sd) / Math.sqrt(CYCLES), BEYOND_SD * sd)) ? by : 0;
}
