/** `tuning`: looked at world by world while the analysis is being changed. `reporting`: only ever added up, and never tuned on. */
export type SeedPurpose = 'tuning' | 'reporting';

/** Odd seeds are for tuning, even ones for reporting: a seed can't be of both kinds, whoever names it. */
export function purposeOfSeed(seed: number): SeedPurpose {
  return seed % 2 === 1 ? 'tuning' : 'reporting';
}

/** Worlds of one campaign; the next campaign seed has other worlds. */
const MOST_WORLDS = 10_000;

/**
 * Seeds of a campaign's worlds. Campaigns of equal seed share their first worlds, whatever their size.
 * @throws {RangeError} if `campaignSeed` or `count` is no whole number, or out of bounds.
 */
export function worldSeeds(campaignSeed: number, purpose: SeedPurpose, count: number): number[] {
  if (!Number.isInteger(campaignSeed) || campaignSeed < 0 || campaignSeed > 1e5) throw new RangeError(`Cannot draw worlds as the seed must be a whole number from 0 to 100000: current value is ${campaignSeed}`);
  if (!Number.isInteger(count) || count < 1 || count > MOST_WORLDS) throw new RangeError(`Cannot draw worlds as their count must be a whole number from 1 to ${MOST_WORLDS}: current value is ${count}`);
  const first = campaignSeed * MOST_WORLDS * 2 + (purpose === 'tuning' ? 1 : 0);
  return Array.from({ length: count }, (_, index) => first + 2 * index);
}
