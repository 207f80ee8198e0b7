import { gaussLegendre } from './gauss-legendre.ts';
import { solveLinear } from './linear-solve.ts';
import { normalCdf, normalDensity } from './normal.ts';

export type RunLengthParams = {
  readonly slackSd: number;
  readonly limitSd: number;
  /** True mean of the values, in sd; 0 = nothing has changed. */
  readonly shiftSd?: number;
  readonly headStart?: number;
  readonly sides: 1 | 2;
};

/**
 * Mean number of values until a CUSUM signals: with `shiftSd` 0 the price (values per false signal), else the delay.
 *
 * The mean run length from a sum z obeys L(z) = 1 + L(0)·Φ(k − z − μ) + ∫₀ʰ L(x)·φ(x + k − z − μ) dx, solved at the nodes
 * of a Gauss–Legendre rule; two sides combine exactly. Independent normal values, mean and sd known. Agrees with published
 * tables to their last digit; up to about 1e10 values, beyond which the equations have no digits left.
 *
 * @throws {RangeError} if a parameter isn't finite, or slack or limit is below 0.
 * @see Lucas & Crosier 1982, Technometrics 24:199; Vance 1986, Journal of Quality Technology 18:189.
 */
export function averageRunLength({ slackSd, limitSd, shiftSd = 0, headStart = 0, sides }: RunLengthParams): number {
  if (!(slackSd >= 0 && limitSd > 0 && Number.isFinite(slackSd + limitSd + shiftSd)) || !(headStart >= 0 && headStart < limitSd)) {
    throw new RangeError(`Cannot compute a run length as slack must be >= 0, limit > 0 and the head start within it: current values are ${slackSd}, ${limitSd}, ${headStart}`);
  }
  const up = oneSided(slackSd, limitSd, shiftSd);
  if (sides === 1) return up(headStart);
  const down = oneSided(slackSd, limitSd, -shiftSd);
  const [upZero, downZero] = [up(0), down(0)];
  return (up(headStart) * downZero + down(headStart) * upZero - upZero * downZero) / (upZero + downZero);
}

/** Run length of an upper sum as a function of its first value. */
function oneSided(slack: number, limit: number, shift: number): (first: number) => number {
  const count = Math.min(240, Math.max(40, Math.ceil(6 * limit) + 24));
  const { nodes, weights } = gaussLegendre(count, 0, limit);
  const from = [0, ...nodes];
  const rows = from.map((z, i) => {
    const row = new Float64Array(count + 1);
    row[0] = -normalCdf(slack - z - shift);
    for (let j = 0; j < count; j++) row[j + 1] = -(weights[j] as number) * normalDensity((nodes[j] as number) + slack - z - shift);
    row[i] = (row[i] as number) + 1;
    return row;
  });
  const lengths = solveLinear(rows, new Float64Array(count + 1).fill(1));
  if (lengths === undefined) return () => Infinity;
  return (first) => {
    if (first === 0) return lengths[0] as number;
    let sum = 1 + (lengths[0] as number) * normalCdf(slack - first - shift);
    for (let j = 0; j < count; j++) sum += (lengths[j + 1] as number) * (weights[j] as number) * normalDensity((nodes[j] as number) + slack - first - shift);
    return sum;
  };
}

/**
 * The limit that costs one false signal in `runLength` values.
 *
 * The log of the run length is nearly straight in the limit, so false position on it needs few solutions.
 * Example: 0.05 false signals a year over 4 series of daily values → runLength = 365.25 · 4 / 0.05.
 *
 * @throws {RangeError} if `runLength` isn't within 2..1e9 or slack isn't ≥ 0.05: below, a limit that long is no use.
 */
export function limitForRunLength({ slackSd, runLength, sides }: { readonly slackSd: number; readonly runLength: number; readonly sides: 1 | 2 }): number {
  if (!(runLength >= 2 && runLength <= 1e9)) throw new RangeError(`Cannot choose a limit as runLength must be within 2..1e9: current value is ${runLength}`);
  if (!(slackSd >= 0.05 && Number.isFinite(slackSd))) throw new RangeError(`Cannot choose a limit as slackSd must be finite and 0.05 or more: current value is ${slackSd}`);
  const goal = Math.log(runLength);
  const miss = (limitSd: number): number => Math.log(averageRunLength({ slackSd, limitSd, sides })) - goal;
  let low = 1e-6;
  let lowMiss = miss(low);
  if (lowMiss >= 0) return low;
  let high = 2;
  let highMiss = miss(high);
  while (highMiss < 0) {
    [low, lowMiss] = [high, highMiss];
    high *= 1.6;
    highMiss = miss(high);
  }
  for (let round = 0; round < 60 && high - low > 1e-9 && Math.min(highMiss, -lowMiss) > 1e-10; round++) {
    // False position, kept off the ends so that both of them close in.
    const share = Math.min(0.95, Math.max(0.05, -lowMiss / (highMiss - lowMiss)));
    const middle = low + share * (high - low);
    const middleMiss = miss(middle);
    if (middleMiss < 0) [low, lowMiss] = [middle, middleMiss];
    else [high, highMiss] = [middle, middleMiss];
  }
  return Math.abs(lowMiss) < highMiss ? low : high;
}
