import type { CauseProbability } from '../../shared/finding.ts';
import { normalCdf, normalDensity } from '../change/normal.ts';
import { chancesOf, SIGNATURES, type SignatureSeries, type SignedCause } from './signatures.ts';

/** How far a series is from its baseline now; `smallest` is the change in it that matters. All in the series' unit. */
export type Movement = { readonly series: SignatureSeries; readonly effect: number; readonly se: number; readonly smallest: number };

/** What is known about a change: how the series stand, its shape, whether it began right after a visit. */
export type Observation = {
  readonly movements: readonly Movement[];
  /** Chance that it came as a step; `null` while too few days tell. */
  readonly stepChance: number | null;
  /** `null` where no visits are recorded at all. */
  readonly afterVisit: boolean | null;
  /**
   * By how much gas demand and delivery rose, in the day's unit, with the error of the latter: a check valve leaking back takes
   * the same from both; `null` where either isn't known.
   */
  readonly amounts: { readonly demand: number; readonly delivery: number; readonly deliverySe: number } | null;
  /** How fast the drop over the elements rises, kPa in an hour of running; `null` where it doesn't, or isn't known. */
  readonly dropPerRunHour: number | null;
};

/** What one observed thing says about every cause, candidate or not: natural logarithms of likelihoods. */
export type Feature = { readonly about: SignatureSeries | 'shape' | 'visit' | 'amounts' | 'rate'; readonly logLikelihoods: ReadonlyMap<SignedCause, number> };
export type Weighed = { readonly causes: readonly (CauseProbability & { readonly cause: SignedCause })[]; readonly features: readonly Feature[] };

/** A model of an amount is never trusted beyond this. */
const LEAST_CHANCE = 0.02;
/** Chance that an onset falls within a day and a half after a visit though it has nothing to do with it. */
const CHANCE_AFTER_VISIT = 0.02;

/**
 * Probabilities of the candidate causes of one change, by Bayes' rule with the signatures' chances, each series taken as
 * independent given the cause.
 *
 * A series isn't forced into up, flat or down: each direction counts by its chance under a normal error about the effect,
 * with half the smallest change as the border, so a small or noisy movement says little. Series of one cause hang together
 * in truth, which makes the result too sure; the logarithms are therefore damped by `INDEPENDENCE`.
 */
export function weighCauses(candidates: readonly SignedCause[], seen: Observation): Weighed {
  const features = featuresOf(seen);
  const logs = candidates.map((cause) => Math.log(SIGNATURES[cause].perYear) + features.reduce((sum, feature) => sum + INDEPENDENCE * feature.logLikelihoods.get(cause)!, 0));
  const most = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - most));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const causes = candidates.map((cause, index) => ({ cause, probability: weights[index]! / total })).sort((a, b) => b.probability - a.probability || (a.cause < b.cause ? -1 : 1));
  return { causes, features };
}

/** Share of each feature's logarithm that counts: series moved by one cause share their noise. A judgement, to be calibrated. */
const INDEPENDENCE = 0.8;

const ALL = Object.keys(SIGNATURES) as SignedCause[];

function featuresOf(seen: Observation): Feature[] {
  const features: Feature[] = seen.movements.map((movement) => {
    const [up, flat, down] = directionChances(movement);
    return feature(movement.series, (cause) => {
      const [u, f, d] = chancesOf(cause, movement.series);
      return u * up + f * flat + d * down;
    });
  });
  const { stepChance, afterVisit, amounts } = seen;
  if (stepChance !== null) features.push(feature('shape', (cause) => SIGNATURES[cause].step * stepChance + (1 - SIGNATURES[cause].step) * (1 - stepChance)));
  if (afterVisit !== null) features.push(feature('visit', (cause) => (afterVisit ? Math.max(SIGNATURES[cause].afterVisit, CHANCE_AFTER_VISIT) : 1 - SIGNATURES[cause].afterVisit)));
  if (amounts !== null) features.push(feature('amounts', (cause) => amountChance(amounts, cause === 'check-valve-leaking')));
  if (seen.dropPerRunHour !== null) features.push(feature('rate', (cause) => rateChance(seen.dropPerRunHour!, cause === 'drain-stuck-closed' ? BY_WATER : BY_DUST)));
  return features;
}

/** Gas that runs back fills bowls and housing too, so that delivery may seem to rise by half as much again; what else draws leaves it alone. Shares of the amount. */
const BACK_SHARE = 0.4;
const LEFT_ALONE_SHARE = 0.12;

/** Chance of a rise of delivery beside that of demand, against that of the best match. */
function amountChance({ demand, delivery, deliverySe }: NonNullable<Observation['amounts']>, runsBack: boolean): number {
  const se = Math.hypot(deliverySe, (runsBack ? BACK_SHARE : LEFT_ALONE_SHARE) * demand);
  return Math.max(LEAST_CHANCE, normalDensity((delivery - (runsBack ? demand : 0)) / se) / normalDensity(0));
}

/**
 * How fast a drop grows, kPa in an hour of running: elements hold dust for a thousand hours and more, dirty or oily air loads them ten
 * times as fast, and a bowl that runs over floods them within tens of hours. Middle and spread of the logarithm; common practice, no source.
 */
const BY_DUST = { middle: 0.1, spread: 1.3 };
const BY_WATER = { middle: 2, spread: 0.9 };

function rateChance(rate: number, { middle, spread }: typeof BY_DUST): number {
  return Math.max(LEAST_CHANCE / 4, normalDensity((Math.log(rate) - Math.log(middle)) / spread) / spread);
}

function feature(about: Feature['about'], likelihood: (cause: SignedCause) => number): Feature {
  return { about, logLikelihoods: new Map(ALL.map((cause) => [cause, Math.log(likelihood(cause))])) };
}

/** Chances that the true movement is up, flat or down. */
export function directionChances({ effect, se, smallest }: Movement): readonly [number, number, number] {
  const border = smallest / 2;
  const error = Math.max(se, smallest / 8);
  const up = normalCdf((effect - border) / error);
  const down = normalCdf((-effect - border) / error);
  return [up, Math.max(0, 1 - up - down), down];
}
