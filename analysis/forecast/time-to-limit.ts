import type { Forecast, LimitName } from '../../shared/finding.ts';
import { normalCdf } from '../change/normal.ts';
import { calmOutliers } from '../change/outliers.ts';
import { median } from '../change/robust.ts';
import { driftAfter, type DriftModel, driftModels, type DriftState, runDrift, type SlopeShape, tempered, warped } from './drift-filter.ts';

const DAY_MS = 86_400_000;
/** Below, a slope can't be told from chance, and the answer would be the prior's. */
const FEWEST_POINTS = 5;
/**
 * Two days of three are past a limit when the level is still about so many of the days' own scatters (their measuring errors taken out) away from it: 0.7 where it moves by a twentieth
 * of a scatter a day, 1.2 where by a hundredth (normal days that don't hang together).
 */
const DAYS_AHEAD = 0.8;

export type LimitQuestion = {
  /** One value a day or so, oldest first, since the change began; `se` ≥ 0. */
  readonly points: readonly { readonly atMs: number; readonly value: number; readonly se: number }[];
  readonly limit: number;
  /** Standard error of the limit in the series' own measure, where one is held against another's figure; 0 by default. */
  readonly limitSe?: number;
  /** The side of the limit that is to be avoided. */
  readonly side: 'above' | 'below';
  readonly nowMs: number;
  readonly horizonDays: number;
  /** Probability beforehand that there is a slope at all; more when the cause is one that grows. 0.5 by default. */
  readonly trendPrior?: number;
  /** 'any' by default. */
  readonly shape?: SlopeShape;
  /** When the change began, where it may end too; left out for what wears and doesn't end by itself. */
  readonly beganMs?: number;
  /** What is dated: the level (by default), or the first two days of three that are past the limit: they come sooner, since days scatter. */
  readonly crossedBy?: 'level' | 'days';
};

export type LimitAnswer = {
  readonly state: 'past' | 'approaching' | 'no-end-in-sight';
  /** When the level crosses: 10, 25, 50, 75 and 90 %; null = beyond the horizon. */
  readonly crossesMs: { readonly p10: number | null; readonly p25: number | null; readonly p50: number | null; readonly p75: number | null; readonly p90: number | null };
  /** That it crosses within the horizon. */
  readonly probability: number;
  /** Level now and slope per day, averaged over the models, and the probability that there is a slope. */
  readonly level: number;
  readonly slopePerDay: number;
  readonly slopeProbability: number;
};

/**
 * When a level will cross a limit, as a distribution.
 *
 * Up to 42 models are run over the series and weighted by how well each foresaw it: no slope, slopes steady in a power of time, a slope that
 * wanders, each with or without a wander of the level itself. Their shares of being past the limit after h days,
 * averaged, are the distribution of the crossing. So a series without a slope gives "no end in sight" and not the date at which its
 * noise points, and a series that bends gives a wider range. It knows no physics and no season, and foresees no step: a value that
 * grows in proportion to itself, such as a loading element's drop, is dated late unless its log is given.
 * It is the level that crosses, not the first noisy day. Measured shares inside the ranges: this folder's README.
 *
 * @returns `undefined` below 5 points, unless the median of these is past the limit.
 * @throws {RangeError} if times don't rise or a number isn't finite.
 * @see West & Harrison 1997, Bayesian Forecasting and Dynamic Models, 12 (averaging over models).
 */
