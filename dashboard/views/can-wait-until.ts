import type { LimitName, RankingRow } from '../../shared/finding.ts';
import { LIMIT_WORDS } from './domain-words.ts';
import { dateWords } from './site-time.ts';

export type CanWait = { readonly untilMs: number; readonly because: 'condition' | 'due'; readonly limit: LimitName | null };

/**
 * "Can wait until": the earlier of condition and service due. From condition the likely crossing (50 %) is taken,
 * and the early one (10 %) where no likely one lies within the horizon. `null` = no end in sight.
 */
export function canWaitUntil(row: Pick<RankingRow, 'serviceBy' | 'dueBy'>): CanWait | null {
  const condition = row.serviceBy?.likely ?? row.serviceBy?.earliest ?? null;
  const conditionMs = condition === null ? Infinity : Date.parse(condition);
  const dueMs = row.dueBy === null ? Infinity : Date.parse(row.dueBy);
  if (conditionMs === Infinity && dueMs === Infinity) return null;
  return conditionMs <= dueMs ? { untilMs: conditionMs, because: 'condition', limit: row.serviceBy?.limit ?? null } : { untilMs: dueMs, because: 'due', limit: null };
}

/** The range behind it, in words: which limit, between when and when. */
export function rangeWords(range: { readonly earliest: string | null; readonly latest: string | null; readonly limit: LimitName }, zone: string, nowMs: number): string {
  const earliest = range.earliest === null ? null : dateWords(Date.parse(range.earliest), zone, nowMs);
  const latest = range.latest === null ? null : dateWords(Date.parse(range.latest), zone, nowMs);
  const limit = `limit of ${LIMIT_WORDS[range.limit]}`;
  if (earliest === null) return `${limit} not within the horizon`;
  return latest === null ? `${limit} from ${earliest} on, perhaps not at all` : `${limit} between ${earliest} and ${latest}`;
}
