import { type DescriptorState, startRunSamples } from './state.ts';
import { addThinned, keepNewest, medianOf, rounded } from './thinned.ts';

/** Nitrogen is judged in runs of at least this, from their last third: it is low in the first 1 to 10 minutes (design, section 6). */
const NITROGEN_LEAST_RUN_S = 300;
/** Where usual runs are shorter, those that last nearly as long: poorer than the product that has settled, but alike from day to day. Common practice, no source. */
const NITROGEN_SHORTEST_S = 150;
const USUAL_SHARE = 0.8;
const LEAST_KNOWN = 4;

function nitrogenLeastS({ recentRunS }: DescriptorState): number {
  return recentRunS.length < LEAST_KNOWN ? NITROGEN_LEAST_RUN_S : Math.min(NITROGEN_LEAST_RUN_S, Math.max(NITROGEN_SHORTEST_S, USUAL_SHARE * medianOf(recentRunS)!));
}

/** The air that came into the housing at rest is out by then. */
const DIP_WITHIN_S = 180;
const MOST_NITROGEN = 24;
/** Run medians that a quarter of a day keeps of each channel. */
const MOST_RUNS = 8;
const MOST_DIPS = 4;
export const MOST_IN_RUN = 12;

/** Keep a nitrogen value of the run under way, thinned evenly when the run is long. */
export function addRunNitrogen(state: DescriptorState, atS: number, value: number): void {
  const { samples } = state;
  if (atS <= DIP_WITHIN_S) samples.nitrogenLeast = Math.min(samples.nitrogenLeast ?? value, value);
  if (samples.nitrogenSeen % samples.nitrogenEvery === 0) {
    if (samples.nitrogen.length >= MOST_NITROGEN) {
      samples.nitrogen = samples.nitrogen.filter((_, index) => index % 2 === 0);
      samples.nitrogenEvery *= 2;
    }
    if (samples.nitrogenSeen % samples.nitrogenEvery === 0) samples.nitrogen.push({ atS: Math.round(atS), value: Math.round(value * 1e6) / 1e6 });
  }
  samples.nitrogenSeen += 1;
}

/** A run ended (or a quarter did, in a run that goes on): its medians go into the quarter. */
export function endRunSamples(state: DescriptorState, atMs: number): void {
  const { samples } = state;
  const quarter = state.quarter!;
  if (!state.run.filling) {
    const ranS = (atMs - state.run.sinceMs) / 1000;
    const late = ranS >= nitrogenLeastS(state) ? samples.nitrogen.filter((sample) => sample.atS >= (ranS * 2) / 3).map((sample) => sample.value) : [];
    const nitrogen = medianOf(late);
    if (nitrogen !== null) addThinned(quarter.nitrogen, nitrogen, MOST_RUNS);
    if (nitrogen !== null && samples.nitrogenLeast !== null) keepNewest((quarter.dips ??= []), nitrogen - samples.nitrogenLeast, MOST_DIPS);
    for (const name of ['discharge', 'feed', 'drop'] as const) {
      const middle = medianOf(samples[name].values);
      if (middle !== null) addThinned(quarter[name], rounded(middle), MOST_RUNS);
    }
  }
  state.samples = startRunSamples();
}
