import { gammaln } from 'simple-statistics';
import { normalQuantile } from './normal.ts';

/**
 * Share of a Student t distribution below `t`; fractional degrees of freedom are allowed, Infinity is the normal's limit only in the quantile.
 * @throws {RangeError} if `freedom` isn't finite and > 0, or `t` is NaN.
 * @see Abramowitz & Stegun 1964, 26.5.8 and 26.7.1: incomplete beta function by its continued fraction.
 */
export function studentCdf(t: number, freedom: number): number {
  if (!(freedom > 0 && Number.isFinite(freedom)) || Number.isNaN(t)) throw new RangeError(`Cannot compute a share as degrees of freedom must be finite and above 0: current value is ${freedom}`);
  if (!Number.isFinite(t)) return t > 0 ? 1 : 0;
  // Of the two forms of the same tail, the one whose fraction converges fast.
  const x = freedom / (freedom + t * t);
  const twoTails = incompleteBeta(x, 1 - x === 0 ? 0 : (t * t) / (freedom + t * t), freedom / 2, 0.5);
  return t > 0 ? 1 - twoTails / 2 : twoTails / 2;
}

/** Regularised incomplete beta function I_x(a, b), with y = 1 − x given so that no digit of it is lost. */
function incompleteBeta(x: number, y: number, a: number, b: number): number {
  if (x <= 0) return 0;
  if (y <= 0) return 1;
  const front = Math.exp(gammaln(a + b) - gammaln(a) - gammaln(b) + a * Math.log(x) + b * Math.log(y));
  return x < (a + 1) / (a + b + 2) ? (front * betaFraction(x, a, b)) / a : 1 - (front * betaFraction(y, b, a)) / b;
}

function betaFraction(x: number, a: number, b: number): number {
  const tiny = 1e-300;
  const kept = (value: number): number => (Math.abs(value) < tiny ? tiny : value);
  let c = 1;
  let d = 1 / kept(1 - ((a + b) * x) / (a + 1));
  let value = d;
  for (let m = 1; m <= 500; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / kept(1 + even * d);
    c = kept(1 + even / c);
    value *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / kept(1 + odd * d);
    c = kept(1 + odd / c);
    const step = d * c;
    value *= step;
    if (Math.abs(step - 1) < 1e-15) break;
  }
  return value;
}

/**
 * The value below which a share `p` of a Student t distribution lies, by halving between bounds: exact to 1e-12 or so.
 * @throws {RangeError} if `p` isn't strictly between 0 and 1.
 */
export function studentQuantile(p: number, freedom: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`Cannot take a quantile as p must be between 0 and 1: current value is ${p}`);
  if (freedom === Infinity) return normalQuantile(p);
  if (p === 0.5) return 0;
  if (p > 0.5) return -studentQuantile(1 - p, freedom);
  let high = 0;
  let low = normalQuantile(p) - 1;
  while (studentCdf(low, freedom) > p) low *= 2;
  for (let round = 0; round < 200 && high - low > 1e-13 * Math.abs(low); round++) {
    const middle = (low + high) / 2;
    if (studentCdf(middle, freedom) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
