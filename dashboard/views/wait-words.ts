import type { LimitName, RankingRow } from '../../shared/finding.ts';
import { checkedWords, type DoneWork, isBeingChecked, workWords } from './being-checked.ts';
import { mustGoAtOnce } from './cause-words.ts';
import { LIMIT_WORDS } from './domain-words.ts';
import { canWaitUntil } from './service-list.ts';
import { dateWords } from './site-time.ts';

/** "Can wait until" for a cell, and as a part of a sentence; `due` says how it is set off. */
export type WaitWords = { readonly until: string; readonly says: string; readonly because: string; readonly due: 'now' | 'soon' | 'later' | 'none' };

/** `dutyRatio`: null where nothing is known of its last days. */
type Waiting = Pick<RankingRow, 'serviceBy' | 'dueBy' | 'cause'> & Partial<Pick<RankingRow, 'dutyRatio' | 'causes'>>;

const DAY_MS = 86_400_000;

const SOON_MS = 7 * DAY_MS;

/** How long a generator can wait, from what analysis wrote about it and, once the work is done, until when that is checked. */
export function waitWords(row: Waiting & Partial<DoneWork>, zone: string, nowMs: number): WaitWords {
  const { state = null, servedAt = null } = row;
  if (!isBeingChecked({ state })) {
    const [wait, work] = [waitOf(row, zone, nowMs), workWords({ state, servedAt }, zone, nowMs)];
    return work === null ? wait : { ...wait, because: [wait.because, work].filter((words) => words !== '').join('; ') };
  }
  const rest = waitOf({ ...row, cause: null }, zone, nowMs);
  const checked = checkedWords({ servedAt }, zone, nowMs);
  return { until: 'being checked', says: `the work is done and being checked: ${checked}`, because: rest.due === 'none' || rest.due === 'later' ? checked : `${checked}; ${rest.says} (${rest.because})`, due: rest.due };
}

function waitOf(row: Waiting, zone: string, nowMs: number): WaitWords {
  const wait = canWaitUntil(row, new Date(nowMs).toISOString());
  // Nothing in sight is another thing than nothing to see by.
  if (wait.byAt === null && row.dutyRatio === null) return { until: 'not known', says: 'how long it can wait is not known', because: '', due: 'none' };
  if (wait.byAt === null) return { until: 'no end in sight', says: 'no end in sight', because: '', due: 'none' };
  if (mustGoAtOnce(row.cause, row.causes)) return { until: 'at once', says: 'should not wait', because: 'this cause should not wait', due: 'now' };
  const byMs = Date.parse(wait.byAt);
  const day = dateWords(byMs, zone, nowMs);
  const because = wait.byBecause === 'condition' && row.serviceBy !== null ? rangeWords(row.serviceBy, zone, nowMs) : 'service due by days or hours';
  // A date of today that comes from analysis' last look means: now.
  if (byMs <= nowMs) return nowMs - byMs < DAY_MS ? { until: 'now', says: 'its date is now', because, due: 'now' } : { until: `past: ${day}`, says: `its date was ${day}`, because, due: 'now' };
  return { until: day, says: `can wait until ${day}`, because, due: byMs - nowMs <= SOON_MS ? 'soon' : 'later' };
}

/** What its limits say of how long it can wait, as a sentence; beside a cause that should not wait, that it is the cause which can't. */
export function conditionWords({ serviceBy, dutyRatio, cause, causes }: Waiting, zone: string, nowMs: number): string {
  if (serviceBy !== null) return `From its condition: ${rangeWords(serviceBy, zone, nowMs)}${serviceBy.earliest !== null && Date.parse(serviceBy.earliest) <= nowMs ? '' : ' (10 to 90\u00a0%)'}.`;
  if (dutyRatio === null) return 'Of its last days nothing is known.';
  return mustGoAtOnce(cause, causes) ? 'No limit is near: it is the fault itself that is urgent.' : 'From its condition no end is in sight.';
}

/** Whether a limit is passed by now, as surely as a forecast says anything. */
export function isPassed(range: { readonly latest: string | null }, nowMs: number): boolean {
  return range.latest !== null && Date.parse(range.latest) <= nowMs;
}

/** The range behind a forecast, in words: which limit, between when and when. */
export function rangeWords(range: { readonly earliest: string | null; readonly latest: string | null; readonly limit: LimitName }, zone: string, nowMs: number): string {
  const limit = `limit of ${LIMIT_WORDS[range.limit]}`;
  if (range.earliest === null) return `${limit} not within the horizon`;
  if (isPassed(range, nowMs)) return `${limit} is passed`;
  if (Date.parse(range.earliest) <= nowMs) return `${limit} may be passed already`;
  const earliest = dateWords(Date.parse(range.earliest), zone, nowMs);
  if (range.latest === null) return `${limit} from ${earliest} on, perhaps not at all`;
  const latest = dateWords(Date.parse(range.latest), zone, nowMs);
  return earliest === latest ? `${limit} ${earliest}` : `${limit} ${earliest} to ${latest}`;
}
