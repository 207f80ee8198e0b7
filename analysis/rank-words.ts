import { DateTime } from 'luxon';
import { type DataState, type Finding, type Forecast, isSilence, type LimitName } from '../shared/finding.ts';
import { DAY_MS } from '../shared/time.ts';
import { probabilityOf } from './ledger.ts';

/** A number and its sign stay on one line. */
const NBSP = '\u00a0';
const LIMIT_WORDS: Readonly<Record<LimitName, string>> = { dutyRatio: 'duty ratio limit', elementDropKPa: 'limit of drop over its elements', nitrogen: 'nitrogen limit', deliveryShare: 'delivery limit' };
const HIDDEN_WORDS: Readonly<Partial<Record<LimitName, string>>> = { elementDropKPa: 'the drop over its elements', nitrogen: 'its nitrogen' };
/** A chance of less than a day past a limit is no reason for a rank. */
const LEAST_H = 24;
/** The ranking looks so far: a likely date beyond it would not fit the hours that are said beside it. */
const AHEAD_MS = 30 * DAY_MS;
/** Above, a number of per cent would say more than is known. */
const ALMOST = 0.99;

export type RankReason = {
  readonly lead: Finding | undefined;
  readonly urgent: boolean;
  readonly worst: { readonly limit: LimitName; readonly hours: number } | undefined;
  readonly dataState: DataState;
  readonly forecasts: readonly Forecast[];
  readonly pastOfLate: Readonly<Partial<Record<LimitName, number>>>;
  readonly unseen: readonly LimitName[];
  readonly elementAge: { readonly runHours: number; readonly pastHours: number } | null;
  readonly dueBy: string | null;
  readonly timeZone: string;
};

/** Why a generator has its rank, in one line; dates are those of the site, with the year where it isn't the present one. */
export function becauseOf(reason: RankReason, nowMs: number): string {
  const { lead, worst, dataState, dueBy, timeZone } = reason;
  if (dataState === 'out-of-service') return 'Out of service, as the registry says: nothing is looked for.';
  const sure = lead === undefined ? '' : sureOf(lead);
  if (lead !== undefined && reason.urgent) return `Wants somebody now (${sure}).`;
  if (worst !== undefined && worst.hours >= LEAST_H) {
    const found = lead === undefined ? 'Nothing found, but its' : isSilence(lead) ? 'Not heard for long; its' : lead.cause === 'sensor-fault' ? 'By sensors of which one seems to err, its' : 'Its';
    return `${found} ${LIMIT_WORDS[worst.limit]} ${crossingWords(reason, worst.limit, nowMs)}: about ${hourWords(worst.hours)} past it in the next 30 days${lead === undefined || isSilence(lead) ? '' : `; a change was found (${sure})`}.`;
  }
  if (lead !== undefined) return isSilence(lead) ? `Not heard for long: nobody knows how it is${lead.among?.includes('no-power') ? ', and its mains may be off' : ''}.` : `A change was found (${sure}); ${reason.forecasts.some((one) => one.earliest !== null) ? 'its limits are far' : 'no limit is in sight'}.`;
  if (dataState === 'not-reporting') return 'Not reporting: nobody knows how it is.';
  return `Nothing found${hiddenWords(reason)}; ${dueBy === null ? 'no service date is known' : `service due ${dateOf(dueBy, timeZone, nowMs)}`}.`;
}

/** What would have been found only if it were sent, or could be judged. */
function hiddenWords({ unseen, elementAge }: RankReason): string {
  if (unseen.length === 0) return '';
  const names = unseen.map((limit) => HIDDEN_WORDS[limit] ?? LIMIT_WORDS[limit]);
  const old = elementAge !== null && elementAge.pastHours >= LEAST_H && unseen.includes('elementDropKPa') ? `, and its elements have run about ${hourWords(elementAge.runHours)}` : '';
  return `, but ${names.join(' and ')} can't be judged${old}`;
}

function crossingWords({ forecasts, pastOfLate, timeZone }: RankReason, limit: LimitName, nowMs: number): string {
  const share = pastOfLate[limit] ?? 0;
  const { earliest = null, likely = null } = forecasts.find((one) => one.limit === limit) ?? {};
  if (share >= 1 || (likely !== null && Date.parse(likely) <= nowMs)) return 'is passed';
  if (share > 0) return 'was passed of late';
  if (likely !== null && Date.parse(likely) <= nowMs + AHEAD_MS) return `is likely passed by ${dateOf(likely, timeZone, nowMs)}`;
  return earliest === null ? 'may be passed' : Date.parse(earliest) <= nowMs ? 'may be passed already' : `may be passed from ${dateOf(earliest, timeZone, nowMs)} on`;
}

/** `cause 93 % sure`: that something changed is surer than why. Nothing is ever 100 % sure. */
function sureOf(lead: Finding): string {
  const probability = probabilityOf(lead);
  return `${lead.among === null ? 'cause' : `one of ${lead.among.length} causes,`} ${probability > ALMOST ? 'almost sure' : `${Math.round(probability * 100)}${NBSP}% sure`}`;
}

/** Hours are an expectation: two digits are more than is known. */
function hourWords(hours: number): string {
  const step = hours < 100 ? 5 : 10;
  return `${Math.round(hours / step) * step} h`;
}

/** `4 Dec`, or `4 Dec 2027` in another year than the present one. */
function dateOf(iso: string, timeZone: string, nowMs: number): string {
  const at = DateTime.fromISO(iso, { zone: timeZone, locale: 'en-GB' });
  return at.toFormat(at.year === DateTime.fromMillis(nowMs, { zone: timeZone }).year ? 'd LLL' : 'd LLL yyyy');
}