export function timeToLimit(question: LimitQuestion): LimitAnswer | undefined {
  const { points, side, nowMs } = question;
  refuse(question);
  const sign = side === 'above' ? 1 : -1;
  const values = calmOutliers(points.map((point) => sign * point.value));
  const middle = median(values.slice(-FEWEST_POINTS));
  if (points.length < FEWEST_POINTS) return middle !== undefined && middle >= sign * question.limit ? pastAnswer(nowMs, sign * middle) : undefined;

  const first = (points[0] as { atMs: number }).atMs;
  const days = points.map((point) => (point.atMs - first) / DAY_MS);
  const { scatter, wander, variances } = scatterOf(values, points.map((point) => point.se));
  const limit = sign * question.limit - (question.crossedBy === 'days' ? DAYS_AHEAD * wander : 0);
  const last = days.at(-1) as number;
  const span = Math.max(FEWEST_POINTS, last);
  const distance = Math.abs(limit - (median(values.slice(0, FEWEST_POINTS)) as number)) / scatter;
  const shape = question.shape ?? 'any';
  const models = driftModels({ spanDays: span, trendPrior: question.trendPrior ?? 0.5, shape, distance });
  const warpedDays = new Map(models.map((model) => [model.power, model] as const).map(([power, model]) => [power, days.map((day) => warped(model, day, span))]));
  const seen = models.map((model) => runDrift(model, warpedDays.get(model.power) as number[], values, variances, { level: values[0] as number, scatter }));
  const worth = worthOf(seen, days.length);
  const states = seen.map((state) => tempered(state, worth, shape !== 'any'));
  const weights = weigh(seen.map((state, i) => worth * state.logLikelihood + Math.log((models[i] as DriftModel).prior)));
  const today = (nowMs - first) / DAY_MS;
  const limitVariance = (question.limitSe ?? 0) ** 2;
  const after = (i: number, day: number): { readonly level: number; readonly variance: number } => {
    const model = models[i] as DriftModel;
    const { level, variance } = driftAfter(states[i] as DriftState, warped(model, day, span) - warped(model, last, span));
    return { level, variance: variance + limitVariance };
  };
  const mean = (of: (i: number) => number): number => weights.reduce((sum, weight, i) => sum + weight * of(i), 0);
  const level = mean((i) => after(i, today).level);
  const slope = mean((i) => after(i, today + 0.5).level - after(i, today - 0.5).level);
  const slopeProbability = mean((i) => ((models[i] as DriftModel).slopePrior > 0 ? 1 : 0));
  const ageDays = question.beganMs === undefined ? undefined : Math.max(1, (nowMs - question.beganMs) / DAY_MS);
  const share = crossedShare(models, weights, limit, today, after, ageDays);
  if (share(0) > 0.9) return { ...pastAnswer(nowMs, sign * level), slopePerDay: sign * slope, slopeProbability };
  const crossesMs = quantilesOf(share, question.horizonDays, nowMs);
  const state = crossesMs.p10 === null ? 'no-end-in-sight' : 'approaching';
  return { state, crossesMs, probability: share(question.horizonDays), level: sign * level, slopePerDay: sign * slope, slopeProbability };
}

function refuse({ points, limit, nowMs, horizonDays }: LimitQuestion): void {
  if (!Number.isFinite(limit) || !Number.isFinite(nowMs) || !(horizonDays > 0)) throw new RangeError(`Cannot forecast as limit and now must be finite and the horizon above 0: current values are ${limit}, ${nowMs}, ${horizonDays}`);
  for (const [i, point] of points.entries()) {
    if (!Number.isFinite(point.atMs) || !Number.isFinite(point.value) || !(point.se >= 0 && Number.isFinite(point.se))) throw new RangeError(`Cannot forecast as each point must be finite with an error of 0 or more: current point is ${JSON.stringify(point)}`);
    if (i > 0 && point.atMs <= (points[i - 1] as { atMs: number }).atMs) throw new RangeError(`Cannot forecast as times must rise: current value is ${point.atMs}`);
  }
}

function pastAnswer(nowMs: number, level: number): LimitAnswer {
  return { state: 'past', crossesMs: { p10: nowMs, p25: nowMs, p50: nowMs, p75: nowMs, p90: nowMs }, probability: 1, level, slopePerDay: 0, slopeProbability: 0 };
}

/** Scatter of a typical value, from the distances between neighbours; what of it is not the values' own error; and each value's variance relative to it. */
function scatterOf(values: readonly number[], errors: readonly number[]): { readonly scatter: number; readonly wander: number; readonly variances: number[] } {
  const steps = values.slice(1).map((value, i) => (value - (values[i] as number)) ** 2);
  // The median of a squared normal is 0.4549 of its mean; two values differ by twice the variance. With few steps, their mean.
  const seen = Math.max((median(steps) as number) / 0.4549, steps.reduce((a, b) => a + b, 0) / steps.length / 3) / 2;
  const own = median(errors.map((error) => error * error)) as number;
  const total = Math.max(seen, own, 1e-12 * Math.max(...values.map((value) => value * value)), Number.MIN_VALUE);
  const beyond = Math.max(0.05 * total, total - own);
  return { scatter: Math.sqrt(total), wander: Math.sqrt(Math.max(0, total - own)), variances: errors.map((error) => (error * error + beyond) / total) };
}

