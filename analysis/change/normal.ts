const ROOT_TWO_PI = Math.sqrt(2 * Math.PI);

/** Density of the standard normal distribution. */
export function normalDensity(z: number): number {
  return Math.exp(-0.5 * z * z) / ROOT_TWO_PI;
}

/**
 * Share of a standard normal distribution below `z`, right to about 14 digits *of the smaller tail* too.
 *
 * The tail is what a p value or a run length is made of, and a rational fit good to 1e-7 (the usual one) leaves nothing
 * of it beyond 5 sd. So: Taylor's series near the middle, Laplace's continued fraction outside.
 * @see Abramowitz & Stegun 1964, 26.2.11 and 26.2.14.
 */
export function normalCdf(z: number): number {
  const x = Math.abs(z);
  if (x > 38.5) return z > 0 ? 1 : 0;
  if (x < 2.5) {
    const half = normalDensity(x) * oddSeries(x);
    return z > 0 ? 0.5 + half : 0.5 - half;
  }
  const tail = normalDensity(x) / continuedFraction(x);
  return z > 0 ? 1 - tail : tail;
}

function oddSeries(x: number): number {
  let term = x;
  let sum = x;
  for (let k = 3; Math.abs(term) > 1e-18 * Math.abs(sum) && k < 200; k += 2) {
    term *= (x * x) / k;
    sum += term;
  }
  return sum;
}

function continuedFraction(x: number): number {
  let value = x;
  for (let k = 120; k >= 1; k--) value = x + k / value;
  return value;
}

/** Logarithm of the share below `z`, also where the share itself is too small for a double. */
export function logNormalCdf(z: number): number {
  return z > -30 ? Math.log(normalCdf(z)) : -0.5 * z * z - Math.log(ROOT_TWO_PI) - Math.log(continuedFraction(-z));
}

/** The two-sided p value of a standard normal statistic. */
export function twoSidedP(z: number): number {
  return Math.min(1, 2 * normalCdf(-Math.abs(z)));
}

// Wichura 1988, algorithm AS 241 (PPND16): rational fits, right to 16 digits. Constants from memory, held by the round trip through normalCdf.
const CENTRE_TOP = [3.3871328727963665, 133.14166789178438, 1971.5909503065513, 13731.69376550946, 45921.95393154987, 67265.7709270087, 33430.57558358813, 2509.0809287301227];
const CENTRE_BOTTOM = [1, 42.31333070160091, 687.1870074920579, 5394.196021424751, 21213.794301586597, 39307.89580009271, 28729.085735721943, 5226.495278852546];
const NEAR_TOP = [1.4234371107496835, 4.630337846156546, 5.769497221460691, 3.6478483247632045, 1.2704582524523684, 0.2417807251774506, 0.022723844989269184, 0.0007745450142783414];
const NEAR_BOTTOM = [1, 2.053191626637759, 1.6763848301838038, 0.6897673349851, 0.14810397642748008, 0.015198666563616457, 0.0005475938084995345, 1.0507500716444169e-9];
const FAR_TOP = [6.657904643501103, 5.463784911164114, 1.7848265399172913, 0.29656057182850487, 0.026532189526576124, 0.0012426609473880784, 2.7115555687434876e-5, 2.0103343992922881e-7];
const FAR_BOTTOM = [1, 0.599832206555888, 0.1369298809227358, 0.014875361290850615, 0.0007868691311456133, 1.8463183175100548e-5, 1.421511758316446e-7, 2.0442631033899397e-15];

function polynomial(coefficients: readonly number[], x: number): number {
  return coefficients.reduceRight((sum, c) => sum * x + c, 0);
}

/**
 * The value below which a share `p` of a standard normal distribution lies; −∞ at 0 and ∞ at 1.
 * @throws {RangeError} if `p` isn't within 0..1.
 * @see Wichura 1988, Applied Statistics 37:477, algorithm AS 241.
 */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`Cannot take a quantile as p must be within 0..1: current value is ${p}`);
  if (p === 0) return -Infinity;
  if (p === 1) return Infinity;
  const q = p - 0.5;
  if (Math.abs(q) <= 0.425) {
    const r = 0.180625 - q * q;
    return (q * polynomial(CENTRE_TOP, r)) / polynomial(CENTRE_BOTTOM, r);
  }
  const r = Math.sqrt(-Math.log(q < 0 ? p : 1 - p));
  const tail = r <= 5 ? polynomial(NEAR_TOP, r - 1.6) / polynomial(NEAR_BOTTOM, r - 1.6) : polynomial(FAR_TOP, r - 5) / polynomial(FAR_BOTTOM, r - 5);
  return q < 0 ? -tail : tail;
}
