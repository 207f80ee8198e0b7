import { DateTime } from 'luxon';
import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Forecast, LimitName } from '../shared/finding.ts';
import type { DaysJudged } from './causes/assess.ts';
import { type SeriesPoint, type Watched, watchedPoint } from './causes/day-series.ts';
import { restartsOf } from './causes/baseline.ts';
import type { Epoch } from './causes/epochs.ts';
import { impossibleDrop } from './causes/gauge-faults.ts';
import type { Shift } from './causes/find-shift.ts';
import { nitrogenSettled } from './causes/limits.ts';
import type { SlopeShape } from './forecast/drift-filter.ts';
import { dropFromLives } from './forecast/drop-lives.ts';
import { hoursPerDayOf, presentAge } from './forecast/element-lives.ts';
import type { FleetLives } from './forecast/fleet-lives.ts';
import { hoursPastByAge } from './forecast/hours-fitted.ts';
import { serviceDue } from './forecast/service-due.ts';
import { mixCrossings } from './forecast/mix-crossings.ts';
import { forecastOf, type LimitAnswer, timeToLimit } from './forecast/time-to-limit.ts';
import type { Entry } from '../shared/entry.ts';
import { ELEMENTS } from '../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../shared/time.ts';

/** Newest values that a forecast looks at: older ones are another season's. */
const MOST_POINTS = 120;
/** Nitrogen is dated where a run of these days was long enough to be judged. */
const SETTLED_OF_DAYS = 7;
/** So many values of the last week say whether a limit is passed now. */
const LATE_DAYS = 3;
const LATE_MS = 7 * DAY_MS;
/** A day counts as past where it is so by more than chance would be in 1 of 20. */
const SURE_SE = 1.64;
/** What the room was like of late: so many days. */
const ROOM_DAYS = 14;

/** `trendPrior`: how likely it is beforehand that the quantity moves on its own, from tuning worlds (analysis/forecast/README.md). */
type Outlook = { readonly limit: LimitName; readonly series: Watched; readonly side: 'above' | 'below'; readonly level: number | undefined; readonly trendPrior: number; readonly shape: SlopeShape; readonly limitSe?: number };

type ElementAge = { readonly runHours: number; readonly pastHours: number };
/** What lies ahead: crossings of limits by condition, the share of the last days that were past each limit, limits that nobody sees, and the service that was agreed. */
export type Ahead = { readonly forecasts: readonly Forecast[]; readonly pastOfLate: Readonly<Partial<Record<LimitName, number>>>; readonly unseen: readonly LimitName[]; /** How long the elements have run and the hours past the limit of drop to expect by that; null where nobody said when they were fitted. */ readonly elementAge: ElementAge | null; readonly dueBy: string | null };

/** What channels that many don't send would show; run time is always seen, and delivery with it. */
const MAY_BE_UNSEEN: readonly LimitName[] = ['elementDropKPa', 'nitrogen'];
const NOTHING_AHEAD: Ahead = { forecasts: [], pastOfLate: {}, unseen: MAY_BE_UNSEEN, elementAge: null, dueBy: null };
const aheadOfDays = new WeakMap<DaysJudged, { readonly fleet: FleetLives | undefined; readonly ahead: Ahead }>();

/**
 * When each limit will be crossed, from the values since the change began, or since the baseline did where nothing changed; worked
 * out once a day, as seen from the end of the last closed day, so that a replay says the same.
 *
 * Compressors wear and elements load before any of it is a finding, so every limit is looked at from the first baseline on; a series
 * that has no slope gives "no end in sight". What wears makes the compressor run more, which wears it more: slopes are
 * taken to last or to quicken. A drop over elements begins in proportion to itself and ends nearly straight, and run time follows a
 * leak that grows either way: both are foreseen as they are and as their logarithms, and dated by the mixture.
 */
