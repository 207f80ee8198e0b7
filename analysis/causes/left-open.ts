import type { Entry } from '../../shared/entry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { mad, median } from '../change/robust.ts';
import { SWITCH_TOLERANCE_KPA } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import type { RecentCycles } from './recent-cycles.ts';

/** A service is looked back at by single cycles for so long; then quarters and days know more. */
const LOOKED_AT_MS = 2 * DAY_MS;
/** Whole cycles after the visit that there must be (design, section 5: a bleed is due by the end of the second), and how many of the first ones must all agree: people draw air in bursts. */
const CYCLES = 2;
const MOST_CYCLES = 6;
/** Cycles before it that say what is usual, and how they scatter. */
const LEAST_BEFORE = 12;
/** ln by which demand or delivery must be worse at least, and in standard deviations of the mean of two cycles. Common practice, no source. */
const LEAST = 0.22;
const LEAST_SD = 5;

/**
 * Whether the first whole cycles after a service, two at least, all say that something was left open: shorter rests draw more from the tank
 * or the piping, longer runs at the same rest make less (a bleed on a bowl or on the feed side). By times alone: demand goes
 * with 1/rest, delivery with 1/run + 1/rest (design, section 6). A cycle that began below the usual start is the refill.
 */
export function leftOpen(cycles: RecentCycles, service: Entry | undefined, frontierMs: number): Condition[] {
  if (service === undefined) return [];
  const servedMs = Date.parse(service.finishedAt ?? service.startedAt);
  if (frontierMs - servedMs > LOOKED_AT_MS) return [];
  const startedMs = Date.parse(service.startedAt);
  const before = cycles.last.filter((cycle) => cycle[0] + 1000 * (cycle[1] + cycle[2]) < startedMs);
  const usualStartKPa = median(before.flatMap((cycle) => cycle[3] ?? []));
  const since = cycles.last.filter((cycle) => cycle[0] > servedMs);
  // Where pressures don't tell the refill from a cycle, the first is taken for it.
  const whole = usualStartKPa === undefined ? since.slice(1) : since.filter((cycle) => cycle[3] !== null && Math.abs(cycle[3] - usualStartKPa) < SWITCH_TOLERANCE_KPA);
  if (before.length < LEAST_BEFORE || whole.length < CYCLES) return [];
  const demand = change(before, whole.slice(0, MOST_CYCLES), (cycle) => -Math.log(cycle[2]));
  const delivery = change(before, whole.slice(0, MOST_CYCLES), (cycle) => Math.log(1 / cycle[1] + 1 / cycle[2]));
  const at = service.startedAt.slice(0, 10);
  if (delivery.by < -delivery.least) return [mixedCondition('delivery', [['bleed-left-open', 0.8], ['drain-stuck-open', 0.2]], servedMs, [{ says: `Since the visit of ${at} runs are longer at the same rests: ${percent(-delivery.by)} less is made. A bleed on the feed side may stand open.`, for: 'bleed-left-open', weight: 2.5 }])];
  if (demand.by > demand.least) return [mixedCondition('demand', [['bleed-left-open', 0.65], ['leak', 0.35]], servedMs, [{ says: `Since the visit of ${at} rests are shorter: ${Math.round(Math.expm1(demand.by) * 100)} % more is drawn. A bleed or a drain on the tank's side may stand open.`, for: 'bleed-left-open', weight: 2.5 }])];
  return [];
}

type Recent = RecentCycles['last'][number];

function change(before: readonly Recent[], after: readonly Recent[], of: (cycle: Recent) => number): { readonly by: number; readonly least: number } {
  const usual = before.map(of);
  const centre = median(usual)!;
  const now = after.map(of);
  // All must say so: the one that says least counts.
  const apart = now.map((value) => value - centre);
  const by = apart.every((one) => one > 0) ? Math.min(...apart) : apart.every((one) => one < 0) ? Math.max(...apart) : 0;
  return { by, least: Math.max(LEAST, LEAST_SD * (mad(usual, centre) ?? 0) / Math.sqrt(CYCLES)) };
}

const percent = (log: number): string => `${Math.round(-Math.expm1(-log) * 100)} %`;
