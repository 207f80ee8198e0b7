/** Which of two levels each value stands on, and both levels; `switches` = indices at which the level changes. */
export type TwoLevels = { readonly first: number; readonly other: number; readonly switches: readonly number[]; readonly squares: number };

/**
 * A series that goes to and fro between two levels: the cheapest path (Viterbi) for given levels, then levels for the path,
 * in turn until nothing moves. `undefined` where it never leaves the first level or the levels meet.
 *
 * @param weights in proportion to 1/variance.
 * @param switchCost price of one switch, in the units of the weighted squares.
 * @see Viterbi 1967; the alternation finds a local best, from levels at the 15 and 85 % quantiles.
 */
export function twoLevels(values: readonly number[], weights: readonly number[], switchCost: number): TwoLevels | undefined {
  const ordered = Float64Array.from(values).sort();
  const quantile = (p: number): number => ordered[Math.round(p * (values.length - 1))] as number;
  let levels: readonly [number, number] = [quantile(0.15), quantile(0.85)];
  let path: Uint8Array | undefined;
  for (let round = 0; round < 8; round++) {
    const next = cheapestPath(values, weights, levels, switchCost);
    if (path !== undefined && next.every((level, i) => level === path?.[i])) break;
    path = next;
    const moved = levelsOf(values, weights, path);
    if (moved === undefined) return undefined;
    levels = moved;
  }
  if (path === undefined || levels[0] === levels[1]) return undefined;
  const switches: number[] = [];
  let squares = 0;
  for (const [i, level] of path.entries()) {
    if (i > 0 && level !== path[i - 1]) switches.push(i);
    squares += (weights[i] as number) * ((values[i] as number) - levels[level as 0 | 1]) ** 2;
  }
  const start = path[0] as 0 | 1;
  return { first: levels[start], other: levels[start === 0 ? 1 : 0], switches, squares };
}

function cheapestPath(values: readonly number[], weights: readonly number[], levels: readonly [number, number], switchCost: number): Uint8Array {
  const n = values.length;
  const came = [new Uint8Array(n), new Uint8Array(n)] as const;
  let costs: [number, number] = [0, 0];
  for (let i = 0; i < n; i++) {
    const cost = (level: 0 | 1): number => {
      const other = level === 0 ? 1 : 0;
      const crosses = costs[other] + switchCost < costs[level];
      came[level][i] = crosses ? other : level;
      return Math.min(costs[level], costs[other] + switchCost) + (weights[i] as number) * ((values[i] as number) - levels[level]) ** 2;
    };
    costs = [cost(0), cost(1)];
  }
  const path = new Uint8Array(n);
  let level: 0 | 1 = costs[0] <= costs[1] ? 0 : 1;
  for (let i = n - 1; i >= 0; i--) {
    path[i] = level;
    level = came[level][i] === 0 ? 0 : 1;
  }
  return path;
}

/** Weighted mean of each level; `undefined` if one is empty. */
function levelsOf(values: readonly number[], weights: readonly number[], path: Uint8Array): readonly [number, number] | undefined {
  const sums: [number, number] = [0, 0];
  const totals: [number, number] = [0, 0];
  for (const [i, level] of path.entries()) {
    sums[level as 0 | 1] += (weights[i] as number) * (values[i] as number);
    totals[level as 0 | 1] += weights[i] as number;
  }
  return totals[0] > 0 && totals[1] > 0 ? [sums[0] / totals[0], sums[1] / totals[1]] : undefined;
}
