import { quantile } from '../change/robust.ts';
import { solveLinear } from '../change/linear-solve.ts';
import { normalQuantile } from '../change/normal.ts';
import { conditional, type Gaussian } from './gaussian.ts';
import { calmLevels, levelGrid, type LifePoint, workAtLevels } from './life-curve.ts';

/** An earlier life of the same quantity, from clean on. */
export type Life = {
  readonly points: readonly LifePoint[];
  /** Of the same generator, or under the same conditions; others count for less. */
  readonly own: boolean;
  /** Whether the life ended at the limit, as its last point; else it was ended before. */
  readonly reachedLimit: boolean;
};

/** What earlier lives say about the work at which each level is reached. */
export type LivesModel = {
  readonly limit: number;
  readonly grid: readonly number[];
  /** Work over which levels are averaged. */
  readonly width: number;
  readonly reaches: Gaussian;
  /** How much wider the ranges must be than the covariance says, from each earlier life foreseen by the others. */
  readonly stretch: number;
};

/** Levels of the grid: 16 hold all that the shape of a life tells. */
const LEVELS = 16;
/** Levels are averaged over so much of a usual life. */
const CALM_SHARE = 1 / 60;
/** The grid begins at the level that three of four lives have not passed at this share of a usual life: below is start-up. */
const START_SHARE = 0.05;
/** A life under other conditions says where the middle lies as much as this part of a life of one's own. */
const OTHERS_WEIGHT = 0.5;
/**
 * What is believed of lives beforehand, worth `PRIOR_LIVES` lives: one lasts 20 % longer than another all along, and on the way each wanders by 7 %.
 * Common practice, no source; tuned on training runs of a published set (tests/yardsticks/README.md).
 */
const PRIOR_LIVES = 6;
const PRIOR_PACE = 0.2;
const PRIOR_WANDER = 0.07;
/** The own lives' scatter is believed as if so many lives had shown the common one. */
const SCALE_LIVES = 10;
/** Rounds of filling in what lives that were ended early would have shown. */
const ROUNDS = 4;

/**
 * Learn from earlier lives how much work each level takes.
 *
 * The works at which a life reaches the levels of a grid are taken as one draw from a normal distribution over all of them:
 * so what a life showed so far tells what is left, pace and shape, whichever of both repeats. The covariance is that of all
 * lives, shrunk to a simple one, so that two lives are enough. Lives that were ended before the limit are filled in from the others,
 * with what is uncertain about it (EM, Little & Rubin 2002, 11.2).
 *
 * @returns `undefined` unless at least two lives reached the limit.
 */
export function learnLives(lives: readonly Life[], limit: number): LivesModel | undefined {
  const full = lives.filter((life) => life.reachedLimit && life.points.length > 0);
  if (full.length < 2) return undefined;
  const usual = quantile(full.map(endOf), 0.5) as number;
  const width = usual * CALM_SHARE;
  const calmed = lives.map((life) => calmLevels(life.points, width));
  const starts = lives.flatMap((life, i) => {
    const at = life.points.findLastIndex((point) => point.work <= usual * START_SHARE);
    return at < 0 ? [] : [(calmed[i] as number[])[at] as number];
  });
  const lowest = Math.min(limit / 2, Math.max(limit / 100, quantile(starts, 0.75) ?? 0));
  const grid = levelGrid(lowest, limit, LEVELS);
  const curves = lives.map((life, i) => {
    const curve = workAtLevels(life.points, calmed[i] as number[], grid);
    if (life.reachedLimit) closeCurve(curve, endOf(life));
    return curve;
  });
  const own = lives.map((life) => life.own);
  const reaches = fitReaches(curves, own);
  return { limit, grid, width, reaches, stretch: stretchOf(curves, own, reaches, workNoise({ grid, reaches, width }, limit * LEVEL_SHARE)) };
}

/** A level is known no better than to this share of the limit: gauges, and what the flow does to a drop. Tuned as above. */
export const LEVEL_SHARE = 1 / 200;

/** By how much the work at which each level was reached may be off: the level's own error over how fast levels rise there, and half of what is averaged over. */
export function workNoise({ grid, reaches, width }: Pick<LivesModel, 'grid' | 'reaches' | 'width'>, levelError: number): number[] {
  return grid.map((_, k) => {
    const [a, b] = [Math.max(0, k - 1), Math.min(grid.length - 1, k + 1)];
    const slope = ((reaches.mean[b] as number) - (reaches.mean[a] as number)) / ((grid[b] as number) - (grid[a] as number));
    return Math.hypot(levelError * slope, width / 2);
  });
}

const endOf = (life: Life): number => (life.points.at(-1) as LifePoint).work;

/** The last value is the end itself; averaging hides the last levels before it. */
function closeCurve(curve: (number | undefined)[], end: number): void {
  const known = curve.findLastIndex((work) => work !== undefined);
  const from = known < 0 ? 0 : (curve[known] as number);
  const open = curve.length - 1 - known;
  for (let k = known + 1; k < curve.length; k++) curve[k] = from + ((end - from) * (k - known)) / Math.max(1, open);
  curve[curve.length - 1] = end;
}

type Curve = readonly (number | undefined)[];

