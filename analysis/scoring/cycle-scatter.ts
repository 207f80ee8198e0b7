import type { Cycle } from '../../shared/cycle.ts';
import { DAY_MS } from '../../shared/time.ts';
import { quantileOf } from './quantile.ts';

/** Whole cycles a day, and how demand and delivery scatter from one of them to the next, |ln|; null where too few were seen. */
export type CycleScatter = { readonly perDay: number; readonly demandScatter: number | null; readonly deliveryScatter: number | null };

const LEAST_CYCLES = 20;

/** From the cycles of a span; `null` with fewer than 20 whole ones. Slopes of the tank's pressure where they are sent, else the times alone. */
export function cycleScatter(cycles: readonly Cycle[], days: number): CycleScatter | null {
  const whole = cycles.filter((cycle) => !cycle.cut && cycle.runS > 0 && cycle.restS > 0);
  if (whole.length < LEAST_CYCLES) return null;
  const demand = whole.map((cycle) => cycle.fallKPaPerMin ?? 60 / cycle.restS);
  const delivery = whole.map((cycle, index) => (cycle.riseKPaPerMin === null ? 60 / cycle.runS + 60 / cycle.restS : cycle.riseKPaPerMin + demand[index]!));
  return { perDay: whole.length / days, demandScatter: stepScatter(demand), deliveryScatter: stepScatter(delivery) };
}

/** Robust scatter by what changes from one to the next: a change between two has √2 of the scatter of one. */
function stepScatter(values: readonly number[]): number | null {
  const logs = values.flatMap((value) => (value > 0 ? [Math.log(value)] : []));
  const steps = logs.slice(1).map((value, index) => Math.abs(value - logs[index]!));
  const middle = quantileOf(steps, 0.5);
  return middle === undefined ? null : middle / 0.6745 / Math.SQRT2;
}

/** Days of cycles that are looked at for a statement. */
export const CYCLE_SPAN_MS = 30 * DAY_MS;
