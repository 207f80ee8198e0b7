/*
 * Days of a calendar as they are written, `2026-12-01`, and the moments behind them. The clock of a site decides which day it is there.
 */

const DAY_MS = 86_400_000;

export function dayPlus(day: string, days: number): string {
  return new Date(Date.parse(`${day}T00:00:00Z`) + days * DAY_MS).toISOString().slice(0, 10);
}

/** Whole days from `from` to `to`; below 0 when `to` is earlier. */
export function daysBetween(from: string, to: string): number {
  return Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / DAY_MS);
}

/** 0 is Monday. */
export function weekdayOf(day: string): number {
  return (new Date(`${day}T00:00:00Z`).getUTCDay() + 6) % 7;
}

const formatters = new Map<string, Intl.DateTimeFormat>();

function partsIn(zone: string, ms: number): Record<string, string> {
  let formatter = formatters.get(zone);
  if (formatter === undefined) {
    formatter = new Intl.DateTimeFormat('en-GB', { timeZone: zone, year: 'numeric', month: '2-digit', day: '2-digit', hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
    formatters.set(zone, formatter);
  }
  return Object.fromEntries(formatter.formatToParts(ms).map((part) => [part.type, part.value]));
}

/** The day that it is at a site at `ms`. */
export function dayAt(ms: number, zone: string): string {
  const parts = partsIn(zone, ms);
  return `${parts['year']}-${parts['month']}-${parts['day']}`;
}

/** The moment at which clocks of the zone show `day` and `time` (`08:30`). A time that they skip is moved on by the skip; of a doubled one the first is taken. */
export function momentOf(day: string, time: string, zone: string): number {
  const asUtc = Date.parse(`${day}T${time}:00Z`);
  const offsetAt = (ms: number): number => {
    const parts = partsIn(zone, ms);
    return Date.parse(`${parts['year']}-${parts['month']}-${parts['day']}T${parts['hour']}:${parts['minute']}:00Z`) - Math.floor(ms / 60_000) * 60_000;
  };
  const candidates = [asUtc - offsetAt(asUtc - DAY_MS), asUtc - offsetAt(asUtc + DAY_MS)].sort((a, b) => a - b);
  return candidates.find((ms) => ms + offsetAt(ms) === asUtc) ?? asUtc - offsetAt(asUtc - DAY_MS);
}

const WORDS = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', weekday: 'short', day: 'numeric', month: 'short' });

/** `Tue 1 Dec`; with the year when it isn't that of `today`. */
export function planDayWords(day: string, today: string): string {
  const year = day.slice(0, 4) === today.slice(0, 4) ? '' : ` ${day.slice(0, 4)}`;
  return WORDS.format(Date.parse(`${day}T00:00:00Z`)).replace(',', '') + year;
}
