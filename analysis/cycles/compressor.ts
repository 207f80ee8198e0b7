import type { DescriptorState } from './state.ts';
import { rounded } from './thinned.ts';

/*
 * Behind an air receiver the compressor keeps the receiver filled, and the membrane valve (`producing`) says when nitrogen is made.
 * How long the compressor runs for each hour of that tells of its wear and of leaks on the air side before the membrane knows.
 */

/** The compressor's own state, where the membrane valve's leads: since when, when it was last said, and how long a long run usually is, s (0 before the first). */
export type CompressorState = { phase: 0 | 1; sinceMs: number; saidMs: number; usualS: number };

/** No tank shows when the compressor stopped: a stop that was told so many times as late as usual got lost, and the run was a usual one. A run that is said again went on. */
const UNSAID_TIMES = 1.8;
/** Runs differ with what is drawn meanwhile: this quantile of them is what a usual long one lasts, followed by so much of itself at each. */
const LONG_QUANTILE = 0.8;
const FOLLOWS = 0.1;

/** The compressor's state was sent: the time since it was last said goes into the present quarter, as long as that state holds. */
export function compressorSent(state: DescriptorState, atMs: number, phase: 0 | 1, holdsMs: number): void {
  const before = state.compressor;
  const same = before?.phase === phase;
  if (before === undefined || atMs - before.saidMs > holdsMs) {
    state.compressor = { phase, sinceMs: atMs, saidMs: atMs, usualS: before?.usualS ?? 0 };
    return;
  }
  const sums = (state.quarter!.compressor ??= { runS: 0, knownS: 0 });
  const spanS = (atMs - before.saidMs) / 1000;
  sums.knownS = rounded(sums.knownS + spanS);
  if (before.phase === 1) {
    const isUnsaid = !same && before.usualS > 0 && spanS > UNSAID_TIMES * before.usualS;
    sums.runS = rounded(sums.runS + (isUnsaid ? before.usualS : spanS));
    if (!same) before.usualS = nextUsual(before.usualS, (atMs - before.sinceMs) / 1000);
  }
  before.saidMs = atMs;
  if (same) return;
  before.phase = phase;
  before.sinceMs = atMs;
}

/** Follows the quantile: a run that is told far too long counts as any that is longer. */
function nextUsual(usualS: number, runS: number): number {
  return usualS === 0 ? rounded(runS) : rounded(usualS * (1 + FOLLOWS * (runS > usualS ? LONG_QUANTILE : LONG_QUANTILE - 1)));
}
