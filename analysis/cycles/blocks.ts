import { robustScatter, rounded } from './thinned.ts';

/** How many blocks a quarter of a day keeps; when more come, neighbours are joined, so that no sum is lost. */
const MOST_BLOCKS = 8;

/** Falls of the tank's content in settled rests: `fall[i]` kPa in `restS[i]` seconds. */
export type FallBlocks = { fall: number[]; restS: number[] };
/** The tank's balance over whole cycles: content rose by `rise[i]` kPa in `spanS[i]` seconds, `runS[i]` of them running. */
export type BalanceBlocks = { rise: number[]; spanS: number[]; runS: number[] };

export function addFall(blocks: FallBlocks, fall: number, restS: number): void {
  blocks.fall.push(rounded(fall));
  blocks.restS.push(rounded(restS));
  shortenBlocks(blocks, NO_BALANCE, MOST_BLOCKS);
}

export function addBalance(blocks: BalanceBlocks, rise: number, spanS: number, runS: number): void {
  blocks.rise.push(rounded(rise));
  blocks.spanS.push(rounded(spanS));
  blocks.runS.push(rounded(runS));
  shortenBlocks(NO_FALLS, blocks, MOST_BLOCKS);
}

const NO_FALLS: FallBlocks = { fall: [], restS: [] };
const NO_BALANCE: BalanceBlocks = { rise: [], spanS: [], runS: [] };

/** Join neighbours until no list is longer than `most`. */
export function shortenBlocks(falls: FallBlocks, balance: BalanceBlocks, most: number): void {
  while (falls.fall.length > most) {
    falls.fall = joined(falls.fall);
    falls.restS = joined(falls.restS);
  }
  while (balance.rise.length > most) {
    balance.rise = joined(balance.rise);
    balance.spanS = joined(balance.spanS);
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

/**
 * Σ amount ÷ Σ time, with the error that the scatter of the blocks shows: residuals grow as √time, so they are
 * compared after division by it. `resolution` is the smallest step of the amount: each block has two ends.
 */
export function rateOfSums(amount: readonly number[], timeS: readonly number[], resolution: number): Rate {
  const totalS = sum(timeS);
  if (totalS <= 0) return null;
  const value = sum(amount) / totalS;
  const residuals: number[] = [];
  for (let index = 0; index < amount.length; index += 1) {
    const one = timeS[index]!;
    if (one > 0) residuals.push((amount[index]! - value * one) / Math.sqrt(one));
  }
  const count = residuals.length;
  let share = LEAST_SHARE * Math.abs(value);
  let scatter = 0;
  if (count >= FEW_BLOCKS) scatter = (robustScatter(residuals, 0) * Math.sqrt(count / (count - 1))) / Math.sqrt(totalS);
  else share = (FEW_SHARE * Math.abs(value)) / Math.sqrt(count);
  const ends = (resolution * Math.sqrt(count / 6)) / totalS;
  return { value, se: Math.hypot(share, scatter, ends) };
}
