/**
 * How a level moves, in units of the scatter of one typical value: its own wander per root day, its slope's wander, and how wide
 * the slope is thought of beforehand (0: no slope). The slope is steady in warped time, `span · (day / span) ^ power`: a
 * power above 1 is a rise that quickens.
 */
export type DriftModel = { readonly levelWander: number; readonly slopeWander: number; readonly slopePrior: number; readonly power: number; /** The days in warped time begin so long before the first point. */ readonly agedDays: number; readonly prior: number };

/** What a model makes of a series at its last value: level and slope with their covariance, the scatter, and how well it explained the series. */
export type DriftState = {
  readonly level: number;
  readonly slope: number;
  readonly levelVariance: number;
  readonly covariance: number;
  readonly slopeVariance: number;
  /** Of the slope, beforehand. */
  readonly priorVariance: number;
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
/**
 * How what wears goes on: steadily or quickening, since what makes it run more wears it more. It takes about `usualDays` from where it was first
 * seen to its limit, and had worn for `agedDays` before that: a life doesn't begin with the days seen.
 */
export type Wear = { readonly usualDays: number; readonly agedDays: number };
/** How a slope goes on: in any way and at any pace, or as what wears does. */
export type SlopeShape = 'any' | Wear;
type Shares = readonly (readonly [value: number, share: number])[];
/** Rises that quicken are as likely as those that slow. Chosen on invented ramps so that the ranges hold what they say (README). */
const ANY_POWERS: Shares = [[0.4, 0.12], [0.6, 0.18], [0.8, 0.1], [1, 0.1], [1.25, 0.1], [1.6, 0.12], [2, 0.11], [2.7, 0.1], [4, 0.07]];
const WEAR_POWERS: Shares = [[1, 0.3], [1.5, 0.3], [2.2, 0.25], [3.2, 0.15]];
/** How many times as fast as usual something wears: most as usual, few as what is broken does. */
const PACES: Shares = [[1, 0.8], [4, 0.17], [16, 0.03]];
/** Days after which a slope that wanders is another. */
const SLOPE_LASTS_DAYS = 120;

/** What the models are made for: days seen, the probability beforehand that there is a slope, and how far the limit lies from where the series began, in scatters. */
export type DriftAsked = { readonly spanDays: number; readonly trendPrior: number; readonly shape: SlopeShape; readonly distance: number };

/** The models that are averaged: no slope, and slopes of each power, wander and width. */
export function driftModels({ spanDays, trendPrior, shape, distance }: DriftAsked): DriftModel[] {
  const powers = shape === 'any' ? ANY_POWERS : WEAR_POWERS;
  const widths: Shares = shape === 'any' ? SLOPE_PRIOR.map(([width, share]) => [width / spanDays, share]) : PACES.map(([pace, share]) => [(pace * Math.max(1, distance)) / shape.usualDays, share]);
  const agedDays = shape === 'any' ? 0 : shape.agedDays;
  const models: DriftModel[] = [];
  for (const [levelWander, levelShare] of LEVEL_WANDER) {
    models.push({ levelWander, slopeWander: 0, slopePrior: 0, power: 1, agedDays, prior: (1 - trendPrior) * levelShare });
    for (const [power, powerShare] of powers) {
      for (const [bend, bendShare] of SLOPE_WANDER) {
        if (bend > 0 && power !== 1) continue;
        for (const [width, widthShare] of widths) {
          const share = power === 1 ? bendShare : 1;
          const slopeWander = bend === 0 ? 0 : shape === 'any' ? bend / spanDays ** 1.5 : width / Math.sqrt(SLOPE_LASTS_DAYS);
          models.push({ levelWander, slopeWander, slopePrior: shape === 'any' ? width : width / power, power, agedDays, prior: trendPrior * levelShare * powerShare * share * widthShare });
        }
      }
    }
  }
  return models;
}

/** Days since the first point, as the model counts them. */
export function warped(model: DriftModel, day: number, spanDays: number): number {
  const life = spanDays + model.agedDays;
  return model.power === 1 ? day : life * (Math.max(0, day + model.agedDays) / life) ** model.power;
}

/**
 * What a model makes of a series whose values are worth less than they are many: all is known less well. Where the slope's width beforehand is a
 * belief, as of what wears, only the data's share in it is cut and the belief stays; else it was made for the series, and goes with it.
 * @param worth independent values in one value, above 0 and up to 1.
 */
export function tempered(state: DriftState, worth: number, believed: boolean): DriftState {
  const { level, slope, levelVariance, covariance, slopeVariance, priorVariance, levelGain, slopeGain } = state;
  if (!believed) return { ...state, levelVariance: levelVariance / worth, covariance: covariance / worth, slopeVariance: slopeVariance / worth, levelGain: levelGain / worth, slopeGain: slopeGain / worth };
  if (priorVariance === 0 || slopeVariance === 0) return { ...state, levelVariance: levelVariance / worth };
  const byData = Math.max(0, 1 / slopeVariance - 1 / priorVariance);
  const wider = 1 / (worth * byData + 1 / priorVariance);
  const shrunk = byData === 0 ? 0 : (slope * wider * worth) / slopeVariance;
  // The level at the end lies on the line: it follows the slope.
  const reach = covariance / slopeVariance;
  return { ...state, slope: shrunk, level: level + reach * (shrunk - slope), slopeVariance: wider, covariance: reach * wider, levelVariance: (levelVariance - reach * covariance) / worth + reach * reach * wider };
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
  return { level, slope, levelVariance: vLevel * scale, covariance: cov * scale, slopeVariance: vSlope * scale, priorVariance: model.slopePrior ** 2 * scale, levelGain: levelGain * scale, slopeGain: slopeGain * scale, logLikelihood: -0.5 * logs - (freedom / 2) * Math.log(scale), missCorrelation: kept > 0 ? lagged / kept : 0 };
}

/** Level expected after some days, and its variance. */
export function driftAfter(state: DriftState, days: number): { readonly level: number; readonly variance: number } {
  return {
    level: state.level + state.slope * days,
    variance: state.levelVariance + days * (2 * state.covariance + days * state.slopeVariance) + state.levelGain * days + (state.slopeGain * days ** 3) / 3,
  };
}
