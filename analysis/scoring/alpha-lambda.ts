/** One prediction: when it was made, and equally likely times of the end; all in one unit. */
export type PredictionAt = { readonly at: number; readonly samples: readonly number[] };

/** The cone around the true time: `alpha` of the time that is left, to both sides. */
export function alphaBounds(truth: number, at: number, alpha: number): readonly [from: number, to: number] {
  const half = alpha * (truth - at);
  return [truth - half, truth + half];
}

/** Share of the samples strictly inside the cone. */
function shareInside(samples: readonly number[], [from, to]: readonly [number, number]): number {
  return samples.filter((sample) => sample > from && sample < to).length / samples.length;
}

/**
 * Whether at least `beta` of a prediction lies within `alpha` of the time left.
 * @see Saxena and others 2010, Metrics for offline evaluation of prognostic performance, IJPHM 1(1).
 */
export function meetsAlphaLambda(prediction: PredictionAt, truth: number, alpha: number, beta: number): boolean {
  return shareInside(prediction.samples, alphaBounds(truth, prediction.at, alpha)) >= beta;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** How long before the true end the mean was first closer to it than `tolerance`; `undefined` if never before it. Same source. */
export function prognosticHorizon(profile: readonly PredictionAt[], truth: number, tolerance: number): number | undefined {
  const first = [...profile].sort((a, b) => a.at - b.at).find(({ at, samples }) => at < truth && Math.abs(mean(samples) - truth) < tolerance);
  return first === undefined ? undefined : truth - first.at;
}

/** 1 minus the mean's error as a share of the true time from 0, averaged over the profile; `undefined` for an empty one. Same source. */
export function cumulativeRelativeAccuracy(profile: readonly PredictionAt[], truth: number): number | undefined {
  return profile.length === 0 ? undefined : mean(profile.map(({ samples }) => 1 - Math.abs(truth - mean(samples)) / truth));
}
