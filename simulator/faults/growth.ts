/** How a fault gets from nothing to its size: evenly, ever faster, or ever slower. */
export const GROWTHS = ['even', 'quickening', 'slowing'] as const;
export type Growth = (typeof GROWTHS)[number];

/**
 * Share of the final flow at each tenth of the time from start to peak: the mean of the ten growing leaks of 2019 in a
 * published set of leak flow curves, which grew over 22 to 77 days and differ from each other by at most 0.02.
 * That is a hole whose diameter grows evenly. Values derived from data under the EUPL 1.2.
 * @see Vrachimis et al. 2022, doi:10.1061/(ASCE)WR.1943-5452.0001601
 */
const QUICKENING = [0, 0.01, 0.04, 0.09, 0.16, 0.25, 0.359, 0.488, 0.638, 0.806, 1];

/** Share of a fault's size after a share of its time to grow, 0..1 both. `slowing` is the quickening curve turned round: wear that beds in. */
export function growthShare(growth: Growth, share: number): number {
  const at = Math.min(1, Math.max(0, share));
  if (growth === 'even') return at;
  return growth === 'quickening' ? quickening(at) : 1 - quickening(1 - at);
}

function quickening(share: number): number {
  const tenth = Math.min(9, Math.floor(share * 10));
  return QUICKENING[tenth]! + (share * 10 - tenth) * (QUICKENING[tenth + 1]! - QUICKENING[tenth]!);
}
