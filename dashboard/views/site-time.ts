/*
 * Times as people at a site read them. Every time is shown in the site's zone and the zone is said,
 * because a desk and a site often keep different clocks.
 */

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;

/** Making a formatter costs 30 times what using it does, so they are kept by zone and shape. */
const formatters = new Map<string, Intl.DateTimeFormat>();

function formatter(zone: string, shape: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const name = `${shape} ${zone}`;
  let known = formatters.get(name);
  if (known === undefined) {
    known = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: zone });
    formatters.set(name, known);
  }
  return known;
}

/** `24 Nov 2026, 03:12` in the zone. */
export function timeWords(ms: number, zone: string): string {
  return formatter(zone, 'time', { day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(ms);
}

/** `24 Nov` in the zone; with the year when it isn't that of `nowMs`. */
export function dateWords(ms: number, zone: string, nowMs?: number): string {
  const sameYear = nowMs !== undefined && new Date(ms).getUTCFullYear() === new Date(nowMs).getUTCFullYear();
  return sameYear ? formatter(zone, 'day', { day: 'numeric', month: 'short' }).format(ms) : formatter(zone, 'date', { day: 'numeric', month: 'short', year: 'numeric' }).format(ms);
}

/** `03:12` in the zone. */
export function clockWords(ms: number, zone: string): string {
  return formatter(zone, 'clock', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(ms);
}

/** `24 Nov` for a day's name such as `2026-11-24`, which already belongs to a site's calendar. */
export function dayNameWords(day: string): string {
  return formatter('UTC', 'day', { day: 'numeric', month: 'short' }).format(Date.parse(`${day}T00:00:00Z`));
}

/** How long ago: `just now`, `3 min ago`. A time to come by more than 90 s means that two clocks disagree, and is said so. */
export function ageWords(ms: number, nowMs: number): string {
  if (ms - nowMs > 90_000) return `${spanWords(ms - nowMs)} ahead of the clock`;
  if (nowMs - ms < 10_000) return 'just now';
  return `${spanWords(nowMs - ms)} ago`;
}

/** A length of time in its largest fitting unit. */
export function spanWords(spanMs: number): string {
  if (spanMs < 1.5 * MINUTE_MS) return `${Math.round(spanMs / 1000)}\u00a0s`;
  if (spanMs < 90 * MINUTE_MS) return `${Math.round(spanMs / MINUTE_MS)}\u00a0min`;
  if (spanMs < 36 * HOUR_MS) return `${Math.round(spanMs / HOUR_MS)}\u00a0h`;
  return `${Math.round(spanMs / DAY_MS)}\u00a0days`;
}

/** `2026-11-24T03:12`, as a form's date-and-time field wants it, in the zone. */
export function wallTime(ms: number, zone: string): string {
  const parts = Object.fromEntries(formatter(zone, 'wall', { year: 'numeric', month: '2-digit', day: '2-digit', hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).formatToParts(ms).map((part) => [part.type, part.value]));
  return `${parts['year']}-${parts['month']}-${parts['day']}T${parts['hour']}:${parts['minute']}`;
}

/**
 * The moment at which the zone's clocks show `wall` (`2026-11-24T03:12`); `undefined` if it is no such text.
 * Where clocks go back the earlier of the two moments is taken; a time that clocks skip is moved on by the skip.
 */
export function msOfWallTime(wall: string, zone: string): number | undefined {
  const asUtc = Date.parse(`${wall}Z`);
  if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}$/.test(wall) || Number.isNaN(asUtc)) return undefined;
  const offsetAt = (ms: number): number => Date.parse(`${wallTime(ms, zone)}Z`) - ms;
  const candidates = [asUtc - offsetAt(asUtc - DAY_MS), asUtc - offsetAt(asUtc + DAY_MS)].sort((a, b) => a - b);
  return candidates.find((ms) => ms + offsetAt(ms) === asUtc) ?? asUtc - offsetAt(asUtc - DAY_MS);
}

/** `Tue 1 Dec` for a day's name such as `2026-12-01`; with the year when it isn't that of `today`, another such name. */
export function weekdayWords(day: string, today = day): string {
  if (day.slice(0, 4) !== today.slice(0, 4)) return `${weekdayWords(day)} ${day.slice(0, 4)}`;
  return formatter('UTC', 'weekday', { weekday: 'short', day: 'numeric', month: 'short' }).format(Date.parse(`${day}T00:00:00Z`)).replace(',', '');
}

/** The day that is `days` after `day`. */
export function dayAfter(day: string, days: number): string {
  return new Date(Date.parse(`${day}T00:00:00Z`) + days * DAY_MS).toISOString().slice(0, 10);
}
