import type { Entry } from '../shared/entry.ts';
import type { Forecast, LimitName } from '../shared/finding.ts';
import { DAY_MS } from '../shared/time.ts';
import type { DaysJudged } from './causes/assess.ts';
import { restartsOf } from './causes/baseline.ts';
import { oxygenAtReference, type SeriesPoint, type Watched, watchedPoint } from './causes/day-series.ts';
import type { Epoch } from './causes/epochs.ts';
import type { Shift } from './causes/find-shift.ts';
import { balanceCloses, nitrogenSettled } from './causes/limits.ts';
import { median } from './change/robust.ts';
import { stepOrRamp } from './change/step-or-ramp.ts';
import type { Wear } from './forecast/drift-filter.ts';
import { dropFromLives } from './forecast/drop-lives.ts';
import type { FleetLives } from './forecast/fleet-lives.ts';
import { mixCrossings, soonerCrossings } from './forecast/mix-crossings.ts';
import { forecastOf, type LimitAnswer, timeToLimit } from './forecast/time-to-limit.ts';

/** Newest values that a forecast looks at: older ones are another season's. */
const MOST_POINTS = 120;
/** Nitrogen is dated where a run of these days was long enough to be judged. */
const SETTLED_OF_DAYS = 7;
/** What the room was like of late: so many days. */
const ROOM_DAYS = 14;
/** Bowls and housing fill before the check valve opens, 0.2 to 2 min (design, section 6): the least of it; and the most that it takes of a run. */
const FILLS_S = 12;
const LEAST_DELIVERING = 0.93;
/** Days whose middle is the present run time and delivery. */
const PRESENT_DAYS = 7;
/** A rating is for another room and another pressure, and meters agree within 6 %: two standard errors. Common practice, no source. */
const RATING_SE = 0.03;
/** Oxygen cells agree within 0.35 % nitrogen at the worst, most of them within 0.2 %: two standard errors. Common practice, no source. */
const CELL_SE = 0.1;

/** A limit, the series that meets it, how likely it is beforehand that the series moves, and how what moves goes on: from tuning worlds (analysis/forecast/README.md). */
export type Outlook = { readonly limit: LimitName; readonly series: Watched; readonly side: 'above' | 'below'; readonly level: number | undefined; readonly trendPrior: number; readonly wear: Wear; readonly limitSe?: number };
/** The same for a change that was found; from tuning worlds too. */
const FOUND: { readonly trendPrior: number; readonly shape: Wear } = { trendPrior: 0.5, shape: { usualDays: 120, agedDays: 0 } };

/** Every limit of a generator, in the measure of its series. */
export function outlooksOf(judged: DaysJudged): Outlook[] {
  const { limits } = judged.registered.generator;
  return [
    { limit: 'dutyRatio', series: 'duty', side: 'above', level: Math.log(limits.dutyRatio), trendPrior: 0.1, wear: { usualDays: 2000, agedDays: 180 } },
    { limit: 'elementDropKPa', series: 'elementDrop', side: 'above', level: limits.elementDropKPa, trendPrior: 0.8, wear: { usualDays: 1500, agedDays: 220 } },
    { limit: 'nitrogen', series: 'nitrogen', side: 'below', level: leastNitrogen(judged), trendPrior: 0.15, wear: { usualDays: 1000, agedDays: 180 }, limitSe: CELL_SE },
    deliveryOutlook(leastDelivery(judged), isRated(judged) ? RATING_SE : 0),
  ];
}

function deliveryOutlook(level: number | undefined, limitSe: number): Outlook {
  return { limit: 'deliveryShare', series: 'delivery', side: 'below', level, trendPrior: 0.5, wear: { usualDays: 700, agedDays: 100 }, limitSe };
}

