import type { BandDay } from '../../shared/api.ts';
import type { DayRow } from '../../shared/cycle.ts';

/**
 * Mean run and mean rest of each day. A day without a start shows its longest stretch: a rest that doesn't end is news too.
 * Where only the duty ratio is sent, run and rest are not known and stay open.
 * A day known for less than two hours is left open: its means would be those of one cycle by chance.
 */
export function bandDaysOf(days: readonly DayRow[]): BandDay[] {
  return days.map((day) => {
    if (day.coveredS < 7200 || day.source === 'duty') return { day: day.day, runS: null, restS: null };
    if (day.starts === 0) return { day: day.day, runS: Math.min(day.longestRunS, day.runS), restS: day.restS > 0 ? day.longestRestS : 0 };
    return { day: day.day, runS: day.runS / day.starts, restS: day.restS / day.starts };
  });
}
