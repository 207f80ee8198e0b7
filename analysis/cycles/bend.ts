import { MINUTE_MS } from '../../shared/time.ts';
import { bandOf } from './normal.ts';
import type { DescriptorSetup, DescriptorState, OpenCycle } from './state.ts';
import { outsideKPa } from './tank-content.ts';
import { rounded } from './thinned.ts';

/*
 * Delivery falls as the tank fills: Q(p) = Q_ref·[1 − β·(p − p_ref)/p_ref], p absolute, p_ref in the middle of the rise (design,
 * section 6). In one run demand is the same in the lower and the upper half of the band, so that the two rise rates differ by
 * what delivery lost between them: β = (lower − upper) ÷ (distance of the halves' middles) · p_ref ÷ (mean rise + fall).
 */

/** Each half of a rise must span this share of the band, or its slope is noise. */
const LEAST_HALF_SHARE = 0.15;
/** Of sieve beds, which swing every 30 to 120 s, each half must hold three swings. */
const SWINGS_MS = 6 * MINUTE_MS;
/** No machine bends so much: a burst of demand or a gauge did. */
const MOST = 8;
/** A steel tank takes so long for two thirds of the way to the room's temperature (see `settling.ts`). */
const TANK_TAU_MS = 7 * MINUTE_MS;
/** Gas is warmed by 9 K at most: this share of its absolute pressure. */
const MOST_WARMTH = 0.03;

/** A complete cycle ended: how the rise of its tank bent goes into the quarter. */
export function noteBend(state: DescriptorState, setup: DescriptorSetup, open: OpenCycle): void {
  const beta = betaOf(state, setup, open);
  if (beta === null || Math.abs(beta) > MOST) return;
  const bends = (state.quarter!.bends ??= { n: 0, sum: 0 });
  bends.n += 1;
  bends.sum = rounded(bends.sum + beta);
}

function betaOf(state: DescriptorState, setup: DescriptorSetup, open: OpenCycle): number | null {
  const { riseFirst: first, riseMid, riseLast: last, fallFirst, fallLast } = open;
  const band = bandOf(state, setup);
  if (!first || !riseMid || !last || !fallFirst || !fallLast || band === null || fallLast.atMs <= fallFirst.atMs) return null;
  const [middleMs, middle] = riseMid;
  if (setup.registered.generator.kind === 'sieve' && Math.min(middleMs - first.atMs, last.atMs - middleMs) < SWINGS_MS) return null;
  const least = LEAST_HALF_SHARE * (band.highKPa - band.lowKPa);
  if (middle - first.content < least || last.content - middle < least) return null;
  const refKPa = (first.kPa + last.kPa) / 2 + outsideKPa(setup);
  const warm = state.celsiusFrom === 'tank' ? 0 : warmthKPa(open, refKPa);
  if (warm === null) return null;
  const warmAt = (atMs: number): number => (warm * -Math.expm1((open.startMs - atMs) / TANK_TAU_MS)) / -Math.expm1(-(1000 * open.runS) / TANK_TAU_MS);
  const lower = (middle - first.content - warmAt(middleMs) + warmAt(first.atMs)) / (middleMs - first.atMs);
  const upper = (last.content - middle - warmAt(last.atMs) + warmAt(middleMs)) / (last.atMs - middleMs);
  const drawn = (fallFirst.content - fallLast.content) / (fallLast.atMs - fallFirst.atMs);
  const made = (lower + upper) / 2 + drawn;
  return made <= 0 ? null : ((lower - upper) / ((last.kPa - first.kPa) / 2)) * (refKPa / made);
}

/** How much of the pressure at the stop was warmth: what the tank lost until it settled beyond what is drawn. `null` where the stop wasn't seen. */
function warmthKPa(open: OpenCycle, refKPa: number): number | null {
  const { stopKPa, fallFirst, fallLast } = open;
  if (stopKPa === null) return null;
  const perMs = (fallFirst!.kPa - fallLast!.kPa) / (fallLast!.atMs - fallFirst!.atMs);
  const settledKPa = fallFirst!.kPa + perMs * (fallFirst!.atMs - open.startMs - 1000 * open.runS);
  return Math.max(0, Math.min(MOST_WARMTH * refKPa, stopKPa - settledKPa));
}
