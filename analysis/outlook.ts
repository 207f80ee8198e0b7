import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Forecast, LimitName } from '../shared/finding.ts';
import type { DaysJudged } from './causes/assess.ts';
import type { Watched } from './causes/day-series.ts';
import { serviceDue } from './forecast/service-due.ts';
import { forecastOf, timeToLimit } from './forecast/time-to-limit.ts';
import { ELEMENTS } from '../shared/registry.ts';
import { isoFromMs } from '../shared/time.ts';

/** Newest values that a forecast looks at: older ones are another season's. */
const MOST_POINTS = 120;

type Outlook = { readonly limit: LimitName; readonly series: Watched; readonly side: 'above' | 'below'; readonly level: number | undefined; readonly trendPrior: number };

/** What lies ahead: crossings of limits by condition, and the service that was agreed. */
export type Ahead = { readonly forecasts: readonly Forecast[]; readonly dueBy: string | null };

const NOTHING_AHEAD: Ahead = { forecasts: [], dueBy: null };
const aheadOfDays = new WeakMap<DaysJudged, Ahead>();

/**
 * When each limit will be crossed, from the values since the change began; worked out once a day, as seen from
 * the end of the last closed day, so that a replay says the same.
 *
 * Duty ratio, delivery and nitrogen are foreseen only where they have left their baseline: a healthy series has no slope, only
 * noise. The drop over the elements grows from the first day and is always foreseen, as its logarithm, because it grows in
 * proportion to itself.
 */
export function aheadOf(judged: DaysJudged | undefined, settings: AnalysisSettings): Ahead {
  if (judged === undefined) return NOTHING_AHEAD;
  let ahead = aheadOfDays.get(judged);
  if (ahead === undefined) {
    const nowMs = judged.rows.at(-1)?.endMs ?? 0;
    ahead = { forecasts: outlooksOf(judged).flatMap((outlook) => forecastOne(judged, outlook, nowMs, settings.horizonDays) ?? []), dueBy: dueByOf(judged, nowMs) };
    aheadOfDays.set(judged, ahead);
  }
  return ahead;
}

/** Service due by days or running hours since the last service, else since the oldest element was fitted, else since it is known. */
function dueByOf({ registered, entries, rows }: DaysJudged, nowMs: number): string | null {
  const { fitted, commissionedAt, serviceEvery } = registered.generator;
  const services = entries.filter((entry) => entry.kind === 'service').map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt));
  const fittedMs = ELEMENTS.flatMap((part) => fitted[part] ?? []).map((date) => Date.parse(date));
  const known = commissionedAt === undefined ? rows[0]?.startMs : Date.parse(commissionedAt);
  const sinceMs = services.length > 0 ? Math.max(...services) : fittedMs.length > 0 ? Math.min(...fittedMs) : known;
  if (sinceMs === undefined || nowMs === 0) return null;
  const due = serviceDue({ every: serviceEvery, sinceMs, days: rows, nowMs });
  return due === undefined ? null : isoFromMs(due.dueMs);
}

function outlooksOf(judged: DaysJudged): Outlook[] {
  const { limits, nitrogenLimit, ratedNLPerMin } = judged.registered.generator;
  const delivery = judged.epochs.get('delivery')?.baseline.centre;
  const rated = judged.rows.at(-1)?.unit === 'NL/min' && ratedNLPerMin !== undefined ? Math.log(ratedNLPerMin) : delivery;
  return [
    { limit: 'dutyRatio', series: 'duty', side: 'above', level: Math.log(limits.dutyRatio), trendPrior: 0.5 },
    { limit: 'elementDropKPa', series: 'elementDrop', side: 'above', level: Math.log(limits.elementDropKPa), trendPrior: 0.8 },
    { limit: 'nitrogen', series: 'nitrogen', side: 'below', level: nitrogenLimit * 100, trendPrior: 0.5 },
    { limit: 'deliveryShare', series: 'delivery', side: 'below', level: rated === undefined ? undefined : rated + Math.log(limits.deliveryShare), trendPrior: 0.5 },
  ];
}

function forecastOne(judged: DaysJudged, { limit, series, side, level, trendPrior }: Outlook, nowMs: number, horizonDays: number): Forecast | undefined {
  const epoch = judged.epochs.get(series);
  const shift = judged.byDay.get(series);
  const always = series === 'elementDrop';
  if (level === undefined || epoch === undefined || (shift === undefined && !always)) return undefined;
  const since = always ? epoch.points.filter((point) => point.startMs >= epoch.watchFromMs || point.startMs >= epoch.baseline.fromMs) : epoch.points.slice(Math.max(0, shift!.onsetIndex - 3));
  const points = since.slice(-MOST_POINTS).flatMap((point) => {
    if (!always) return [{ atMs: point.endMs, value: point.value, se: point.se }];
    return point.value > 0 ? [{ atMs: point.endMs, value: Math.log(point.value), se: point.se / point.value }] : [];
  });
  const answer = timeToLimit({ points, limit: level, side, nowMs, horizonDays, trendPrior });
  return answer && forecastOf(limit, answer);
}