/** How many independent values one value is worth, from how far the misses of the likeliest model hang together; few misses show too little of it. */
function worthOf(states: readonly DriftState[], count: number): number {
  const best = states.reduce((a, b) => (b.logLikelihood > a.logLikelihood ? b : a));
  const correlation = Math.min(0.7, Math.max(0, best.missCorrelation + 2 / count));
  return (1 - correlation) / (1 + correlation);
}

/** Shares that add up to 1, from log weights. */
function weigh(logs: readonly number[]): number[] {
  const top = Math.max(...logs);
  const raw = logs.map((log) => Math.exp(log - top));
  const total = raw.reduce((a, b) => a + b, 0);
  return raw.map((value) => value / total);
}

/** What drives a slope, running hours before all, goes on at another pace than it went; about a third up or down. */
const PACES_TO_COME = [[0.7, 0.25], [1, 0.5], [1.45, 0.25]] as const;

const ONE_PACE = [[1, 1]] as const;

/**
 * A change that is so old goes on for as long again in half of cases: middles of five equal shares of (1/u − 1), in ages.
 * @see Gott 1993, Nature 363:315 (nothing being known but its age).
 */
const AGES_TO_COME = [0.11, 0.43, 1, 2.33, 9] as const;

/** Share of the models' levels that have crossed within some days from now; a change of `ageDays` may end, and its slope with it. */
function crossedShare(models: readonly DriftModel[], weights: readonly number[], limit: number, today: number, after: (i: number, day: number) => { readonly level: number; readonly variance: number }, ageDays: number | undefined): (days: number) => number {
  const kept = weights.flatMap((weight, i) => (weight > 1e-3 ? [i] : []));
  const ends = ageDays === undefined ? [Infinity] : AGES_TO_COME.map((ages) => ages * ageDays);
  const past = (i: number, day: number): number => {
    const { level, variance } = after(i, day);
    const z = (level - limit) / Math.sqrt(variance);
    // Of dates only the tenths matter, and the tails take time to work out.
    return z > 4 ? 1 : z < -4 ? 0 : normalCdf(z);
  };
  return (days) => {
    let sum = 0;
    for (const i of kept) {
      const weight = weights[i] as number;
      // A level that only wanders: each path that is past then has a mirror image that was past and came back.
      const wanders = (models[i] as DriftModel).slopePrior === 0;
      if (wanders) sum += weight * Math.min(1, 2 * past(i, today + days) - past(i, today));
      else for (const [pace, share] of weight > 0.02 ? PACES_TO_COME : ONE_PACE) for (const end of ends) sum += ((weight * share) / ends.length) * past(i, today + Math.min(end, pace * days));
    }
    return sum;
  };
}

/** First day at which the share reaches each quantile; what has crossed once has crossed. */
function quantilesOf(share: (days: number) => number, horizonDays: number, nowMs: number): LimitAnswer['crossesMs'] {
  const wanted = [0.1, 0.25, 0.5, 0.75, 0.9];
  const found: (number | null)[] = [];
  let [before, reached] = [0, share(0)];
  while (found.length < wanted.length && reached >= (wanted[found.length] as number)) found.push(nowMs);
  for (let day = 0.25; before < horizonDays && found.length < wanted.length; day = Math.min(horizonDays, day * 1.09 + 0.15)) {
    const next = Math.max(reached, share(day));
    while (found.length < wanted.length && next >= (wanted[found.length] as number)) {
      const part = next > reached ? ((wanted[found.length] as number) - reached) / (next - reached) : 1;
      found.push(Math.round(nowMs + (before + part * (day - before)) * DAY_MS));
    }
    [before, reached] = [day, next];
  }
  const at = (i: number): number | null => found[i] ?? null;
  return { p10: at(0), p25: at(1), p50: at(2), p75: at(3), p90: at(4) };
}

/** The answer as `rank --json` says it. */
export function forecastOf(limit: LimitName, { p10, p25, p50, p75, p90 }: LimitAnswer['crossesMs']): Forecast {
  const iso = (ms: number | null): string | null => (ms === null ? null : new Date(ms).toISOString());
  return { limit, earliest: iso(p10), quarterFrom: iso(p25), likely: iso(p50), quarterTo: iso(p75), latest: iso(p90) };
}
