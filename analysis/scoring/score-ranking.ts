import type { RankingReport } from '../../shared/finding.ts';
import type { TrueBranch } from './truth.ts';

/** The true loss of the ten worst at a time, and of the ten that were ranked first, in hours over a limit in the next 30 days. */
export type RankingCase = { readonly at: string; readonly generators: number; readonly worstHours: number; readonly oursHours: number };

const TEN = 10;

/**
 * How much of the true loss of the ten worst the first ten of the ranking carry, at a time at which all generators were
 * branched. `undefined` where nobody would lose anything, or where ten are all there are.
 */
export function rankingCase(branches: readonly TrueBranch[], report: RankingReport): RankingCase | undefined {
  const at = branches[0]?.at;
  if (at === undefined || branches.length <= TEN) return undefined;
  const hours = new Map(branches.map((branch) => [`${branch.site}/${branch.generator}`, branch.lossHours]));
  const sum = (values: readonly number[]): number => values.reduce((total, value) => total + value, 0);
  const worstHours = sum([...hours.values()].sort((a, b) => b - a).slice(0, TEN));
  if (worstHours <= 0) return undefined;
  const ours = [...report.ranking].sort((a, b) => a.rank - b.rank).slice(0, TEN);
  return { at, generators: branches.length, worstHours, oursHours: sum(ours.map((row) => hours.get(`${row.site}/${row.generator}`) ?? 0)) };
}

/** Over all cases: summed hours over summed hours, so that a time at which little was at stake weighs little; `null` without a case. */
export function rankingShare(cases: readonly RankingCase[]): number | null {
  const worst = cases.reduce((sum, one) => sum + one.worstHours, 0);
  return worst > 0 ? cases.reduce((sum, one) => sum + one.oursHours, 0) / worst : null;
}
