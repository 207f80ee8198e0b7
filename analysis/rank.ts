import type { DayRow } from '../shared/cycle.ts';
import type { Cause, CauseProbability, DataState, Finding, Forecast, LimitName, RankingRow } from '../shared/finding.ts';
import { type GeneratorKey, splitGeneratorKey } from '../shared/ids.ts';
import { DAY_MS } from '../shared/time.ts';
import { probabilityOf } from './ledger.ts';

/** What is known of a generator when it is ranked. */
export type Standing = {
  readonly key: GeneratorKey;
  readonly dataState: DataState;
  readonly dutyRatio: number | null;
  readonly baselineDutyRatio: number | null;
  readonly demandChange: number | null;
  readonly deliveryChange: number | null;
  readonly open: readonly Finding[];
  /** Ids of the open findings that want somebody now. */
  readonly urgent: ReadonlySet<string>;
  readonly forecasts: readonly Forecast[];
  readonly dueBy: string | null;
};

/** Hours that an urgent finding counts for: more than any limit can be exceeded in the next 30 days. */
const URGENT_H = 24 * 60;
const AHEAD_MS = 30 * DAY_MS;
/** Which finding speaks for its generator where several are open. */
const LEADS: readonly Cause[] = ['no-power', 'not-starting', 'valve-left-shut', 'runs-without-end', 'bleed-left-open', 'stops-short'];

/**
 * The ranking's rule, in one sentence: most hours over a limit in the next 30 days if nobody goes, times the sureness of the
 * finding behind it; what wants somebody now comes first.
 *
 * 1. A generator with an urgent finding (no power, not starting, never stopping, stopping short, a valve shut, a bleed open)
 *    counts 1,440 h times its sureness. 2. Others count the expected hours between the crossing of a limit and 30 days from
 *    now, from the forecast's quantiles, times the sureness; a limit that is crossed already counts all 720 h. 3. Then whoever
 *    doesn't report, because nobody knows. 4. Then by service due, then by duty ratio, then by name: no two are equal.
 */
export function rankStandings(standings: readonly Standing[], nowMs: number): RankingRow[] {
  const scored = standings.map((standing) => ({ standing, lead: leadOf(standing), hours: expectedHours(standing, nowMs) }));
  scored.sort((a, b) => b.hours - a.hours || Number(isSilent(b.standing)) - Number(isSilent(a.standing)) || compareText(a.standing.dueBy ?? '9', b.standing.dueBy ?? '9') || (b.standing.dutyRatio ?? -1) - (a.standing.dutyRatio ?? -1) || compareText(a.standing.key, b.standing.key));
  return scored.map(({ standing, lead, hours }, index) => rowOf(standing, lead, hours, index + 1));
}

function isSilent(standing: Standing): boolean {
  return standing.dataState === 'not-reporting';
}

/** The open finding that speaks for its generator: the urgent first, then the surest, then the oldest. */
export function leadOf(standing: Pick<Standing, 'open' | 'urgent'>): Finding | undefined {
  const weight = (finding: Finding): number => (standing.urgent.has(finding.id) ? 100 - LEADS.indexOf(finding.cause) : finding.cause === 'data-gap' || finding.cause === 'set-point-changed' ? 0 : 10);
  return [...standing.open].sort((a, b) => weight(b) - weight(a) || probabilityOf(b) - probabilityOf(a) || compareText(a.openedAt, b.openedAt) || compareText(a.id, b.id))[0];
}

function expectedHours(standing: Standing, nowMs: number): number {
  const urgent = standing.open.filter((finding) => standing.urgent.has(finding.id));
  if (urgent.length > 0) return URGENT_H * Math.max(...urgent.map(probabilityOf));
  const real = standing.open.filter((finding) => finding.cause !== 'data-gap' && finding.cause !== 'set-point-changed');
  if (real.length === 0) return 0;
  const sure = Math.max(...real.map(probabilityOf));
  // A finding whose limits are far away still goes before a generator without one.
  return sure * (1 + Math.max(0, ...standing.forecasts.map((forecast) => hoursOver(forecast, nowMs))));
}

