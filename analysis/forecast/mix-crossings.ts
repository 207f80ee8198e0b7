import type { LimitAnswer } from './time-to-limit.ts';

type Crosses = LimitAnswer['crossesMs'];
export type Dated = Pick<LimitAnswer, 'crossesMs' | 'probability'>;

const SHARES = [0.1, 0.25, 0.5, 0.75, 0.9] as const;
const timesOf = ({ p10, p25, p50, p75, p90 }: Crosses): readonly (number | null)[] => [p10, p25, p50, p75, p90];

/**
 * The crossing where it isn't known which of two answers is right: both distributions, averaged.
 *
 * Each is taken to rise in straight lines between its five dates, from now on and to its probability at the horizon; so the mixture is as
 * wide as the two are apart, and as sure as both agree.
 */
export function mixCrossings(a: Dated, b: Dated, nowMs: number, horizonDays: number): Crosses {
  const endMs = nowMs + horizonDays * 86_400_000;
  const [first, second] = [cornersOf(a, nowMs, endMs), cornersOf(b, nowMs, endMs)];
  const times = [...new Set([...first, ...second].map(([at]) => at))].sort((x, y) => x - y);
  const shares = times.map((at) => (shareBy(first, at) + shareBy(second, at)) / 2);
  const [p10, p25, p50, p75, p90] = SHARES.map((wanted): number | null => {
    const i = shares.findIndex((share) => share >= wanted);
    if (i <= 0) return i < 0 ? null : (times[0] as number);
    const [before, after] = [shares[i - 1] as number, shares[i] as number];
    return Math.round((times[i - 1] as number) + ((wanted - before) / (after - before)) * ((times[i] as number) - (times[i - 1] as number)));
  }) as [number | null, number | null, number | null, number | null, number | null];
  return { p10, p25, p50, p75, p90 };
}

/** The sooner date of two answers at each share: of two ways to one limit that go on side by side, and hang together. */
export function soonerCrossings(a: Crosses, b: Crosses): Crosses {
  const sooner = (one: number | null, other: number | null): number | null => (one === null ? other : other === null ? one : Math.min(one, other));
  return { p10: sooner(a.p10, b.p10), p25: sooner(a.p25, b.p25), p50: sooner(a.p50, b.p50), p75: sooner(a.p75, b.p75), p90: sooner(a.p90, b.p90) };
}

type Corner = readonly [atMs: number, share: number];

function cornersOf({ crossesMs, probability }: Dated, nowMs: number, endMs: number): Corner[] {
  const dated = timesOf(crossesMs).flatMap((at, i): Corner[] => (at === null ? [] : [[at, SHARES[i] as number]]));
  // Past already: the dates are all now.
  return [[nowMs, 0], ...dated, [endMs, Math.max(probability, dated.at(-1)?.[1] ?? 0)]];
}

/** The share by a time; of several corners at one time, the highest. */
function shareBy(corners: readonly Corner[], atMs: number): number {
  const i = corners.findLastIndex(([at]) => at <= atMs);
  const [[from, low], next] = [corners[i] as Corner, corners[i + 1]];
  return next === undefined || next[0] === from ? low : low + ((atMs - from) / (next[0] - from)) * (next[1] - low);
}
