import type { Baseline } from './baseline.ts';
import type { SeriesPoint } from './day-series.ts';
import type { Shift } from './find-shift.ts';
import type { OnsetMs } from './condition.ts';

/** Values on each side of a likely onset that are tried as the onset. */
const TRIED = 40;

/**
 * How a shift came: the chance that it was a step, and when it began.
 *
 * A step at k and a ramp from k to now are fitted by least squares with the level before fixed at the baseline's middle;
 * each k has the likelihood exp(−RSS/2s²), and the two shapes share the chance by their sums. The onset's range holds 80 % of it.
 * With fewer than four values since the signal's start the shapes can't be told and the chance is `null`.
 */
export function shapeOf(points: readonly SeriesPoint[], baseline: Baseline, shift: Shift): { readonly stepChance: number | null; readonly onset: OnsetMs } {
  const from = Math.max(0, shift.onsetIndex - TRIED);
  const values = points.slice(from).map((point) => point.value - baseline.centre);
  const weights = points.slice(from).map((point) => 1 / (baseline.scatter ** 2 + point.se ** 2));
  const steps: number[] = [];
  const ramps: number[] = [];
  const candidates = Math.min(values.length - 1, shift.signalIndex - from + 1);
  for (let k = 0; k < candidates; k += 1) {
    steps.push(logFit(values, weights, k, 'step'));
    ramps.push(logFit(values, weights, k, 'ramp'));
  }
  if (steps.length === 0) {
    const atMs = points[shift.onsetIndex]!.startMs;
    return { stepChance: null, onset: { earliestMs: atMs, likelyMs: atMs, latestMs: points[shift.signalIndex]!.endMs } };
  }
  const most = Math.max(...steps, ...ramps);
  const chances = steps.map((log, k) => Math.exp(log - most) + Math.exp(ramps[k]! - most));
  const stepSum = steps.reduce((sum, log) => sum + Math.exp(log - most), 0);
  const total = chances.reduce((sum, chance) => sum + chance, 0);
  const enough = points.length - shift.onsetIndex >= 4;
  return { stepChance: enough ? Math.min(0.98, Math.max(0.02, stepSum / total)) : null, onset: onsetRange(points.slice(from), chances, total) };
}

/** Log likelihood gained over "nothing changed" by a change of free size with the given shape from `k` on. `weights`: 1/variance of each value. */
function logFit(values: readonly number[], weights: readonly number[], k: number, shape: 'step' | 'ramp'): number {
  let xy = 0;
  let xx = 0;
  for (let index = k; index < values.length; index += 1) {
    const weight = weights[index]!;
    const x = shape === 'step' ? 1 : (index - k + 1) / (values.length - k);
    xy += weight * x * values[index]!;
    xx += weight * x * x;
  }
  return (xy * xy) / (2 * xx);
}

function onsetRange(points: readonly SeriesPoint[], chances: readonly number[], total: number): OnsetMs {
  const at = (share: number): number => {
    let sum = 0;
    for (let k = 0; k < chances.length; k += 1) {
      sum += chances[k]!;
      if (sum >= share * total) return points[k]!.startMs;
    }
    return points[chances.length - 1]!.startMs;
  };
  return { earliestMs: at(0.1), likelyMs: at(0.5), latestMs: at(0.9) };
}
