import { DateTime } from 'luxon';
import type { NoticeRule } from '../../shared/notice.ts';

type Rule = Pick<NoticeRule, 'timeZone' | 'when' | 'digestAt' | 'quietHours'>;

/**
 * When a notice made now goes out: at once, with the next digest, or when quiet hours end; in the person's zone, also where
 * clocks change (a time of day that a change skips is the one an hour later). `mayBundle`: others that wait for the same
 * moment may go in one message.
 */
export function whenToSend(rule: Rule, nowMs: number, urgent: boolean): { readonly notBeforeMs: number; readonly mayBundle: boolean } {
  if (urgent) return { notBeforeMs: nowMs, mayBundle: false };
  const plannedMs = rule.when === 'digest' ? nextTimeOfDay(rule.digestAt, rule.timeZone, nowMs) : nowMs;
  const endMs = quietUntil(rule, plannedMs);
  return { notBeforeMs: endMs ?? plannedMs, mayBundle: rule.when === 'digest' || endMs !== undefined };
}

/** The end of the quiet hours that `ms` lies in; `undefined` outside of them. They may span midnight; equal ends are none. */
function quietUntil(rule: Rule, ms: number): number | undefined {
  if (rule.quietHours === null || rule.quietHours.from === rule.quietHours.to) return undefined;
  const { from, to } = rule.quietHours;
  const clock = DateTime.fromMillis(ms, { zone: rule.timeZone }).toFormat('HH:mm');
  const quiet = from < to ? clock >= from && clock < to : clock >= from || clock < to;
  return quiet ? nextTimeOfDay(to, rule.timeZone, ms) : undefined;
}

/** The next moment after `afterMs` at which the zone's clocks show this time of day. */
function nextTimeOfDay(wall: string, zone: string, afterMs: number): number {
  const [hour = 0, minute = 0] = wall.split(':').map(Number);
  const now = DateTime.fromMillis(afterMs, { zone });
  const today = now.set({ hour, minute, second: 0, millisecond: 0 });
  return (today.toMillis() > afterMs ? today : now.plus({ days: 1 }).set({ hour, minute, second: 0, millisecond: 0 })).toMillis();
}
