import { poissonInterval } from './poisson-interval.ts';

/** Events a generator-year, with the exact 95 % limits of the count. */
export type Rate = { readonly count: number; readonly years: number; readonly perYear: number; readonly low: number; readonly high: number };

export function rateOf(count: number, years: number): Rate {
  const [low, high] = poissonInterval(count);
  const per = (value: number): number => (years > 0 ? value / years : 0);
  return { count, years, perYear: per(count), low: per(low), high: per(high) };
}

export function rateWords(rate: Rate): string {
  const round = (value: number): string => value.toFixed(2);
  return `${round(rate.perYear)} a generator-year (95 %: ${round(rate.low)} to ${round(rate.high)}; ${rate.count} in ${rate.years.toFixed(1)} years)`;
}
