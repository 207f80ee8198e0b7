import { gaussLegendre } from './gauss-legendre.ts';
import { normalDensity } from './normal.ts';

export type BaselinePrice = {
  readonly slackSd: number;
  readonly limitSd: number;
  /** Values that mean and sd were taken from. */
  readonly baselineCount: number;
  readonly sides: 1 | 2;
  /** Share of the information that the estimates use: 1 for mean and sd, about 0.82 for Qn, 0.37 for the MAD. */
  readonly scaleEfficiency?: number;
};

/**
 * False signals per value of a CUSUM whose mean and sd were taken from a baseline of few values, averaged over all the
 * baselines that could have been drawn.
 *
 * A baseline whose mean is off by more than the slack signals again and again, so this is far above the rate for known
 * mean and sd, and no limit helps where many baselines are off that far: use a larger slack, more values, or
 * `scoreAgainst()`. Siegmund's closed form stands for the exact run length (within 5 % for run lengths of 50 and more);
 * simulated rates are met within 20 %.
 *
 * @throws {RangeError} below 5 baseline values.
 * @see Siegmund 1985, Sequential Analysis, 2.6 (sums); Jones, Champ & Rigdon 2004, Journal of Quality Technology 36:199 (estimated baselines).
 */
export function falseSignalsPerValue({ slackSd, limitSd, baselineCount, sides, scaleEfficiency = 0.82 }: BaselinePrice): number {
  if (!(baselineCount >= 5)) throw new RangeError(`Cannot price a baseline as baselineCount must be 5 or more: current value is ${baselineCount}`);
  const freedom = (baselineCount - 1) * scaleEfficiency;
  const { nodes, weights } = gaussLegendre(24, -4.5, 4.5);
  let rate = 0;
  let mass = 0;
  for (const [i, u] of nodes.entries()) {
    // Wilson & Hilferty 1931: the cube root of a chi-square is nearly normal.
    const cubeRoot = 1 - 2 / (9 * freedom) + u * Math.sqrt(2 / (9 * freedom));
    const scale = Math.sqrt(Math.max(0.01, cubeRoot) ** 3);
    for (const [j, v] of nodes.entries()) {
      const weight = (weights[i] as number) * (weights[j] as number) * normalDensity(u) * normalDensity(v);
      const centre = v / Math.sqrt(baselineCount);
      // Values in estimated units are a CUSUM in true units with slack and limit times `scale`.
      const upward = 1 / runLength(slackSd * scale, limitSd * scale, -centre);
      rate += weight * (sides === 1 ? upward : upward + 1 / runLength(slackSd * scale, limitSd * scale, centre));
      mass += weight;
    }
  }
  return rate / mass;
}

/** Siegmund's run length of a one-sided sum: diffusion, with the limit moved by the mean overshoot at both ends. */
function runLength(slack: number, limit: number, shift: number): number {
  const drift = shift - slack;
  const span = limit + 1.166;
  const x = drift * span;
  if (Math.abs(x) < 1e-4) return span * span;
  return (Math.exp(Math.min(700, -2 * x)) + 2 * x - 1) / (2 * drift * drift);
}

/**
 * The limit at which the mean false rate is one in `runLength` values although mean and sd come from `baselineCount`
 * values; `undefined` where no limit up to 60 sd reaches it: then take a larger slack.
 */
export function limitForBaseline(params: Omit<BaselinePrice, 'limitSd'> & { readonly runLength: number }): number | undefined {
  const goal = 1 / params.runLength;
  const rate = (limitSd: number): number => falseSignalsPerValue({ ...params, limitSd });
  let low = 0.1;
  let high = 60;
  if (rate(high) > goal) return undefined;
  for (let round = 0; round < 40; round++) {
    const middle = (low + high) / 2;
    if (rate(middle) > goal) low = middle;
    else high = middle;
  }
  return high;
}
