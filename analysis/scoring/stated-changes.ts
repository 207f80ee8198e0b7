import type { CanShow } from '../../shared/review.ts';
import type { CycleScatter } from './cycle-scatter.ts';

/** What a generator stated of itself at a time: the smallest lasting change that would be seen within 10 days, and how its days scatter; |ln|, null = no such statement. */
export type StatedChange = { readonly at: string; readonly demand: number | null; readonly delivery: number | null; readonly demandScatter: number | null; readonly deliveryScatter: number | null; /** Of the month before; null where too few were seen. */ readonly cycles: CycleScatter | null };

/** As it is kept of a world. */
export function statedChange(at: string, canShow: CanShow | null | undefined, cycles: CycleScatter | null = null): StatedChange {
  const of = (series: 'demand' | 'delivery'): CanShow['smallest'][number] | undefined => canShow?.smallest.find((one) => one.series === series);
  const within = (series: 'demand' | 'delivery'): number | null => {
    const change = of(series)?.within10Days;
    return change === undefined || change === null ? null : Math.abs(Math.log1p(change));
  };
  return { at, demand: within('demand'), delivery: within('delivery'), demandScatter: of('demand')?.scatter ?? null, deliveryScatter: of('delivery')?.scatter ?? null, cycles };
}

/** What was stated at a time: the newest statement until then, or the first one where none was made yet. */
export function statedAt(stated: readonly StatedChange[], atMs: number): StatedChange | undefined {
  return stated.findLast((one) => Date.parse(one.at) <= atMs) ?? stated[0];
}
