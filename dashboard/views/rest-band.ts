import type { BandDay } from '../../shared/api.ts';
import type { DayRow } from '../../shared/cycle.ts';

const DAY_MS = 86_400_000;

/**
 * Mean run and mean rest of the cycles of one day, s. A day without a start is one rest (or one run) that
 * lasts at least as long as what was seen of it. Nulls where the run state is not known at all.
 */
export function bandDay(day: Pick<DayRow, 'day' | 'coveredS' | 'runS' | 'restS' | 'starts'>): BandDay {
  if (!(day.coveredS > 0)) return { day: day.day, runS: null, restS: null };
  const cycles = Math.max(1, day.starts);
  return { day: day.day, runS: Math.round(day.runS / cycles), restS: Math.round(day.restS / cycles) };
}

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
