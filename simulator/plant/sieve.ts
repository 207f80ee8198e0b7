import { AIR_OXYGEN } from './membrane.ts';

/** Two beds that take turns: one lets nitrogen through while the other is emptied to the air. */
export type SieveSpec = {
  /** Gas that a minute of turns takes for every kPa of feed over the air's pressure, NL/(min kPa). */
  readonly bedNLPerMinKPa: number;
  readonly ratedNLPerMin: number;
  readonly ratedOxygen: number;
  readonly ratedFeedAbsKPa: number;
  /** Time of one bed's turn. */
  readonly swingS: number;
};

/** Share of a swing in which pressure is evened out and nothing reaches the tank. */
export const PAUSE_SHARE = 0.2;
/** Half of the rated flow is about a quarter of the oxygen. Common practice, no source. */
const SHARPNESS = 2.8;

/** What beds leave over of a feed, averaged over a swing. `capacity` = 1 with fresh beds; oil and water lower it. */
export function sieveProduct(spec: SieveSpec, capacity: number, feedNL: number, feedAbsKPa: number, atmKPa: number): { readonly productNL: number; readonly oxygen: number } {
  const productNL = feedNL - spec.bedNLPerMinKPa * capacity * Math.max(0, feedAbsKPa - atmKPa);
  const load = Math.max(0, productNL) / (spec.ratedNLPerMin * capacity * (feedAbsKPa / spec.ratedFeedAbsKPa));
  return { productNL, oxygen: Math.min(AIR_OXYGEN, spec.ratedOxygen * Math.exp(SHARPNESS * (load - 1))) };
}

/** Factor on the mean flow at this moment of a swing: nothing in the pause, more after it; 1 on average. */
export function swingFactor(spec: SieveSpec, sinceMs: number): number {
  return swingPhase(spec, sinceMs) < PAUSE_SHARE ? 0 : 1 / (1 - PAUSE_SHARE);
}

/** Time until the flow changes next, ms. */
export function untilTurnMs(spec: SieveSpec, sinceMs: number): number {
  const phase = swingPhase(spec, sinceMs);
  return ((phase < PAUSE_SHARE ? PAUSE_SHARE : 1) - phase) * spec.swingS * 1000 + CLOSE_MS;
}

/** A stretch that ended so close to a turn is past it: moments since 1970 have steps of a quarter of a microsecond. */
const CLOSE_MS = 0.01;

/** Where in a swing, 0..1. */
function swingPhase(spec: SieveSpec, sinceMs: number): number {
  const turns = (Math.max(0, sinceMs) + CLOSE_MS) / (spec.swingS * 1000);
  return turns - Math.floor(turns);
}
