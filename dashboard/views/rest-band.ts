import type { BandDay } from '../../shared/api.ts';

const DAY_MS = 86_400_000;

/**
 * The last `length` calendar days up to `today` (`2026-11-24`), oldest first. A day without a row is a gap with
 * nulls: nothing is bridged. `known` in any order.
 */
export function restBand(known: readonly BandDay[], today: string, length = 42): BandDay[] {
  const byDay = new Map(known.map((one) => [one.day, one]));
  const endMs = Date.parse(`${today}T00:00:00Z`);
  return Array.from({ length }, (_, index) => {
    const day = new Date(endMs - (length - 1 - index) * DAY_MS).toISOString().slice(0, 10);
    return byDay.get(day) ?? { day, runS: null, restS: null };
  });
}
