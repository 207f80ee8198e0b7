import type { DayRow } from '../shared/cycle.ts';
import { type Cause, type CauseProbability, type DataState, type Finding, type Forecast, isSilence, type LimitName, type RankingRow } from '../shared/finding.ts';
import { type GeneratorKey, splitGeneratorKey } from '../shared/ids.ts';
import { DAY_MS, HOUR_MS } from '../shared/time.ts';
import { probabilityOf } from './ledger.ts';
import { becauseOf } from './rank-words.ts';

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
  /** Id of the open finding about a counter that was set anew: it says nothing of the machine. */
  readonly ofCounters: string | null;
  readonly forecasts: readonly Forecast[];
  /** Of the last days, the share past a limit, for each limit that any of them was past. */
  readonly pastOfLate: Readonly<Partial<Record<LimitName, number>>>;
  /** Limits of whose quantity nothing is sent, or nothing that can be judged. */
  readonly unseen: readonly LimitName[];
  /** How long the elements have run, and the hours past the limit of drop to expect by that; null where nobody said when they were fitted. */
  readonly elementAge: { readonly runHours: number; readonly pastHours: number } | null;
  readonly dueBy: string | null;
  /** The site's, for dates in words. */
  readonly timeZone: string;
};

/** Hours that an urgent finding counts for: more than any limit can be exceeded in the next 30 days. */
const URGENT_H = 24 * 60;
/** Less than anything that is in service. */
const OFF_H = -1;
const AHEAD_MS = 30 * DAY_MS;
/** What findings without a limit in sight lost in the mean, on tuning seeds (README): those whose limit run time shows, and others. */
const SHOWN_H = 60;
const FOUND_H = 120;
const SHOWN_BY_RUN_TIME: ReadonlySet<Cause> = new Set(['leak', 'supply-bypassed', 'check-valve-leaking', 'sensor-fault']);
const NO_LOSS: ReadonlySet<Cause> = new Set(['data-gap', 'set-point-changed']);
const saysNoLoss = (finding: Finding): boolean => NO_LOSS.has(finding.cause) || isSilence(finding);
/** What generators lost for each limit that they don't show, where nothing more is known. */
const UNSEEN_DROP_H = 22;
const UNSEEN_NITROGEN_H = 10;
/** Where the cause works on a limit that nobody sees, it is as likely past it as not. */
const FOUND_UNSEEN_H = 360;
const WORKS_ON: Readonly<Partial<Record<Cause, LimitName>>> = { 'membrane-decline': 'nitrogen', 'element-loading': 'elementDropKPa', 'drain-stuck-closed': 'elementDropKPa' };
/** Which finding speaks for its generator where several are open. */
const LEADS: readonly Cause[] = ['no-power', 'not-starting', 'valve-left-shut', 'runs-without-end', 'bleed-left-open', 'stops-short'];

/**
 * The ranking's rule, in one sentence: most expected hours over a limit in the next 30 days if nobody goes, found or only
 * foreseen; what wants somebody now comes first.
 *
 * 1. A generator with an urgent finding (no power, not starting, never stopping, stopping short, a valve shut, a bleed open)
 *    counts 1,440 h times its sureness. 2. Others count the expected hours past a limit in the next 30 days: all 720 h times the share
 *    of the last days that were past it, or the hours after the crossing that its forecast's quantiles foresee, whichever is more, for
 *    the limit with the most. 3. An open finding adds, each of its causes by its probability, 120 h for what no trend
 *    shows yet; 60 h where run time shows it (leak, bypass, check valve) or a gauge errs; half of the 720 h where the cause works on a limit
 *    that nobody sees; a silence that may be one of the mains the 720 h by that probability. One of the data, of a set point or of a counter that was set anew adds nothing. 4. A drop that nobody sees
 *    adds what is to be expected by its elements' running hours (22 h where nobody said when they were fitted), nitrogen 10 h, and whoever
 *    doesn't report shows neither. 5. Then whoever doesn't report; then by service due, then by
 *    duty ratio, then by name: no two are equal. What is out of service comes last.
 */
export function rankStandings(standings: readonly Standing[], nowMs: number): RankingRow[] {
  const scored = standings.map((standing) => ({ standing, lead: leadOf(standing), hours: expectedHours(standing, nowMs) }));
  scored.sort((a, b) => b.hours - a.hours || Number(isSilent(b.standing)) - Number(isSilent(a.standing)) || compareText(a.standing.dueBy ?? '9', b.standing.dueBy ?? '9') || (b.standing.dutyRatio ?? -1) - (a.standing.dutyRatio ?? -1) || compareText(a.standing.key, b.standing.key));
  return scored.map(({ standing, lead }, index) => rowOf(standing, lead, index + 1, nowMs));
}

function isSilent(standing: Standing): boolean {
  return standing.dataState === 'not-reporting';
}

