import type { DayRow } from '../../shared/cycle.ts';
import { median } from '../change/robust.ts';

/** Days before a change, and of now, whose runs are compared; and how much more uneven runs must have become. Common practice, no source. */
const BEFORE_DAYS = 14;
const NOW_DAYS = 3;
const LEAST_TIMES = 1.1;

/** Where two compressors take turns and one of them fell behind: "Every second run takes 1.6 times as long as the others: …". */
export function byTurns(rows: readonly DayRow[], onsetMs: number): string | undefined {
  const times = (some: readonly DayRow[]): number => median(some.map((row) => row.runsAlternate ?? 1)) ?? 1;
  const now = times(rows.filter((row) => row.startMs >= onsetMs).slice(-NOW_DAYS));
  const before = times(rows.filter((row) => row.endMs <= onsetMs).slice(-BEFORE_DAYS));
  return now < LEAST_TIMES * before ? undefined : `Every second run takes ${now.toFixed(1)} times as long as the others${before >= LEAST_TIMES ? `, before ${before.toFixed(1)} times` : ''}: one of two compressors that take turns makes less.`;
}