export function aheadOf(judged: DaysJudged | undefined, settings: AnalysisSettings, fleet?: FleetLives): Ahead {
  if (judged === undefined) return NOTHING_AHEAD;
  const kept = aheadOfDays.get(judged);
  if (kept !== undefined && kept.fleet === fleet) return kept.ahead;
  const nowMs = judged.rows.at(-1)?.endMs ?? 0;
  const outlooks = outlooksOf(judged);
  // What the fleet teaches touches the drop alone.
  const forecasts = outlooks.flatMap((outlook) => (outlook.limit === 'elementDropKPa' ? undefined : kept?.ahead.forecasts.find((one) => one.limit === outlook.limit)) ?? forecastOne(judged, outlook, nowMs, settings.horizonDays, fleet) ?? []);
  const unseen = MAY_BE_UNSEEN.filter((limit) => !forecasts.some((one) => one.limit === limit));
  const ahead = { forecasts, pastOfLate: kept?.ahead.pastOfLate ?? pastOfLate(judged, outlooks, nowMs), unseen, elementAge: kept === undefined ? elementAgeOf(judged) : kept.ahead.elementAge, dueBy: kept === undefined ? dueByOf(judged, nowMs) : kept.ahead.dueBy };
  aheadOfDays.set(judged, { fleet, ahead });
  return ahead;
}

function elementAgeOf(judged: DaysJudged): ElementAge | null {
  const age = presentAge(judged);
  return age === undefined ? null : { runHours: age.hoursRun, pastHours: hoursPastByAge(age.hoursRun, hoursPerDayOf(judged.rows.slice(-ROOM_DAYS)) ?? 0, 30) };
}

/**
 * Service due by days or running hours since the last service, else since the oldest element was fitted, else since it is known.
 * A date of the registry is noon of that day at the site, so that a due day bears the same name there and in lists by UTC.
 */
function dueByOf({ registered, entries, rows }: DaysJudged, nowMs: number): string | null {
  const noonOf = (date: string): number => DateTime.fromISO(date, { zone: registered.site.timeZone }).set({ hour: 12 }).toMillis();
  const { fitted, commissionedAt, serviceEvery } = registered.generator;
  const services = entries.filter((entry) => entry.kind === 'service').map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt));
  const fittedMs = ELEMENTS.flatMap((part) => fitted[part] ?? []).map(noonOf);
  const known = commissionedAt === undefined ? rows[0]?.startMs : noonOf(commissionedAt);
  const sinceMs = services.length > 0 ? Math.max(...services) : fittedMs.length > 0 ? Math.min(...fittedMs) : known;
  if (sinceMs === undefined || nowMs === 0) return null;
  const due = serviceDue({ every: serviceEvery, sinceMs, days: rows, nowMs });
  return due === undefined ? null : isoFromMs(due.dueMs);
}

function outlooksOf(judged: DaysJudged): Outlook[] {
  const { limits, nitrogenLimit } = judged.registered.generator;
  return [
    { limit: 'dutyRatio', series: 'duty', side: 'above', level: Math.log(limits.dutyRatio), trendPrior: 0.3, shape: 'quickens' },
    { limit: 'elementDropKPa', series: 'elementDrop', side: 'above', level: limits.elementDropKPa, trendPrior: 0.8, shape: 'quickens' },
    { limit: 'nitrogen', series: 'nitrogen', side: 'below', level: nitrogenLimit * 100, trendPrior: 0.3, shape: 'quickens' },
    { limit: 'deliveryShare', series: 'delivery', side: 'below', level: leastDelivery(judged), trendPrior: 0.65, shape: 'quickens', limitSe: isRated(judged) ? RATING_SE : 0 },
  ];
}

/** A rating is for another room and another pressure, and meters agree within 6 %: two standard errors. Common practice, no source. */
const RATING_SE = 0.03;

function isRated({ registered, rows }: Pick<DaysJudged, 'registered' | 'rows'>): boolean {
  return rows.at(-1)?.unit === 'NL/min' && registered.generator.ratedNLPerMin !== undefined;
}

