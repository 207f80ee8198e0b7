import { solveLinear } from '../change/linear-solve.ts';

/** A normal distribution over several numbers. */
export type Gaussian = { readonly mean: readonly number[]; readonly covariance: readonly Float64Array[] };

/** What was seen: a weighted sum of some of the numbers, `[index, weight]`, with the variance of its noise. */
export type Seen = { readonly parts: readonly (readonly [index: number, weight: number])[]; readonly value: number; readonly noise: number };

/**
 * The distribution of some of the numbers once something was seen.
 *
 * A little noise is added to everything seen (a millionth of its variance), so that equal sights don't make the algebra fail.
 *
 * @param of the indices of the numbers asked for, in the answer's order.
 * @see Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, A.2.
 */
export function conditional(prior: Gaussian, seen: readonly Seen[], of: readonly number[]): Gaussian {
  const covarianceOf = (j: number, k: number): number => (prior.covariance[j] as Float64Array)[k] as number;
  // Covariance of each sight with each number.
  const cross = seen.map(({ parts }) => Float64Array.from(prior.mean, (_, k) => parts.reduce((sum, [index, weight]) => sum + weight * covarianceOf(index, k), 0)));
  const between = seen.map(({ parts, noise }, a) => {
    const row = Float64Array.from(cross, (other) => parts.reduce((sum, [index, weight]) => sum + weight * (other[index] as number), 0));
    row[a] = (row[a] as number) * (1 + 1e-6) + noise;
    return row;
  });
  const copy = (): Float64Array[] => between.map((row) => row.slice());
  const pull = solveLinear(copy(), Float64Array.from(seen, ({ parts, value }) => value - parts.reduce((sum, [index, weight]) => sum + weight * (prior.mean[index] as number), 0)));
  const along = (k: number, by: Float64Array | undefined): number => (by === undefined ? 0 : cross.reduce((sum, row, a) => sum + (row[k] as number) * (by[a] as number), 0));
  const mean = of.map((k) => (prior.mean[k] as number) + along(k, pull));
  const covariance = of.map((k) => {
    const gain = solveLinear(copy(), Float64Array.from(cross, (row) => row[k] as number));
    return Float64Array.from(of, (j) => covarianceOf(k, j) - along(j, gain));
  });
  return { mean, covariance };
}
