/**
 * Solve A x = b by elimination with row pivots; `undefined` where A is singular to the digits of a double. A and b are used up.
 * @see Golub & Van Loan 2013, algorithm 3.4.1.
 */
export function solveLinear(a: readonly Float64Array[], b: Float64Array): Float64Array | undefined {
  const n = b.length;
  const rows = [...a];
  for (let column = 0; column < n; column++) {
    let pivot = column;
    for (let row = column + 1; row < n; row++) if (Math.abs((rows[row] as Float64Array)[column] as number) > Math.abs((rows[pivot] as Float64Array)[column] as number)) pivot = row;
    const top = rows[pivot] as Float64Array;
    const lead = top[column] as number;
    if (!(Math.abs(lead) > 0)) return undefined;
    rows[pivot] = rows[column] as Float64Array;
    rows[column] = top;
    [b[pivot], b[column]] = [b[column] as number, b[pivot] as number];
    for (let row = column + 1; row < n; row++) {
      const current = rows[row] as Float64Array;
      const factor = (current[column] as number) / lead;
      if (factor === 0) continue;
      for (let k = column; k < n; k++) current[k] = (current[k] as number) - factor * (top[k] as number);
      b[row] = (b[row] as number) - factor * (b[column] as number);
    }
  }
  for (let row = n - 1; row >= 0; row--) {
    const current = rows[row] as Float64Array;
    let sum = b[row] as number;
    for (let k = row + 1; k < n; k++) sum -= (current[k] as number) * (b[k] as number);
    b[row] = sum / (current[row] as number);
  }
  return b;
}