/**
 * The logarithm of the least delivery, as the watched series has it: the share of what is rated, else of its own baseline.
 * The series is brought to one room temperature and the limit is not: it is moved by what that came to of late.
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
  return Math.log(ratedNLPerMin * limits.deliveryShare) + correction;
}

function forecastOne(judged: DaysJudged, { limit, series, side, level, trendPrior, shape, limitSe = 0 }: Outlook, nowMs: number, horizonDays: number, fleet: FleetLives | undefined): Forecast | undefined {
  const epoch = judged.epochs.get(series);
  if (level === undefined || epoch === undefined) return undefined;
  if (series === 'nitrogen' && !judged.rows.slice(-SETTLED_OF_DAYS).some((row) => nitrogenSettled(row, judged.registered.generator.nitrogenAt))) return undefined;
  // A drop that its gauges can't mean is none to date.
  if (series === 'elementDrop' && impossibleDrop(judged.rows) !== undefined) return undefined;
  const since = valuesSince(epoch, judged.byDay.get(series), judged.entries).slice(-MOST_POINTS);
  const ask = (points: readonly SeriesPoint[], bound: number): LimitAnswer | undefined => timeToLimit({ points: points.map(({ endMs, value, se }) => ({ atMs: endMs, value, se })), limit: bound, side, nowMs, horizonDays, trendPrior, shape, limitSe, crossedBy: 'days' });
  const answer = ask(since, level);
  if (answer === undefined) return undefined;
  if ((series !== 'elementDrop' && series !== 'duty') || answer.state === 'past') return forecastOf(limit, answer.crossesMs);
  // Earlier lives of elements, its own before all, tell more than any law of growth.
  const byLives = series === 'elementDrop' ? dropFromLives({ lived: judged, ...(fleet === undefined ? {} : { fleet }), limitKPa: level, nowMs, horizonDays }) : undefined;
  const otherwise = series === 'duty' ? ask(asRatios(since), Math.exp(level)) : ask(asLogs(since), Math.log(level));
  return forecastOf(limit, byLives ?? (otherwise === undefined ? answer.crossesMs : mixCrossings(answer, otherwise, nowMs, horizonDays)));
}

function asRatios(points: readonly SeriesPoint[]): SeriesPoint[] {
  return points.map(({ value, se, ...rest }) => ({ ...rest, value: Math.exp(value), se: se * Math.exp(value) }));
}

function asLogs(points: readonly SeriesPoint[]): SeriesPoint[] {
  return points.flatMap(({ value, se, ...rest }) => (value > 0 ? [{ ...rest, value: Math.log(value), se: se / value }] : []));
}

/** The share of the last days past each limit, since the last service; what broke yesterday is in no trend. */
function pastOfLate({ epochs, entries, registered, rows }: DaysJudged, outlooks: readonly Outlook[], nowMs: number): Partial<Record<LimitName, number>> {
  const shares: Partial<Record<LimitName, number>> = {};
  for (const { limit, series, side, level } of outlooks) {
    if (series === 'elementDrop' && impossibleDrop(rows) !== undefined) continue;
    const visitMs = restartsOf(entries, series).at(-1)?.atMs ?? 0;
    const last = (epochs.get(series)?.points ?? []).filter((point) => point.startMs >= visitMs && point.endMs > nowMs - LATE_MS).slice(-LATE_DAYS);
    if (level === undefined || last.length === 0 || (series === 'nitrogen' && !rows.slice(-SETTLED_OF_DAYS).some((row) => nitrogenSettled(row, registered.generator.nitrogenAt)))) continue;
    const past = last.filter(({ value, se }) => (side === 'above' ? value - level : level - value) > SURE_SE * se).length;
    if (past > 0) shares[limit] = past / last.length;
  }
  return shares;
}

/**
 * A drop rises from clean on; of what else changed, the values since then speak, with three before them for the level. Nothing
 * speaks from before a visit that began the series anew: what was mended there is no trend, and the step down is no wander.
 */
function valuesSince({ name, points, baseline }: Epoch, shift: Shift | undefined, entries: readonly Entry[]): readonly SeriesPoint[] {
  const visitMs = restartsOf(entries, name).at(-1)?.atMs ?? 0;
  const since = shift === undefined || name === 'elementDrop' ? points.filter((point) => point.startMs >= baseline.fromMs) : points.slice(Math.max(0, shift.onsetIndex - 3));
  return since.filter((point) => point.startMs >= visitMs);
}
