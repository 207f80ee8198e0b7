import { bandOf, filledBand, fillingKPa, fillsOwnTank } from './normal.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { medianOf } from './thinned.ts';

/** A settled rest of less than this says too little about what its cycle drew. */
export const LEAST_REST_S = 300;
/** A stop or start this far from the usual one, in bands, or a run this much shorter than the middle one of late, was no whole filling. Common practice, no source. */
const NEAR_BANDS = 0.3;
const WHOLE_SHARE = 0.75;

/**
 * What the rest that ends now drew, kPa at 20 °C, where it was too short for the tank's reports to show: from stop to start the
 * tank lost what a run puts in. Else only long rests would be seen, and as long ones draw little, so would all demand be.
 * `null` where the rest was seen, isn't whole or wasn't in holding, or the band isn't known.
 */
export function drawnUnseen(state: DescriptorState, setup: DescriptorSetup, startKPa: number | null): number | null {
  const { run, open, tank, quarter } = state;
  const whole = fillsOwnTank(state, setup) && run.phase === 0 && run.seen && open !== null && open.runS > 0 && open.held && run.sinceMs >= quarter!.startMs;
  const band = bandOf(state, setup);
  if (!whole || band === null || tank.last === null || tank.cycleFallS >= LEAST_REST_S) return null;
  const nearKPa = NEAR_BANDS * (band.highKPa - band.lowKPa);
  if (startKPa !== null && Math.abs(startKPa - band.lowKPa) > nearKPa) return null;
  if (open.stopKPa !== null && Math.abs(open.stopKPa - band.highKPa) > nearKPa) return null;
  return open.runS < WHOLE_SHARE * (medianOf(state.recentRunS) ?? 0) ? null : fillingKPa(state, filledBand(state, setup)!);
}
