/*
 * How often a generator reports, learned from what it does: 3600 s until 24 h are heard, then the 90 % quantile of the gaps
 * between receipts, at least 60 s (design, section 5). Gaps are counted in bins a quarter octave wide, so the state stays small.
 */

export type GapState = { firstMs: number; lastMs: number; bins: number[] };

const BINS_PER_OCTAVE = 4;
const MOST_BINS = 80;
const UNKNOWN_S = 3600;
const LEAST_S = 60;
const LEARN_MS = 24 * 3_600_000;
/** Counts are halved beyond this, so that a new period is learned within weeks. */
const MOST_COUNTS = 4000;

export function startGaps(): GapState {
  return { firstMs: 0, lastMs: 0, bins: [] };
}

/** Something was received; receipts within a second are one. */
export function heardAt(state: GapState, receivedMs: number): void {
  if (state.firstMs === 0) state.firstMs = receivedMs;
  const gapS = (receivedMs - state.lastMs) / 1000;
  if (state.lastMs > 0 && gapS < 1) return;
  if (state.lastMs > 0) {
    const bin = Math.min(MOST_BINS, Math.floor(Math.log2(gapS) * BINS_PER_OCTAVE));
    while (state.bins.length <= bin) state.bins.push(0);
    state.bins[bin]! += 1;
    if (state.bins[bin]! > MOST_COUNTS) state.bins = state.bins.map((count) => count >> 1);
  }
  state.lastMs = receivedMs;
}

/** Usual seconds between reports: registered, else learned. */
export function reportEveryS(state: GapState, registeredS: number | undefined): number {
  if (registeredS !== undefined) return registeredS;
  const total = state.bins.reduce((sum, count) => sum + count, 0);
  if (state.lastMs - state.firstMs < LEARN_MS || total < 10) return UNKNOWN_S;
  let below = 0;
  for (let bin = 0; bin < state.bins.length; bin += 1) {
    below += state.bins[bin]!;
    if (below >= 0.9 * total) return Math.max(LEAST_S, Math.round(2 ** ((bin + 1) / BINS_PER_OCTAVE)));
  }
  return UNKNOWN_S;
}
