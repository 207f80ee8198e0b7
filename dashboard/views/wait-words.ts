import type { LimitName, RankingRow } from '../../shared/finding.ts';
import { mustGoAtOnce } from './cause-words.ts';
import { LIMIT_WORDS } from './domain-words.ts';
import { canWaitUntil } from './service-list.ts';
import { dateWords } from './site-time.ts';

/** "Can wait until" for a cell and for a sentence; `due` says how it is set off. */
export type WaitWords = { readonly until: string; readonly because: string; readonly due: 'now' | 'soon' | 'later' | 'none' };

const SOON_MS = 7 * 86_400_000;

/** How long a generator can wait, from what analysis wrote about it. */
export function waitWords(row: Pick<RankingRow, 'serviceBy' | 'dueBy' | 'cause'>, zone: string, nowMs: number): WaitWords {
  const wait = canWaitUntil(row, new Date(nowMs).toISOString());
  if (wait.byAt === null) return { until: 'no end in sight', because: '', due: 'none' };
  if (mustGoAtOnce(row.cause)) return { until: 'at once', because: 'this cause should not wait', due: 'now' };
  const byMs = Date.parse(wait.byAt);
  const day = dateWords(byMs, zone, nowMs);
  const because = wait.byBecause === 'condition' && row.serviceBy !== null ? rangeWords(row.serviceBy, zone, nowMs) : 'service due by days or hours';
  return byMs <= nowMs ? { until: `past: ${day}`, because, due: 'now' } : { until: day, because, due: byMs - nowMs <= SOON_MS ? 'soon' : 'later' };
}

/** The range behind a forecast, in words: which limit, between when and when. */
export function rangeWords(range: { readonly earliest: string | null; readonly latest: string | null; readonly limit: LimitName }, zone: string, nowMs: number): string {
  const limit = `limit of ${LIMIT_WORDS[range.limit]}`;
  if (range.earliest === null) return `${limit} not within the horizon`;
  const earliest = dateWords(Date.parse(range.earliest), zone, nowMs);
  if (range.latest === null) return `${limit} from ${earliest} on, perhaps not at all`;
  const latest = dateWords(Date.parse(range.latest), zone, nowMs);
  return earliest === latest ? `${limit} ${earliest}` : `${limit} ${earliest} to ${latest}`;
}