/** Whether its delivery may be held against its rating: of most of the last days the tank's balance closes. */
function isRated({ registered, rows }: Pick<DaysJudged, 'registered' | 'rows'>): boolean {
  if (rows.at(-1)?.unit !== 'NL/min' || registered.generator.ratedNLPerMin === undefined) return false;
  const made = rows.slice(-ROOM_DAYS).filter((row) => row.delivery !== null);
  return 2 * made.filter((row) => balanceCloses(row, registered)).length >= made.length;
}

/**
 * The logarithm of the least delivery, as the watched series has it: the share of what is rated, else of its own baseline.
 * The series is brought to one room temperature and the limit is not: it is moved by what that came to of late, and by what bowls and
 * housing take as runs begin.
 */
function leastDelivery({ registered, rows, epochs }: DaysJudged): number | undefined {
  const { limits, ratedNLPerMin } = registered.generator;
  const own = epochs.get('delivery')?.baseline.centre;
  if (!isRated({ registered, rows }) || ratedNLPerMin === undefined) return own === undefined ? undefined : own + Math.log(limits.deliveryShare);
  const corrections = rows.slice(-ROOM_DAYS).flatMap((row) => {
    const point = row.unit === 'NL/min' && row.delivery !== null ? watchedPoint(row, 'delivery') : undefined;
    return point === undefined ? [] : [point.value - Math.log((row.delivery as { value: number }).value)];
  });
  const correction = corrections.reduce((sum, value) => sum + value, 0) / Math.max(1, corrections.length);
  return Math.log(ratedNLPerMin * limits.deliveryShare * deliveringShare(rows.slice(-ROOM_DAYS))) + correction;
}

/** Share of a run in which it delivers: a rating is that of a steady flow, and a day's delivery is what was made over whole runs. 1 where runs aren't counted. */
function deliveringShare(rows: DaysJudged['rows']): number {
  const counted = rows.filter((row) => row.starts > 0 && row.runS > 0);
  const [runS, starts] = counted.reduce(([run, start], row) => [run + row.runS, start + row.starts], [0, 0]);
  return starts === 0 ? 1 : Math.max(LEAST_DELIVERING, 1 - FILLS_S / (runS / starts));
}

/** The least nitrogen, as the watched series has it: at its room temperature of late. */
function leastNitrogen({ registered, rows }: DaysJudged): number {
  const factors = rows.slice(-ROOM_DAYS).map((row) => oxygenAtReference(row.roomC));
  const factor = factors.reduce((sum, one) => sum + one, 0) / Math.max(1, factors.length);
  return 100 - 100 * (1 - registered.generator.nitrogenLimit) * (factors.length === 0 ? 1 : factor);
}

/** Whether purity was measured of late where it says something: short runs end before it settles. */
export function nitrogenSays({ rows, registered }: Pick<DaysJudged, 'rows' | 'registered'>): boolean {
  return rows.slice(-SETTLED_OF_DAYS).some((row) => nitrogenSettled(row, registered.generator.nitrogenAt));
}

/** When one limit will be crossed; `undefined` where its series isn't sent, can't be judged or is too short. */
export function forecastLimit(judged: DaysJudged, outlook: Outlook, nowMs: number, horizonDays: number, fleet: FleetLives | undefined): Forecast | undefined {
  const { limit, series, level } = outlook;
  if (level === undefined) return undefined;
  if (series === 'nitrogen' && !nitrogenSays(judged)) return undefined;
  const lookedAt = lookedAtOf(judged, series);
  if (lookedAt === undefined) return undefined;
  const answer = ask(lookedAt, outlook, nowMs, horizonDays);
  if (answer === undefined) return undefined;
  if ((series !== 'elementDrop' && series !== 'duty') || answer.state === 'past') return forecastOf(limit, answer.crossesMs);
  if (series === 'duty') {
    const asRatio = ask({ ...lookedAt, points: asRatios(lookedAt.points) }, { ...outlook, level: Math.exp(level) }, nowMs, horizonDays);
    const own = asRatio === undefined ? answer.crossesMs : mixCrossings(answer, asRatio, nowMs, horizonDays);
    const byDelivery = dutyByDelivery(judged, lookedAt.points, level, nowMs, horizonDays);
    return forecastOf(limit, byDelivery === undefined ? own : soonerCrossings(own, byDelivery.crossesMs));
  }
  // Earlier lives of elements, its own before all, tell more than any law of growth.
  const byLives = dropFromLives({ lived: judged, ...(fleet === undefined ? {} : { fleet }), limitKPa: level, nowMs, horizonDays });
  return forecastOf(limit, byLives ?? answer.crossesMs);
}

