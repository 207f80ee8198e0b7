import { median } from '../change/robust.ts';
import type { DaysJudged } from './assess.ts';
import type { Watching } from './change-watch.ts';
import { visitBefore } from './mends.ts';
import { shapeOf } from './shape.ts';

/** ln of a delivery that no season and no wear brings. */
const LETS_THROUGH = 0.1;
/** Days that say so: runs that are cut short seem to make more. */
const LETS_DAYS = 4;
/** So many days without nitrogen, and nobody sees it. */
const NITROGEN_DAYS = 3;

/** Where nobody sees the nitrogen: a delivery that rises by itself is a membrane that lets more through, poorer; water from a bowl that is full does that too. */
export function letsThrough(days: DaysJudged, { epoch, shift, byDay }: Watching): boolean {
  if (!byDay || shift.direction !== 'up' || shift.effect < LETS_THROUGH || epoch.points.length - shift.onsetIndex < LETS_DAYS || days.careful !== undefined) return false;
  // Judged of late: where more is made runs may have become too short for it.
  if (days.rows.slice(-NITROGEN_DAYS).some((row) => row.nitrogen !== null)) return false;
  // What rose since new elements were put in, and isn't learned yet, is theirs, unless it had begun to before.
  const { learned, points, baseline, watchFromMs } = epoch;
  const before = median(points.filter((point) => point.startMs < watchFromMs).slice(-LETS_DAYS).map((point) => point.value)) ?? baseline.centre;
  const byElements = !learned && before - baseline.centre < LETS_THROUGH / 2;
  return !byElements && visitBefore(days.entries, shapeOf(points, baseline, shift).onset) === undefined;
}
