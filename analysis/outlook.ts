import { DateTime } from 'luxon';
import type { AnalysisSettings } from '../shared/analysis-settings.ts';
import type { Forecast, LimitName } from '../shared/finding.ts';
import type { DaysJudged } from './causes/assess.ts';
import { restartsOf } from './causes/baseline.ts';
import { hoursPerDayOf, presentAge } from './forecast/element-lives.ts';
import type { FleetLives } from './forecast/fleet-lives.ts';
import { hoursPastByAge } from './forecast/hours-fitted.ts';
import { serviceDue } from './forecast/service-due.ts';
import { forecastLimit, nitrogenSays, type Outlook, outlooksOf } from './limit-forecasts.ts';
import { ELEMENTS } from '../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../shared/time.ts';

/** So many values of the last week say whether a limit is passed now. */
const LATE_DAYS = 3;
const LATE_MS = 7 * DAY_MS;
/** A day counts as past where it is so by more than chance would be in 1 of 20. */
const SURE_SE = 1.64;
/** What the room was like of late: so many days. */
const ROOM_DAYS = 14;

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
 * taken to last or to quicken. Run time follows a leak that grows in proportion or in a straight line: it is foreseen as it is and as its
 * logarithm, and dated by the mixture. It also follows delivery, which shows its decline sooner.
 */
export function aheadOf(judged: DaysJudged | undefined, settings: AnalysisSettings, fleet?: FleetLives): Ahead {
  if (judged === undefined) return NOTHING_AHEAD;
  const kept = aheadOfDays.get(judged);
  if (kept !== undefined && kept.fleet === fleet) return kept.ahead;
  const nowMs = judged.rows.at(-1)?.endMs ?? 0;
  const outlooks = outlooksOf(judged);
  // What the fleet teaches touches the drop alone.
  const forecasts = outlooks.flatMap((outlook) => (outlook.limit === 'elementDropKPa' ? undefined : kept?.ahead.forecasts.find((one) => one.limit === outlook.limit)) ?? forecastLimit(judged, outlook, nowMs, settings.horizonDays, fleet) ?? []);
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

/** The share of the last days past each limit, since the last service; what broke yesterday is in no trend. */
function pastOfLate({ epochs, entries, registered, rows }: DaysJudged, outlooks: readonly Outlook[], nowMs: number): Partial<Record<LimitName, number>> {
  const shares: Partial<Record<LimitName, number>> = {};
  for (const { limit, series, side, level } of outlooks) {
    const visitMs = restartsOf(entries, series).at(-1)?.atMs ?? 0;
    const last = (epochs.get(series)?.points ?? []).filter((point) => point.startMs >= visitMs && point.endMs > nowMs - LATE_MS).slice(-LATE_DAYS);
    if (level === undefined || last.length === 0 || (series === 'nitrogen' && !nitrogenSays({ rows, registered }))) continue;
    const past = last.filter(({ value, se }) => (side === 'above' ? value - level : level - value) > SURE_SE * se).length;
    if (past > 0) shares[limit] = past / last.length;
  }
  return shares;
}
