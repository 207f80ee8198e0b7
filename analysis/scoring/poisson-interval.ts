/** Probability of at most `count` events where `mean` are expected. */
function poissonCdf(count: number, mean: number): number {
  // Summed from the largest term's side in logarithms, so that large means don't run out of digits.
  let logTerm = -mean;
  let sum = Math.exp(logTerm);
  for (let k = 1; k <= count; k += 1) {
    logTerm += Math.log(mean / k);
    sum += Math.exp(logTerm);
  }
  return Math.min(1, sum);
}

/** The mean at which `share(mean)`, falling in it, is `target`. */
function meanWhere(share: (mean: number) => number, target: number, highest: number): number {
  let low = 0;
  let high = highest;
  for (let step = 0; step < 200 && high - low > 1e-12 * (1 + high); step += 1) {
    const middle = (low + high) / 2;
    if (share(middle) > target) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/**
 * Exact confidence interval of a count's mean: all means under which a count this large, and this small, has more than half
 * of what the confidence leaves. Divide by the time watched for a rate.
 * @throws {RangeError} if `count` is no whole number ≥ 0.
 * @see Garwood 1936, Fiducial limits for the Poisson distribution, Biometrika 28.
 */
export function poissonInterval(count: number, confidence = 0.95): readonly [low: number, high: number] {
  if (!Number.isInteger(count) || count < 0) throw new RangeError(`Cannot give an interval as the count must be a whole number, 0 or more: current value is ${count}`);
  const tail = (1 - confidence) / 2;
  const highest = count + 20 + 10 * Math.sqrt(count + 1);
  const low = count === 0 ? 0 : meanWhere((mean) => poissonCdf(count - 1, mean), 1 - tail, highest);
  return [low, meanWhere((mean) => poissonCdf(count, mean), tail, highest)];
}