/** The open finding that speaks for its generator: the urgent first, then the surest, then the oldest. */
export function leadOf(standing: Pick<Standing, 'open' | 'urgent' | 'ofCounters'>): Finding | undefined {
  const weight = (finding: Finding): number => (standing.urgent.has(finding.id) ? 100 - LEADS.indexOf(finding.cause) : saysNoLoss(finding) || finding.id === standing.ofCounters ? 0 : 10);
  return [...standing.open].sort((a, b) => weight(b) - weight(a) || probabilityOf(b) - probabilityOf(a) || compareText(a.openedAt, b.openedAt) || compareText(a.id, b.id))[0];
}

function expectedHours(standing: Standing, nowMs: number): number {
  if (standing.dataState === 'out-of-service') return OFF_H;
  const urgent = standing.open.filter((finding) => standing.urgent.has(finding.id));
  if (urgent.length > 0) return URGENT_H * Math.max(...urgent.map(probabilityOf));
  const real = standing.open.filter((finding) => !saysNoLoss(finding) && finding.id !== standing.ofCounters);
  return Math.max(0, ...real.map((finding) => foundHours(finding, standing.unseen)), ...standing.open.filter(isSilence).map(unpoweredHours)) + unseenHours(standing) + (worstLimit(standing, nowMs)?.hours ?? 0);
}

/** What nobody sees and is to be expected all the same; of whoever doesn't report nobody sees anything. */
function unseenHours(standing: Standing): number {
  const hidden = (limit: LimitName): boolean => isSilent(standing) || standing.unseen.includes(limit);
  return (hidden('elementDropKPa') ? (standing.elementAge?.pastHours ?? UNSEEN_DROP_H) : 0) + (hidden('nitrogen') ? UNSEEN_NITROGEN_H : 0);
}

/** Without mains nothing is made, whoever is silent for lack of them. */
function unpoweredHours({ causes }: Finding): number {
  return ((causes.find((one) => one.cause === 'no-power')?.probability ?? 0) * AHEAD_MS) / HOUR_MS;
}

/** What a finding adds: each of its causes by its own probability. */
function foundHours(finding: Finding, unseen: readonly LimitName[]): number {
  return finding.causes.reduce((sum, { cause, probability }) => sum + probability * hoursOf(cause, unseen), 0);
}

function hoursOf(cause: Cause, unseen: readonly LimitName[]): number {
  if (NO_LOSS.has(cause)) return 0;
  if (unseen.some((limit) => limit === WORKS_ON[cause])) return FOUND_UNSEEN_H;
  return SHOWN_BY_RUN_TIME.has(cause) ? SHOWN_H : FOUND_H;
}

/** The limit that will be exceeded longest in the next 30 days, and for how many hours by expectation. */
export function worstLimit(standing: Pick<Standing, 'forecasts' | 'pastOfLate'>, nowMs: number): { readonly limit: LimitName; readonly hours: number } | undefined {
  const foreseen = standing.forecasts.map((forecast) => ({ limit: forecast.limit, hours: hoursOver(forecast, nowMs) }));
  const seen = (Object.entries(standing.pastOfLate) as [LimitName, number][]).map(([limit, share]) => ({ limit, hours: (share * AHEAD_MS) / HOUR_MS }));
  return [...seen, ...foreseen].filter((one) => one.hours > 0).reduce<{ limit: LimitName; hours: number } | undefined>((worst, one) => (worst === undefined || one.hours > worst.hours ? one : worst), undefined);
}

/** Expected hours past a limit in the next 30 days: the five quantiles stand for shares of the chance around them. */
export function hoursOver(forecast: Forecast, nowMs: number): number {
  const shares: readonly (readonly [string | null, number])[] = [[forecast.earliest, 0.175], [forecast.quarterFrom, 0.2], [forecast.likely, 0.25], [forecast.quarterTo, 0.2], [forecast.latest, 0.175]];
  return shares.reduce((sum, [at, share]) => sum + (at === null ? 0 : (share * Math.max(0, nowMs + AHEAD_MS - Math.max(nowMs, Date.parse(at)))) / HOUR_MS), 0);
}

function rowOf(standing: Standing, lead: Finding | undefined, rank: number, nowMs: number): RankingRow {
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
    because: becauseOf({ ...standing, lead, urgent: lead !== undefined && standing.urgent.has(lead.id), worst: worstLimit(standing, nowMs) }, nowMs),
    findings: standing.open.map((finding) => finding.id).sort(),
  };
}

/** The forecast that comes first, by its likely date. */
function earliestOf(forecasts: readonly Forecast[]): RankingRow['serviceBy'] {
  const likely = (forecast: Forecast): string => forecast.likely ?? forecast.quarterTo ?? forecast.latest ?? forecast.quarterFrom ?? forecast.earliest ?? '9';
  const first = [...forecasts].filter((forecast) => forecast.earliest !== null).sort((a, b) => compareText(likely(a), likely(b)) || compareText(a.earliest!, b.earliest!))[0];
  return first === undefined ? null : { earliest: first.earliest, likely: first.likely, latest: first.latest, limit: first.limit };
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
