import { DateTime, IANAZone } from 'luxon';

export const SECOND_MS = 1000;
export const MINUTE_MS = 60 * SECOND_MS;
export const HOUR_MS = 60 * MINUTE_MS;
export const DAY_MS = 24 * HOUR_MS;
/** Analysis looks at what was received on every whole 10 minutes UTC. */
export const TICK_MS = 10 * MINUTE_MS;

/** Where the present time comes from; handed in, so that a year runs in a second. */
export type Clock = { nowMs(): number };

/** The tick that sees what was received at `receivedMs`: the next whole 10 minutes after it. */
export function tickAfter(receivedMs: number): number {
  return (Math.floor(receivedMs / TICK_MS) + 1) * TICK_MS;
}

export function isoFromMs(ms: number): string {
  return new Date(ms).toISOString();
}

/** Read an ISO 8601 date or time; a date alone or a time without offset is UTC. `undefined` if it is none. */
export function msFromIso(text: string): number | undefined {
  const time = DateTime.fromISO(text, { zone: 'utc' });
  return time.isValid ? time.toMillis() : undefined;
}

export function isTimeZone(name: string): boolean {
  return IANAZone.isValidZone(name);
}

/** A day of a site's calendar: its name `2026-11-24`, its start, and the start of the next. */
export type CalendarDay = { readonly day: string; readonly startMs: number; readonly endMs: number };

/**
 * Days of one time zone. Days are 23 to 25 h long where clocks change.
 * @throws {RangeError} if the zone isn't in the IANA data base.
 */
export function calendarOf(timeZone: string): (ms: number) => CalendarDay {
  if (!isTimeZone(timeZone)) throw new RangeError(`Cannot use time zone as it must be an IANA name such as Europe/Lisbon: current value is ${JSON.stringify(timeZone)}`);
  let last: CalendarDay | undefined;
  return (ms) => {
    if (last !== undefined && ms >= last.startMs && ms < last.endMs) return last;
    const start = DateTime.fromMillis(ms, { zone: timeZone }).startOf('day');
    last = { day: start.toISODate() ?? '', startMs: start.toMillis(), endMs: start.plus({ days: 1 }).startOf('day').toMillis() };
    return last;
  };
}