/** Expected hours past a limit in the next 30 days: the five quantiles stand for shares of the chance around them. */
export function hoursOver(forecast: Forecast, nowMs: number): number {
  const shares: readonly (readonly [string | null, number])[] = [[forecast.earliest, 0.175], [forecast.quarterFrom, 0.2], [forecast.likely, 0.25], [forecast.quarterTo, 0.2], [forecast.latest, 0.175]];
  return shares.reduce((sum, [at, share]) => sum + (at === null ? 0 : (share * Math.max(0, nowMs + AHEAD_MS - Math.max(nowMs, Date.parse(at)))) / 3_600_000), 0);
}

function rowOf(standing: Standing, lead: Finding | undefined, hours: number, rank: number): RankingRow {
  const { site, generator } = splitGeneratorKey(standing.key);
  const causes: readonly CauseProbability[] = lead?.causes ?? [];
  return {
    rank,
    site,
    generator,
    dataState: standing.dataState,
    dutyRatio: standing.dutyRatio,
    baselineDutyRatio: standing.baselineDutyRatio,
    demandChange: standing.demandChange,
    deliveryChange: standing.deliveryChange,
    cause: lead?.cause ?? null,
    causes,
    serviceBy: earliestOf(standing.forecasts),
    forecasts: standing.forecasts,
    dueBy: standing.dueBy,
    because: because(standing, lead, hours),
    findings: standing.open.map((finding) => finding.id).sort(),
  };
}

function earliestOf(forecasts: readonly Forecast[]): RankingRow['serviceBy'] {
  const likely = (forecast: Forecast): string => forecast.likely ?? forecast.quarterTo ?? forecast.latest ?? forecast.quarterFrom ?? forecast.earliest ?? '9';
  const first = [...forecasts].filter((forecast) => forecast.earliest !== null).sort((a, b) => compareText(likely(a), likely(b)) || compareText(a.earliest!, b.earliest!))[0];
  return first === undefined ? null : { earliest: first.earliest, likely: first.likely, latest: first.latest, limit: first.limit };
}

const LIMIT_WORDS: Readonly<Record<LimitName, string>> = { dutyRatio: 'its duty ratio limit', elementDropKPa: 'the limit of drop over its elements', nitrogen: 'its nitrogen limit', deliveryShare: 'its delivery limit' };

function because(standing: Standing, lead: Finding | undefined, hours: number): string {
  if (lead === undefined) {
    if (isSilent(standing)) return 'Not reporting: nobody knows how it is.';
    return standing.dueBy === null ? 'Nothing found; no service date is known.' : `Nothing found; service due ${standing.dueBy.slice(0, 10)}.`;
  }
  const sure = `${Math.round(probabilityOf(lead) * 100)} % sure`;
  if (standing.urgent.has(lead.id)) return `Wants somebody now (${sure}).`;
  const limit = earliestOf(standing.forecasts);
  if (limit === null) return lead.cause === 'data-gap' ? 'Not heard for long: nobody knows how it is.' : `A change was found (${sure}); no limit is in sight.`;
  const when = limit.likely === null ? 'may be passed' : Date.parse(limit.likely) <= Date.parse(limit.earliest!) ? 'is passed' : `is likely passed by ${limit.likely.slice(0, 10)}`;
  return `${LIMIT_WORDS[limit.limit].replace(/^./, (letter) => letter.toUpperCase())} ${when}: about ${Math.round(hours)} h over it in the next 30 days, weighed by sureness (${sure}).`;
}

/** Duty ratio over the seven days up to the last closed one: sums, not a mean of ratios. */
export function dutyOver(rows: readonly DayRow[]): number | null {
  const fromMs = (rows.at(-1)?.endMs ?? 0) - 7 * DAY_MS;
  let runS = 0;
  let coveredS = 0;
  for (const row of rows.slice(-8)) {
    if (row.startMs < fromMs) continue;
    runS += row.runS;
    coveredS += row.coveredS;
  }
  return coveredS > 0 ? runS / coveredS : null;
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