/** Middle and covariance of the works over the levels, by a few rounds of filling in and of weighing down lives that are unlike the others. */
function fitReaches(curves: readonly Curve[], own: readonly boolean[]): Gaussian {
  const weights = own.map((mine) => (mine || !own.includes(true) ? 1 : OTHERS_WEIGHT));
  const whole = curves.map((curve) => (curve.includes(undefined) ? 0 : 1));
  let [filled, trust]: [readonly Filled[], readonly number[]] = [curves.map((curve) => ({ mean: curve.map((work) => work ?? 0), covariance: undefined })), whole];
  let fit = momentsOf(filled, weights, trust);
  for (let round = 0; round < ROUNDS; round++) {
    filled = curves.map((curve) => filledIn(curve, fit));
    trust = trustIn(filled, fit);
    fit = momentsOf(filled, weights, trust);
  }
  return scaledToOwn(fit, curves, own);
}

type Filled = { readonly mean: readonly number[]; readonly covariance: readonly Float64Array[] | undefined };

function filledIn(curve: Curve, fit: Gaussian): Filled {
  const seen = curve.flatMap((work, k) => (work === undefined ? [] : [{ parts: [[k, 1] as const], value: work, noise: 0 }]));
  if (seen.length === curve.length) return { mean: curve as readonly number[], covariance: undefined };
  return conditional(fit, seen, [...curve.keys()]);
}

/** Degrees of freedom of the Student t that lives are taken to come from: about one in twenty is unlike the others. */
const FREEDOM = 4;

/** How far each life is believed, 1 on average: the weights of a multivariate t (Lange, Little & Taylor 1989, JASA 84:881). */
function trustIn(lives: readonly Filled[], fit: Gaussian): number[] {
  const raw = lives.map(({ mean }) => {
    const miss = Float64Array.from(mean, (work, k) => work - (fit.mean[k] as number));
    const rows = fit.covariance.map((row, k) => row.map((value, j) => (j === k ? 1.01 * value : value)));
    const pull = solveLinear(rows, miss.slice());
    const squares = pull === undefined ? miss.length : miss.reduce((sum, value, k) => sum + value * (pull[k] as number), 0);
    return (FREEDOM + mean.length) / (FREEDOM + squares);
  });
  const usual = raw.reduce((a, b) => a + b, 0) / raw.length;
  return raw.map((value) => value / usual);
}

function momentsOf(lives: readonly Filled[], weights: readonly number[], trust: readonly number[]): Gaussian {
  const shares = weights.map((weight, i) => weight * (trust[i] as number));
  const total = shares.reduce((a, b) => a + b, 0);
  const mean = (lives[0] as Filled).mean.map((_, k) => lives.reduce((sum, life, i) => sum + (shares[i] as number) * (life.mean[k] as number), 0) / total);
  const n = trust.reduce((a, b) => a + b, 0);
  const end = mean.at(-1) as number;
  const covariance = mean.map((a, j) =>
    Float64Array.from(mean, (b, k) => {
      const seen = lives.reduce((sum, life, i) => sum + (trust[i] as number) * (((life.mean[j] as number) - a) * ((life.mean[k] as number) - b) + (life.covariance?.[j]?.[k] ?? 0)), 0);
      const prior = PRIOR_PACE ** 2 * a * b + PRIOR_WANDER ** 2 * Math.min(a, b) * end;
      return (seen + PRIOR_LIVES * prior) / (n + PRIOR_LIVES);
    }),
  );
  return { mean, covariance };
}

/** Own lives may scatter less, or more, than all of them: the covariance is scaled to how their ends do. */
function scaledToOwn(fit: Gaussian, curves: readonly Curve[], own: readonly boolean[]): Gaussian {
  const last = fit.mean.length - 1;
  const variance = (fit.covariance[last] as Float64Array)[last] as number;
  let [squares, count] = [SCALE_LIVES, SCALE_LIVES];
  for (const [i, curve] of curves.entries()) {
    const end = curve[last];
    if (!own[i] || end === undefined) continue;
    squares += (end - (fit.mean[last] as number)) ** 2 / variance;
    count++;
  }
  const scale = squares / count;
  return { mean: fit.mean, covariance: fit.covariance.map((row) => row.map((value) => value * scale)) };
}

/** Lives that the stretch is believed beforehand to be what an uncertain middle makes of it. */
const STRETCH_LIVES = 6;

/**
 * How many sd hold 80 % of the earlier lives, each foreseen at the levels of the grid, over how many should.
 * These lives were learned from: of n, each lies nearer to their middle than the next one will, by √((n + 1) / (n − 1)).
 */
function stretchOf(curves: readonly Curve[], own: readonly boolean[], fit: Gaussian, noise: readonly number[]): number {
  const last = fit.mean.length - 1;
  const misses: number[] = [];
  let count = 0;
  for (const [i, curve] of curves.entries()) {
    const end = curve[last];
    if (end === undefined || (own.includes(true) && !own[i])) continue;
    count++;
    for (let k = 1; k < last; k += 2) {
      const seen = curve.slice(0, k).flatMap((work, j) => (work === undefined ? [] : [{ parts: [[j, 1] as const], value: work, noise: (noise[j] as number) ** 2 }]));
      const { mean, covariance } = conditional(fit, seen, [last]);
      misses.push(Math.abs(end - (mean[0] as number)) / Math.sqrt((covariance[0] as Float64Array)[0] as number));
    }
  }
  const held = quantile(misses, 0.8);
  const seen = held === undefined || count < 2 ? 1 : (held / normalQuantile(0.9)) * Math.sqrt((count + 1) / (count - 1));
  return (count * seen + STRETCH_LIVES * Math.sqrt(1 + 1 / Math.max(1, count))) / (count + STRETCH_LIVES);
}
