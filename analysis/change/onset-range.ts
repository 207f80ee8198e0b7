import { logNormalCdf } from './normal.ts';

/** Places of a change, as counts of values before it: 2.5, 10, 50, 90 and 97.5 % of what is plausible. */
export type OnsetRange = { readonly outerFrom: number; readonly from: number; readonly likely: number; readonly to: number; readonly outerTo: number };

/**
 * Where one change of level can have been, given that there is one between `from` and `to`: the likelihood of each place,
 * with both levels and the scatter at their best, taken as weights. `undefined` below 4 values.
 *
 * Of steps of 1 to 3 sd in independent normal noise its inner range (80 %) holds 90 to 97 %, its outer one 98 %: places are whole.
 * A correlation of 0.3 between neighbours makes that 74 to 95 and 90 to 98 % (simulated). A ramp has no such place: see `stepOrRamp()`.
 *
 * @see Cobb 1978, Biometrika 65:243 (the likelihood near the change is all that the data know of it).
 */
export function onsetRange(values: readonly number[], from = 0, to: number = values.length): OnsetRange | undefined {
  const part = values.slice(from, to);
  const n = part.length;
  if (n < 4) return undefined;
  const mean = part.reduce((sum, value) => sum + value, 0) / n;
  const all = part.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  if (!(all > 0)) return undefined;
  const logs = new Float64Array(n + 1).fill(-Infinity);
  let sum = 0;
  for (let k = 1; k < n; k++) {
    sum += (part[k - 1] as number) - mean;
    // Rounding must not leave a fit better than 1e-12 of the scatter.
    const within = Math.max(1e-12 * all, all - (sum * sum * n) / (k * (n - k)));
    // Both levels are integrated out, which takes half a log of each count; and the scatter leaves n − 2.
    logs[k] = -((n - 2) / 2) * Math.log(within) - 0.5 * Math.log(k * (n - k));
  }
  const at = quantilesOf(logs, [0.025, 0.1, 0.5, 0.9, 0.975]).map((k) => k + from);
  return { outerFrom: at[0] as number, from: at[1] as number, likely: at[2] as number, to: at[3] as number, outerTo: at[4] as number };
}

/** The first index at which the running share of exp(logs) reaches each p (rising). */
export function quantilesOf(logs: Float64Array, ps: readonly number[]): number[] {
  const top = logs.reduce((a, b) => Math.max(a, b), -Infinity);
  let total = 0;
  for (const log of logs) total += Math.exp(log - top);
  const found: number[] = [];
  let share = 0;
  for (let k = 0; k < logs.length && found.length < ps.length; k++) {
    share += Math.exp((logs[k] as number) - top) / total;
    while (found.length < ps.length && share >= (ps[found.length] as number) - 1e-12) found.push(k);
  }
  while (found.length < ps.length) found.push(logs.length - 1);
  return found;
}

/**
 * Bai's interval for a change after `index` values between two levels, each side with its own scatter; `undefined` where the change is too weak for one.
 *
 * For long series and small steps; wider than `onsetRange()` where the step is large.
 *
 * @see Bai 1997, Review of Economics and Statistics 79:551, (B.2) and (B.3); the form with two scatters.
 */
export function baiInterval(values: readonly number[], index: number, confidence = 0.95): { readonly from: number; readonly to: number } | undefined {
  const [before, after] = [levelOf(values.slice(0, index)), levelOf(values.slice(index))];
  const step = (after.mean - before.mean) ** 2;
  if (!(step > 0 && before.variance > 0 && after.variance > 0)) return undefined;
  const ratio = after.variance / before.variance;
  const tail = (1 - confidence) / 2;
  if (argmaxShare(0, ratio) < tail || argmaxShare(0, ratio) > 1 - tail) return undefined;
  const unit = before.variance / step;
  const upper = solve((x) => argmaxShare(x, ratio) - (1 - tail)) * unit;
  const lower = -solve((x) => tail - argmaxShare(-x, ratio)) * unit;
  return { from: index - Math.ceil(upper), to: index - Math.floor(lower) };
}

function levelOf(values: readonly number[]): { readonly mean: number; readonly variance: number } {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return { mean, variance: values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length };
}

/** Share below x of the place at which two-sided Brownian motion with a peak at 0 is highest; `phi` = variance after over before. */
function argmaxShare(x: number, phi: number): number {
  const a = Math.abs(x);
  const root = Math.sqrt(a);
  const density = (rate: number): number => Math.sqrt(a / (2 * Math.PI)) * Math.exp((-rate * a) / 8);
  const share = 1 / phi;
  if (x <= 0) {
    const far = phi * ((phi + 2) / (phi + 1)) * Math.exp((share * (1 + share) * a) / 2 + logNormalCdf(-(0.5 + share) * root));
    return -density(1) - far + (a / 2 - 2 + (phi + 2) ** 2 / (phi + 1)) * Math.exp(logNormalCdf(-root / 2));
  }
  const far = share * ((2 * phi + 1) / (phi + 1)) * Math.exp(((phi + 1) * a) / 2 + logNormalCdf((-(phi + 0.5) / Math.sqrt(phi)) * root));
  return 1 + Math.sqrt(share) * density(share) + far - ((2 * phi + 1) ** 2 / ((phi + 1) * phi) - 2 + (share * a) / 2) * Math.exp(logNormalCdf((-Math.sqrt(share) * root) / 2));
}

/** The place in 0..10,000 at which a rising function reaches 0, by halving. */
function solve(rising: (x: number) => number): number {
  let [low, high] = [0, 10_000];
  for (let round = 0; round < 80; round++) {
    const middle = (low + high) / 2;
    if (rising(middle) < 0) low = middle;
    else high = middle;
  }
  return high;
}
