import { medianOf, robustScatter, rounded } from './thinned.ts';

/** How many blocks a quarter of a day keeps; when more come, neighbours are joined, so that no sum is lost. */
const MOST_BLOCKS = 8;

/** Falls of the tank's content in settled rests: `fall[i]` kPa in `restS[i]` seconds. */
export type FallBlocks = { fall: number[]; restS: number[] };
/**
 * The tank's balance over whole cycles: `made[i]` kPa were delivered in `runS[i]` seconds of running: what the content
 * rose by, and what the rest of that very cycle says was drawn meanwhile. For `openS[i]` seconds no rest says it: there
 * the demand of the whole period stands in.
 */
export type BalanceBlocks = { made: number[]; openS: number[]; runS: number[] };

export function addFall(blocks: FallBlocks, fall: number, restS: number): void {
  blocks.fall.push(rounded(fall));
  blocks.restS.push(rounded(restS));
  shortenBlocks(blocks, NO_BALANCE, MOST_BLOCKS);
}

export function addBalance(blocks: BalanceBlocks, made: number, openS: number, runS: number): void {
  blocks.made.push(rounded(made));
  blocks.openS.push(rounded(openS));
  blocks.runS.push(rounded(runS));
  shortenBlocks(NO_FALLS, blocks, MOST_BLOCKS);
}

const NO_FALLS: FallBlocks = { fall: [], restS: [] };
const NO_BALANCE: BalanceBlocks = { made: [], openS: [], runS: [] };

/** Join neighbours until no list is longer than `most`. */
export function shortenBlocks(falls: FallBlocks, balance: BalanceBlocks, most: number): void {
  while (falls.fall.length > most) {
    falls.fall = joined(falls.fall);
    falls.restS = joined(falls.restS);
  }
  while (balance.made.length > most) {
    balance.made = joined(balance.made);
    balance.openS = joined(balance.openS);
    balance.runS = joined(balance.runS);
  }
}

function joined(values: readonly number[]): number[] {
  const pairs: number[] = [];
  for (let index = 0; index < values.length; index += 2) pairs.push(rounded(values[index]! + (values[index + 1] ?? 0)));
  return pairs;
}

export function sum(values: readonly number[]): number {
  let total = 0;
  for (const value of values) total += value;
  return total;
}

/** A rate with its standard error, or null. */
export type Rate = { value: number; se: number } | null;

/** With fewer blocks than this, scatter says little and an error of `FEW_SHARE` of the value stands for it. */
const FEW_BLOCKS = 4;
const FEW_SHARE = 0.1;
/** A ratio of two sums shares one scatter; below this the tank's non-ideal ways (not noise) lead. */
const LEAST_SHARE = 0.005;

/** Blocks this many robust deviations from the middle (and this share of the rate) are of another event: a test, a refill, a purge. */
const ODD_DEVIATIONS = 6;
const ODD_SHARE = 0.1;
/** More of the time than this is no event but the day itself: then all counts. */
const MOST_ODD_SHARE = 0.15;
/** With fewer blocks than this none is called odd. */
const LEAST_TO_JUDGE = 6;

/**
 * Σ amount ÷ Σ time, with the error that the scatter of the blocks shows: residuals grow as √time, so they are
 * compared after division by it. `resolution` is the smallest step of the amount: each block has two ends.
 * A few odd blocks are left out: a bleed of minutes or a refill would else stand for the day. A change that stays is no
 * odd block for long: soon it is too much of the time. `alwaysOdd` blocks may be left out however long they are: one
 * refill runs for as long as all other runs of its day. `edgeS`: each block's time begins and ends up to so much late.
 */
export function rateOfSums(amount: readonly number[], timeS: readonly number[], resolution: number, alwaysOdd = 0, edgeS = 0): Rate {
  const kept = amount.map((_, index) => index).filter((index) => timeS[index]! > 0);
  const first = plainRate(amount, timeS, kept, resolution, edgeS);
  if (first === null || kept.length < LEAST_TO_JUDGE) return first;
  const scaled = kept.map((index) => amount[index]! / timeS[index]!);
  const centre = medianOf(scaled)!;
  const roots = kept.map((index, at) => (scaled[at]! - centre) * Math.sqrt(timeS[index]!));
  const scatter = robustScatter(roots, 0);
  const usual = kept.filter((index, at) => Math.abs(roots[at]!) <= ODD_DEVIATIONS * scatter + Math.abs(centre) * (ODD_SHARE * Math.sqrt(timeS[index]!) + edgeS / Math.sqrt(timeS[index]!)));
  const odd = kept.length - usual.length;
  if (odd === 0) return first;
  const share = 1 - sum(usual.map((index) => timeS[index]!)) / sum(timeS);
  return odd <= alwaysOdd || share <= MOST_ODD_SHARE ? plainRate(amount, timeS, usual, resolution, edgeS) : first;
}

function plainRate(amount: readonly number[], timeS: readonly number[], kept: readonly number[], resolution: number, edgeS: number): Rate {
  let totalS = 0;
  let total = 0;
  for (const index of kept) {
    totalS += timeS[index]!;
    total += amount[index]!;
  }
  if (totalS <= 0) return null;
  const value = total / totalS;
  const count = kept.length;
  let share = LEAST_SHARE * Math.abs(value);
  let scatter = 0;
  if (count >= FEW_BLOCKS) {
    const residuals = kept.map((index) => (amount[index]! - value * timeS[index]!) / Math.sqrt(timeS[index]!));
    scatter = (robustScatter(residuals, 0) * Math.sqrt(count / (count - 1))) / Math.sqrt(totalS);
  } else share = (FEW_SHARE * Math.abs(value)) / Math.sqrt(count);
  return { value, se: Math.hypot(share, scatter, ((resolution + edgeS * Math.abs(value)) * Math.sqrt(count / 6)) / totalS) };
}
