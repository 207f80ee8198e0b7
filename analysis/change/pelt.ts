/** What it costs to call values[from] to values[to − 1] one segment. */
export type SegmentCost = (from: number, to: number) => number;

/**
 * The cut of a series into segments with the least sum of costs plus `penalty` for each change, found exactly: the index of
 * the first value of each segment but the first.
 *
 * Cuts that can never again be the best are dropped, so that the work grows with n where changes keep coming, and with n²
 * where there is none.
 *
 * @param minLength fewest values in a segment.
 * @see Killick, Fearnhead & Eckley 2012, JASA 107:1590.
 */
export function pelt(n: number, cost: SegmentCost, penalty: number, minLength: number): number[] {
  if (n < 2 * minLength) return [];
  const best = new Float64Array(n + 1).fill(Infinity);
  const cutBefore = new Int32Array(n + 1);
  best[0] = -penalty;
  const dropAt = new Int32Array(n + 1).fill(n + 1);
  let open = [0];
  for (let end = minLength; end <= n; end++) {
    if (end >= 2 * minLength) open.push(end - minLength);
    const sums = open.map((start) => (best[start] as number) + cost(start, end));
    for (const [i, sum] of sums.entries()) {
      if (sum + penalty < (best[end] as number)) {
        best[end] = sum + penalty;
        cutBefore[end] = open[i] as number;
      }
    }
    // A start that is beaten here is beaten for every later end that can have its last cut here: `minLength` further on.
    open = open.filter((start, i) => {
      if ((sums[i] as number) > (best[end] as number)) dropAt[start] = Math.min(dropAt[start] as number, end + minLength);
      return end + 1 < (dropAt[start] as number);
    });
  }
  const changes: number[] = [];
  for (let cut = cutBefore[n] as number; cut > 0; cut = cutBefore[cut] as number) changes.unshift(cut);
  return changes;
}

/** Squares around the segment's own mean: the values differ in level. In units of the values, squared. */
export function meanCost(values: readonly number[]): SegmentCost {
  const { sums, squares } = runningSums(values);
  return (from, to) => Math.max(0, (squares[to] as number) - (squares[from] as number) - ((sums[to] as number) - (sums[from] as number)) ** 2 / (to - from));
}

/** −2 log likelihood of a normal segment with its own mean and sd: level or scatter change. `floor` = least variance, so that equal values don't count as a miracle. */
export function meanVarianceCost(values: readonly number[], floor: number): SegmentCost {
  const squares = meanCost(values);
  return (from, to) => (to - from) * (Math.log(Math.max(floor, squares(from, to) / (to - from))) + 1);
}

/** Squares around the segment's own line. */
export function lineCost(values: readonly number[]): SegmentCost {
  const { sums } = runningSums(values);
  const products = new Float64Array(values.length + 1);
  for (const [i, value] of values.entries()) products[i + 1] = (products[i] as number) + i * (value - (values[0] as number));
  const aroundMean = meanCost(values);
  return (from, to) => {
    const count = to - from;
    if (count < 3) return 0;
    const sum = (sums[to] as number) - (sums[from] as number);
    const crossed = (products[to] as number) - (products[from] as number) - ((from + to - 1) / 2) * sum;
    return Math.max(0, aroundMean(from, to) - (12 * crossed * crossed) / (count * (count * count - 1)));
  };
}

/** Running sums of values and of their squares, taken from the first value so that a high level costs no digits. */
function runningSums(values: readonly number[]): { readonly sums: Float64Array; readonly squares: Float64Array } {
  const sums = new Float64Array(values.length + 1);
  const squares = new Float64Array(values.length + 1);
  const first = values[0] ?? 0;
  for (const [i, value] of values.entries()) {
    sums[i + 1] = (sums[i] as number) + value - first;
    squares[i + 1] = (squares[i] as number) + (value - first) ** 2;
  }
  return { sums, squares };
}
