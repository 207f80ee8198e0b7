/*
 * How far changes agree with those that people, or the truth, gave: F1 within a margin and cover.
 * Source: van den Burg & Williams 2020, arXiv:2003.06222, section 3.
 */
/** Values by which a change may be off. */
export const MARGIN = 5;

/** How many of `found` lie within the margin of one of `truth`, each truth serving once. */
function hits(truth: ReadonlySet<number>, found: ReadonlySet<number>): number {
  const left = new Set(found);
  let count = 0;
  for (const tau of truth) {
    const near = [...left].filter((x) => Math.abs(tau - x) <= MARGIN).sort((a, b) => Math.abs(tau - a) - Math.abs(tau - b))[0];
    if (near === undefined) continue;
    count++;
    left.delete(near);
  }
  return count;
}

/** The beginning of the series counts as a change that all know of, so that "none" can be right. */
const withStart = (changes: readonly number[]): Set<number> => new Set([0, ...changes]);

export function f1(people: readonly number[][], found: readonly number[]): number {
  const ours = withStart(found);
  const precision = hits(withStart(people.flat()), ours) / ours.size;
  const recall = people.reduce((sum, one) => sum + hits(withStart(one), ours) / withStart(one).size, 0) / people.length;
  return (2 * precision * recall) / (precision + recall);
}

export function cover(people: readonly number[][], found: readonly number[], n: number): number {
  const parts = (changes: readonly number[]): [number, number][] => [...withStart(changes)].sort((a, b) => a - b).map((from, i, all) => [from, all[i + 1] ?? n]);
  const ours = parts(found);
  const one = (theirs: readonly [number, number][]): number =>
    theirs.reduce((sum, [from, to]) => {
      const best = Math.max(...ours.map(([a, b]) => Math.max(0, Math.min(to, b) - Math.max(from, a)) / (Math.max(to, b) - Math.min(from, a))));
      return sum + (to - from) * best;
    }, 0) / n;
  return people.reduce((sum, changes) => sum + one(parts(changes)), 0) / people.length;
}
