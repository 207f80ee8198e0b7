/** A stated probability and whether it came true. */
export type Stated = { readonly probability: number; readonly right: boolean };
export type ReliabilityBin = { readonly from: number; readonly to: number; readonly count: number; readonly stated: number; readonly right: number };
export type Reliability = { readonly count: number; readonly bins: readonly ReliabilityBin[]; /** Mean distance of what was stated from what came true, by bins, weighed by their counts; null without any. */ readonly calibrationError: number | null; readonly brier: number | null };

/**
 * Do findings that say 80 % come true in 80 of 100? Ten bins of equal width; empty ones are left out.
 * With few findings a bin's share is scatter: read its count beside it.
 * @see Naeini 2015 (expected calibration error), Brier 1950.
 */
export function reliabilityOf(stated: readonly Stated[], binCount = 10): Reliability {
  const groups: Stated[][] = Array.from({ length: binCount }, () => []);
  for (const one of stated) groups[Math.min(binCount - 1, Math.max(0, Math.floor(one.probability * binCount)))]!.push(one);
  const bins = groups.flatMap((group, index) => (group.length === 0 ? [] : [{ from: index / binCount, to: (index + 1) / binCount, count: group.length, stated: mean(group.map((one) => one.probability)), right: mean(group.map((one) => Number(one.right))) }]));
  if (stated.length === 0) return { count: 0, bins: [], calibrationError: null, brier: null };
  return {
    count: stated.length,
    bins,
    calibrationError: bins.reduce((sum, bin) => sum + (bin.count / stated.length) * Math.abs(bin.stated - bin.right), 0),
    brier: mean(stated.map((one) => (one.probability - Number(one.right)) ** 2)),
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
