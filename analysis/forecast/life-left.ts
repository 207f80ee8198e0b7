import { median } from '../change/robust.ts';
import { normalCdf, normalQuantile } from '../change/normal.ts';
import { conditional, type Seen } from './gaussian.ts';
import { calmLevels, type LifePoint, placeOnGrid, workAtLevels } from './life-curve.ts';
import { LEVEL_SHARE, type LivesModel, workNoise } from './lives-model.ts';

/** Work left until the limit, in the lives' unit: 10, 25, 50, 75 and 90 %; all 0 at or past it. */
export type LifeLeft = { readonly p10: number; readonly p25: number; readonly p50: number; readonly p75: number; readonly p90: number };

/** What a running life has shown so far; kept so that each new value costs little. */
type Shown = { readonly calmed: number; readonly work: number; readonly reached: readonly (number | undefined)[] };

/**
 * Work left of a life until its level reaches the limit, from how it rose so far and how earlier lives went on from there.
 *
 * @param present the life so far from clean on, oldest first; `undefined` without a value.
 * @see learnLives(): what it takes the lives for; README for how many truths lie inside the ranges.
 */
export function lifeLeft(model: LivesModel, present: readonly LifePoint[]): LifeLeft | undefined {
  const last = present.at(-1);
  if (last === undefined) return undefined;
  const levels = calmLevels(present, model.width);
  const scatter = median(present.map(({ level }, i) => Math.abs(level - (levels[i] as number)))) ?? 0;
  return leftFrom(model, { calmed: levels.at(-1) as number, work: last.work, reached: workAtLevels(present, levels, model.grid) }, scatter);
}

function leftFrom(model: LivesModel, { calmed, work, reached }: Shown, scatter: number): LifeLeft {
  const { grid, reaches, width, limit } = model;
  if (calmed >= limit) return { p10: 0, p25: 0, p50: 0, p75: 0, p90: 0 };
  const end = grid.length - 1;
  const noise = workNoise(model, Math.max(limit * LEVEL_SHARE, scatter / 2));
  const { index, share } = placeOnGrid(grid, calmed);
  const seen: Seen[] = [];
  for (let k = 0; k <= index && k < end; k++) {
    const at = reached[k];
    if (at !== undefined && (grid[k] as number) <= calmed) seen.push({ parts: [[k, 1]], value: at, noise: (noise[k] as number) ** 2 });
  }
  // Below the grid it is only known that the first level lies ahead: its work is past the present one.
  if (calmed >= (grid[0] as number)) {
    const own = (1 - share) * (noise[index] as number) + share * (noise[index + 1] as number);
    seen.push({ parts: [[index, 1 - share], [index + 1, share]], value: work, noise: own ** 2 });
  }
  const { mean, covariance } = conditional(reaches, seen, [end]);
  const sd = model.stretch * Math.sqrt(Math.max((covariance[0] as Float64Array)[0] as number, (width / 4) ** 2));
  return quantilesAhead((mean[0] as number) - work, sd);
}

/** Quantiles of a normal work left of which is only known that it lies ahead. */
function quantilesAhead(mean: number, sd: number): LifeLeft {
  const below = normalCdf(-mean / sd);
  // So far past what was foreseen that the normal's tail has no digits left: any moment now.
  const at = (p: number): number => (below > 1 - 1e-9 ? 0 : Math.max(0, mean + sd * normalQuantile(below + p * (1 - below))));
  return { p10: at(0.1), p25: at(0.25), p50: at(0.5), p75: at(0.75), p90: at(0.9) };
}
