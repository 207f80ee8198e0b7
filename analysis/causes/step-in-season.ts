import { mad, median } from '../change/robust.ts';
import type { Epoch } from './epochs.ts';
import { findShift, type Shift, type ShiftRule } from './find-shift.ts';
import { shapeOf } from './shape.ts';

/** Values on either side of a step that are held against each other, the fewest of each, and by how many standard errors they must be apart; neighbours hang together. Common practice, no source. */
const BEFORE = 14;
const SINCE = 7;
const LEAST_BEFORE = 7;
const LEAST_SINCE = 4;
const LEAST_SE = 5;
const HANGS_TOGETHER = 1.7;
/** Days that lie closer together than this do so by chance. */
const LEAST_SCATTER = 0.01;
/** From this chance of a step on no season explains it. */
const SURE_STEP = 0.9;

/**
 * Where a season may move a series by itself (`bySeason`, in the series' unit), a change must be larger by that to count; but a
 * season takes months. What came at once counts from what matters on, if the days right before it and since stand apart by as much.
 */
export function stepInSeason({ points, baseline }: Epoch, rule: ShiftRule, bySeason: number): Shift | undefined {
  if (bySeason === 0) return undefined;
  const smallest = rule.smallest - bySeason;
  const { shift } = findShift(points, baseline, { ...rule, smallest });
  if (shift === undefined) return undefined;
  const before = points.slice(Math.max(0, shift.onsetIndex - BEFORE), shift.onsetIndex).map((point) => point.value);
  const since = points.slice(shift.onsetIndex).slice(-SINCE).map((point) => point.value);
  if (before.length < LEAST_BEFORE || since.length < LEAST_SINCE) return undefined;
  const was = median(before)!;
  const away = (shift.direction === 'up' ? 1 : -1) * (median(since)! - was);
  const scatter = Math.max(LEAST_SCATTER, mad(before, was)!, mad(since)!);
  const se = HANGS_TOGETHER * 1.25 * scatter * Math.sqrt(1 / before.length + 1 / since.length);
  return away >= Math.max(smallest, LEAST_SE * se) && (shapeOf(points, baseline, shift).stepChance ?? 0) >= SURE_STEP ? shift : undefined;
}
