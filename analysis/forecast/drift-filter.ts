/**
 * How a level moves, in units of the scatter of one typical value: its own wander per root day, its slope's wander, and how wide
 * the slope is thought of beforehand (0: no slope). The slope is steady in warped time, `span · (day / span) ^ power`: a
 * power above 1 is a rise that quickens.
 */
export type DriftModel = { readonly levelWander: number; readonly slopeWander: number; readonly slopePrior: number; readonly power: number; readonly prior: number };

/** What a model makes of a series at its last value: level and slope with their covariance, the scatter, and how well it explained the series. */
export type DriftState = {
  readonly level: number;
  readonly slope: number;
  readonly levelVariance: number;
  readonly covariance: number;
  readonly slopeVariance: number;
  /** Variance that the level and the slope gain per day. */
  readonly levelGain: number;
  readonly slopeGain: number;
  readonly logLikelihood: number;
  /** Correlation between one miss and the next: above 0 the values say less than they seem to. */
  readonly missCorrelation: number;
};

/** Levels that wander: per root day, and how likely beforehand. */
const LEVEL_WANDER = [[0, 0.7], [0.15, 0.3]] as const;
/** Slopes that wander: a 4 bends the level by about two scatters within the span seen. */
const SLOPE_WANDER = [[0, 0.75], [4, 0.25]] as const;
const SLOPE_PRIOR = [[3.5, 0.5], [14, 0.5]] as const;
/** How a slope goes on: in any way, or as what wears by running does, which makes it run more. */
export type SlopeShape = 'any' | 'quickens';
/** Rises that quicken are as likely as those that slow. Chosen on invented ramps so that the ranges hold what they say (README). */
const POWERS: Readonly<Record<SlopeShape, readonly (readonly [power: number, share: number])[]>> = {
  any: [[0.4, 0.12], [0.6, 0.18], [0.8, 0.1], [1, 0.1], [1.25, 0.1], [1.6, 0.12], [2, 0.11], [2.7, 0.1], [4, 0.07]],
  quickens: [[1, 0.3], [1.5, 0.3], [2.2, 0.2], [3.2, 0.2]],
};

/**
 * The models that are averaged: no slope, and slopes of each power, wander and width.
 * @param trendPrior probability beforehand that there is a slope.
 */
export function driftModels(spanDays: number, trendPrior: number, shape: SlopeShape): DriftModel[] {
  const models: DriftModel[] = [];
  for (const [levelWander, levelShare] of LEVEL_WANDER) {
    models.push({ levelWander, slopeWander: 0, slopePrior: 0, power: 1, prior: (1 - trendPrior) * levelShare });
    for (const [power, powerShare] of POWERS[shape]) {
      for (const [bend, bendShare] of SLOPE_WANDER) {
        if (bend > 0 && power !== 1) continue;
        for (const [width, widthShare] of SLOPE_PRIOR) {
          const share = power === 1 ? bendShare : 1;
          models.push({ levelWander, slopeWander: bend / spanDays ** 1.5, slopePrior: width / spanDays, power, prior: trendPrior * levelShare * powerShare * share * widthShare });
        }
      }
    }
  }
  return models;
}

/** Days since the first point, as the model counts them. */
export function warped(model: DriftModel, day: number, spanDays: number): number {
  return model.power === 1 ? day : spanDays * (Math.max(0, day) / spanDays) ** model.power;
}

/**
 * Run a series through one model: a Kalman filter of level and slope, the scatter's variance being integrated out.
 *
 * A value further off than 4 sd of what was expected moves the level by no more than one of 4 sd would.
 *
 * @param days times as the model counts them, rising; @param variances of each value, relative to a typical one.
 * @see Harvey 1989, Forecasting, Structural Time Series Models and the Kalman Filter, 3.2 and 4.3 (unknown scale).
 */
export function runDrift(model: DriftModel, days: readonly number[], values: readonly number[], variances: readonly number[], start: { readonly level: number; readonly scatter: number }): DriftState {
  const [levelGain, slopeGain] = [model.levelWander ** 2, model.slopeWander ** 2];
  let [level, slope] = [start.level, 0];
  // The level is hardly known beforehand: 30 scatters wide. All variances are in units of the scatter's.
  let [vLevel, cov, vSlope] = [900, 0, model.slopePrior ** 2];
  let [squares, logs] = [0, 0];
  let [lagged, kept, before] = [0, 0, 0];
  const n = days.length;
  for (let i = 0; i < n; i++) {
    const gap = i === 0 ? 0 : (days[i] as number) - (days[i - 1] as number);
    level += slope * gap;
    vLevel += gap * (2 * cov + gap * vSlope) + levelGain * gap + (slopeGain * gap ** 3) / 3;
    cov += gap * vSlope + (slopeGain * gap * gap) / 2;
    vSlope += slopeGain * gap;
    const expected = vLevel + (variances[i] as number);
    const reach = 4 * start.scatter * Math.sqrt(expected);
    const miss = Math.min(reach, Math.max(-reach, (values[i] as number) - level));
    const [gainLevel, gainSlope] = [vLevel / expected, cov / expected];
    level += gainLevel * miss;
    slope += gainSlope * miss;
    vSlope -= gainSlope * cov;
    cov -= gainSlope * vLevel;
    vLevel -= gainLevel * vLevel;
    squares += (miss * miss) / expected;
    logs += Math.log(expected);
    const plain = i < 2 ? 0 : miss / Math.sqrt(expected);
    lagged += plain * before;
    kept += plain * plain;
    before = plain;
  }
  // Scatter's variance: what the misses show, held to what neighbours showed as by 4 more values; integrated out it leaves a Student t.
  const freedom = n + 4;
  const scale = (squares + 4 * start.scatter ** 2) / freedom;
  return { level, slope, levelVariance: vLevel * scale, covariance: cov * scale, slopeVariance: vSlope * scale, levelGain: levelGain * scale, slopeGain: slopeGain * scale, logLikelihood: -0.5 * logs - (freedom / 2) * Math.log(scale), missCorrelation: kept > 0 ? lagged / kept : 0 };
}

/** Level expected after some days, and its variance. */
export function driftAfter(state: DriftState, days: number): { readonly level: number; readonly variance: number } {
  return {
    level: state.level + state.slope * days,
    variance: state.levelVariance + days * (2 * state.covariance + days * state.slopeVariance) + state.levelGain * days + (state.slopeGain * days ** 3) / 3,
  };
}
