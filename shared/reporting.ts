/** How many reporting intervals may pass before a generator counts as silent. */
export const SILENT_AFTER_INTERVALS = 3;
/** Reporting interval that is assumed until 24 h are heard, s. */
export const DEFAULT_REPORT_EVERY_S = 3600;
/** No interval shorter than this is believed, s: a burst must not make a generator look silent soon after. */
export const LEAST_REPORT_EVERY_S = 60;
/** Whether a generator last heard at `lastHeardMs` is silent now. */
export function isSilent(lastHeardMs: number, reportEveryS: number, nowMs: number): boolean {
  return nowMs - lastHeardMs > SILENT_AFTER_INTERVALS * reportEveryS * 1000;
}

/** Gaps are counted in bins a quarter of an octave wide, so that the state stays small and a step is cheap. */
const BINS_PER_OCTAVE = 4;
const MOST_BINS = 80;
/** Fewer gaps than this say nothing of how often a generator reports. */
const GAPS_NEEDED = 3;
/** Receipts closer than this are one hearing, s: a burst of late ones says nothing about how often a gateway reports. */
const ONE_HEARING_S = 5;
const LEARN_MS = 86_400_000;
/** Counts are halved beyond this, so that a new period is learned within weeks. */
const MOST_COUNTS = 4000;

/** When a generator was heard, and how long the gaps between were; plain JSON. `bins[i]` counts gaps from 2^(i/4) s on. */
export type GapState = { firstMs: number; lastMs: number; bins: number[] };

export function startGaps(): GapState {
  return { firstMs: 0, lastMs: 0, bins: [] };
}

/** Something was received. */
export function heardAt(state: GapState, receivedMs: number): void {
  if (state.firstMs === 0) state.firstMs = state.lastMs = receivedMs;
  const gapS = (receivedMs - state.lastMs) / 1000;
  if (gapS <= 0) return;
  state.lastMs = receivedMs;
  if (gapS < ONE_HEARING_S) return;
  const bin = Math.min(MOST_BINS, Math.round(Math.log2(gapS) * BINS_PER_OCTAVE));
  while (state.bins.length <= bin) state.bins.push(0);
  state.bins[bin]! += 1;
  if (state.bins[bin]! > MOST_COUNTS) state.bins = state.bins.map((count) => count >> 1);
}

/**
 * Usual seconds between reports: as registered, else 3600 until 24 h are heard with 3 gaps, then the 90 % quantile of the
 * gaps (to within 10 %), at least 60 (design, section 5).
 */
export function reportEveryS(state: GapState, registeredS?: number): number {
  if (registeredS !== undefined) return registeredS;
  const total = state.bins.reduce((sum, count) => sum + count, 0);
  if (state.lastMs - state.firstMs < LEARN_MS || total < GAPS_NEEDED) return DEFAULT_REPORT_EVERY_S;
  let below = 0;
  for (let bin = 0; bin < state.bins.length; bin += 1) {
    below += state.bins[bin]!;
    if (below >= 0.9 * total) return Math.max(LEAST_REPORT_EVERY_S, Math.round(2 ** (bin / BINS_PER_OCTAVE)));
  }
  return DEFAULT_REPORT_EVERY_S;
}
