/** How a level rose with the work done since its life began; work rises. Any unit of work: running hours, days, grams of dust. */
export type LifePoint = { readonly work: number; readonly level: number };

/** Levels are told apart on a scale on which the early, flat part of a life and the steep end get about equal room. */
const SCALE_POWER = 0.4;

/** `count` levels from one to another, evenly on that scale. */
export function levelGrid(from: number, to: number, count: number): number[] {
  const [low, high] = [from ** SCALE_POWER, to ** SCALE_POWER];
  return Array.from({ length: count }, (_, i) => (low + ((high - low) * i) / (count - 1)) ** (1 / SCALE_POWER));
}

/** Where a level lies on a grid: `index` of the level below and the share of the way to the next; held to its ends. */
export function placeOnGrid(grid: readonly number[], level: number): { readonly index: number; readonly share: number } {
  const last = grid.length - 1;
  if (level <= (grid[0] as number)) return { index: 0, share: 0 };
  if (level >= (grid[last] as number)) return { index: last - 1, share: 1 };
  const index = grid.findLastIndex((one) => one <= level);
  const [low, high, at] = [grid[index] as number, grid[index + 1] as number, level].map((one) => one ** SCALE_POWER) as [number, number, number];
  return { index, share: (at - low) / (high - low) };
}

/** Each level as the mean of those over the last `width` of work: what was known then, with its noise off. */
export function calmLevels(points: readonly LifePoint[], width: number): number[] {
  let from = 0;
  let sum = 0;
  return points.map(({ work, level }, i) => {
    sum += level;
    while ((points[from] as LifePoint).work <= work - width && from < i) {
      sum -= (points[from] as LifePoint).level;
      from++;
    }
    return sum / (i + 1 - from);
  });
}

/**
 * The work at which each level of the grid was first reached; `undefined` where it wasn't. A level that falls back was reached all the
 * same: a loading element doesn't unload.
 */
export function workAtLevels(points: readonly LifePoint[], calmed: readonly number[], grid: readonly number[]): (number | undefined)[] {
  const reached: (number | undefined)[] = grid.map(() => undefined);
  let next = 0;
  let [highest, highestWork] = [-Infinity, 0];
  for (const [i, { work }] of points.entries()) {
    const level = calmed[i] as number;
    while (next < grid.length && level >= (grid[next] as number)) {
      const part = highest === -Infinity || level <= highest ? 1 : Math.max(0, ((grid[next] as number) - highest) / (level - highest));
      reached[next] = highestWork + part * (work - highestWork);
      next++;
    }
    if (level > highest) [highest, highestWork] = [level, work];
  }
  return reached;
}