type LookedAt = { readonly points: readonly SeriesPoint[]; readonly beganMs?: number };

function lookedAtOf(judged: DaysJudged, series: Watched): LookedAt | undefined {
  const epoch = judged.epochs.get(series);
  return epoch && valuesSince(epoch, judged.byDay.get(series), judged.entries);
}

/** What was found to change goes on as fast as it may, and ends as it began; what wears is slow and doesn't. */
function ask({ points, beganMs }: LookedAt, { level, side, trendPrior, wear, limitSe = 0 }: Outlook, nowMs: number, horizonDays: number): LimitAnswer | undefined {
  if (level === undefined) return undefined;
  const asked = { points: points.map(({ endMs, value, se }) => ({ atMs: endMs, value, se })), limit: level, side, nowMs, horizonDays, limitSe, crossedBy: 'days' } as const;
  return beganMs === undefined ? timeToLimit({ ...asked, trendPrior, shape: wear }) : timeToLimit({ ...asked, ...FOUND, beganMs });
}

/**
 * When less delivery alone takes run time to its limit, demand staying: run time wanders with demand, and delivery doesn't, so a
 * delivery that declines shows long before run time does.
 */
function dutyByDelivery(judged: DaysJudged, duty: readonly SeriesPoint[], level: number, nowMs: number, horizonDays: number): LimitAnswer | undefined {
  const delivery = lookedAtOf(judged, 'delivery');
  const scatter = judged.epochs.get('duty')?.baseline.scatter;
  if (delivery === undefined || delivery.points.length === 0 || duty.length === 0 || scatter === undefined) return undefined;
  const middleOf = (points: readonly SeriesPoint[]): number => median(points.slice(-PRESENT_DAYS).map((point) => point.value)) as number;
  const least = middleOf(delivery.points) + middleOf(duty) - level;
  return ask(delivery, deliveryOutlook(least, scatter / Math.sqrt(PRESENT_DAYS)), nowMs, horizonDays);
}

function asRatios(points: readonly SeriesPoint[]): SeriesPoint[] {
  return points.map(({ value, se, ...rest }) => ({ ...rest, value: Math.exp(value), se: se * Math.exp(value) }));
}

/**
 * A drop rises from clean on; of what else changed, the values since then speak. Where it changed at once, those before speak too, moved by
 * the step: a step is no slope, and what wore before goes on. Nothing speaks from before a visit that began the series anew: what was
 * mended there is no trend, and the step down is no wander.
 */
function valuesSince({ name, points, baseline }: Epoch, shift: Shift | undefined, entries: readonly Entry[]): LookedAt {
  const visitMs = restartsOf(entries, name).at(-1)?.atMs ?? 0;
  const since = points.filter((point) => point.startMs >= Math.max(baseline.fromMs, visitMs)).slice(-MOST_POINTS);
  if (shift === undefined || name === 'elementDrop') return { points: since };
  const days = since.map((point) => point.endMs / DAY_MS);
  const change = stepOrRamp(days, since.map((point) => point.value), since.map((point) => point.se));
  if (change?.shape === 'step' && change.onset !== null) {
    const from = change.onset.likely * DAY_MS;
    return { points: since.map((point) => (point.endMs < from ? { ...point, value: point.value + change.effect } : point)) };
  }
  const onset = points[Math.max(0, shift.onsetIndex - 3)]!;
  return { points: since.filter((point) => point.startMs >= onset.startMs), beganMs: points[shift.onsetIndex]!.startMs };
}
