import { median } from 'simple-statistics';
import type { DescriptorState } from './state.ts';

/** Runs that are looked at: with so many, all of one parity longer than all of the other come by chance once in 6,400 looks. */
const RUNS = 16;
/** Runs that differ by less are of one compressor. Common practice, no source. */
const LEAST_TIMES = 1.1;

/** Two compressors that take turns: how many times as long the runs of the slower one are; `null` where the last runs don't alternate. */
export function alternationOf({ recentRunS }: DescriptorState): number | null {
  if (recentRunS.length < RUNS) return null;
  const even = recentRunS.filter((_, index) => index % 2 === 0);
  const odd = recentRunS.filter((_, index) => index % 2 === 1);
  const apart = Math.min(...even) > Math.max(...odd) || Math.min(...odd) > Math.max(...even);
  const times = median(even) / median(odd);
  const slower = Math.max(times, 1 / times);
  return apart && slower >= LEAST_TIMES ? slower : null;
}
