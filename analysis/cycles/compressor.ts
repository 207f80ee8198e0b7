import type { DescriptorState } from './state.ts';

/*
 * Behind an air receiver the compressor keeps the receiver filled, and the membrane valve (`producing`) says when nitrogen is made.
 * How long the compressor runs for each hour of that tells of its wear and of leaks on the air side before the membrane knows.
 */

/** The compressor's own state, where the membrane valve's leads; it is in the sums up to `accMs`. */
export type CompressorState = { phase: 0 | 1; accMs: number; heardMs: number };

/** The compressor's state was sent. */
export function compressorSent(state: DescriptorState, atMs: number, phase: 0 | 1, holdsMs: number): void {
  passCompressor(state, atMs, holdsMs);
  state.compressor = { phase, accMs: atMs, heardMs: atMs };
}

/** Bring the sums up to a moment, as long as the state holds. */
export function passCompressor(state: DescriptorState, toMs: number, holdsMs: number): void {
  const { compressor } = state;
  const quarter = state.quarter!;
  if (compressor === undefined) return;
  const fromMs = Math.max(compressor.accMs, quarter.startMs);
  const knownToMs = Math.min(toMs, compressor.heardMs + holdsMs);
  if (knownToMs <= fromMs) return;
  const sums = (quarter.compressor ??= { runS: 0, knownS: 0 });
  sums.knownS += (knownToMs - fromMs) / 1000;
  if (compressor.phase === 1) sums.runS += (knownToMs - fromMs) / 1000;
  compressor.accMs = knownToMs;
}
