import type { LeavingCheck } from '../../shared/leaving-check.ts';

/** How a headline is to be taken: look before you go, not all is seen, or nothing unlike usual in what was seen. */
export type LeavingHeadline = { readonly says: string; readonly tone: 'look' | 'unseen' | 'seen' };

const FEED_SIDE = 'A bleed left open on the feed side shows only in a run, so nothing is known of it yet: look at each by hand and eye, or wait for the next run and ask again.';

/**
 * The sentence that is read first, and often alone. Where nothing unlike usual was seen it still must not sound like an
 * all-clear while no run was seen since the work: a bleed on the feed side takes nothing at rest.
 * `begunSinceWork`: whether a run began after the work; `undefined` where that isn't known.
 */
export function leavingHeadline(check: Pick<LeavingCheck, 'verdict' | 'says' | 'items'>, begunSinceWork?: boolean): LeavingHeadline {
  if (check.verdict === 'unlike usual') return { says: check.says, tone: 'look' };
  if (check.verdict === 'too little seen') return { says: check.says, tone: 'unseen' };
  const seen = check.items.some((item) => item.part === 'run' && item.state === 'as usual');
  if (!seen) return { says: `Not all is seen yet: no run in the last half hour that could be compared. ${FEED_SIDE} Of what was seen, nothing is unlike usual.`, tone: 'unseen' };
  if (begunSinceWork === false) return { says: `Not all is seen yet: no run has begun since the work, the one below is from before. ${FEED_SIDE} Of what was seen, nothing is unlike usual.`, tone: 'unseen' };
  return { says: check.says, tone: 'seen' };
}

/** Whether a run began after `sinceMs`, from buckets `[atMs, min, mean, max]` of the run state that reach back before it; `undefined` without any. */
export function runBegunSince(points: readonly (readonly [atMs: number, min: number, mean: number, max: number])[], sinceMs: number): boolean | undefined {
  if (points.length === 0) return undefined;
  return points.some(([atMs, min, , max], index) => {
    const before = points[index - 1];
    return atMs > sinceMs && max >= 0.5 && (min < 0.5 || (before !== undefined && before[1] < 0.5));
  });
}
