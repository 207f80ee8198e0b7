/**
 * The nearest series that never falls, by least squares: for what can only grow, such as wear, whatever its shape.
 *
 * Neighbours that fall are pooled to their weighted mean until none do. One high value at the end stands alone and
 * isn't believed less than the rest: it has no robustness at the edges.
 *
 * @throws {RangeError} if there are not as many weights as values or one isn't > 0.
 * @see Ayer et al. 1955; Barlow, Bartholomew, Bremner & Brunk 1972.
 */
export function isotonic(values: readonly number[], weights?: readonly number[]): number[] {
  if (weights !== undefined && (weights.length !== values.length || weights.some((weight) => !(weight > 0)))) {
    throw new RangeError(`Cannot pool values as each of the ${values.length} must have a weight above 0: current count is ${weights.length}`);
  }
  const pools: { mean: number; weight: number; count: number }[] = [];
  for (const [i, value] of values.entries()) {
    let pool = { mean: value, weight: weights?.[i] ?? 1, count: 1 };
    for (let last = pools.at(-1); last !== undefined && last.mean > pool.mean; last = pools.at(-1)) {
      pools.pop();
      const weight = last.weight + pool.weight;
      pool = { mean: (last.weight * last.mean + pool.weight * pool.mean) / weight, weight, count: last.count + pool.count };
    }
    pools.push(pool);
  }
  return pools.flatMap((pool) => Array.from({ length: pool.count }, () => pool.mean));
}
