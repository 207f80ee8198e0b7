import type { DayRow, QuarterValues } from '../../shared/cycle.ts';

/**
 * A time that says nothing of what is usual, since something was found in it and is over: the tank's gauge lied, the piping
 * was fed by something else or by nothing, or the compressor didn't stop, or stopped anywhere.
 */
export type LeftOut = { readonly of: 'tank' | 'supply' | 'run'; readonly fromMs: number; readonly toMs: number };

/** A tank's gauge shows demand, delivery and the band; without its supply only demand and run time are none of the piping's; what never stops blows off or leaks back what it makes, and stops nowhere. */
const BLANK: Readonly<Record<LeftOut['of'], Partial<DayRow>>> = {
  tank: { demand: null, delivery: null, cutInKPa: null, cutOutKPa: null, bend: null, burstShare: null },
  supply: { demand: null, dutyRatio: null },
  run: { demand: null, delivery: null, dutyRatio: null, cutInKPa: null, cutOutKPa: null },
};
const NOTHING = [null, 0] as const;
const BLANK_QUARTER: Readonly<Record<LeftOut['of'], Partial<QuarterValues>>> = { tank: { demand: NOTHING, delivery: NOTHING }, supply: { demand: NOTHING, duty: NOTHING }, run: { demand: NOTHING, delivery: NOTHING, duty: NOTHING } };

/** The days without what such times can't tell. */
export function withoutLeftOut(rows: readonly DayRow[], leftOut: readonly LeftOut[]): readonly DayRow[] {
  if (leftOut.length === 0) return rows;
  return rows.map((row) => {
    const of = timesWithin(row, leftOut);
    if (of.length === 0) return row;
    return Object.assign({}, row, ...of.map((time) => BLANK[time.of]), row.quarters === undefined ? {} : { quarters: quartersWithout(row.quarters, of) }) as DayRow;
  });
}

/** Quarters of a day likewise. */
export function quartersWithout(quarters: readonly QuarterValues[], leftOut: readonly LeftOut[]): readonly QuarterValues[] {
  if (leftOut.length === 0) return quarters;
  return quarters.map((quarter) => Object.assign({}, quarter, ...timesWithin(quarter, leftOut).map((time) => BLANK_QUARTER[time.of])) as QuarterValues);
}

/** Those times that reach into a day or a quarter. */
export function timesWithin({ startMs, endMs }: { readonly startMs: number; readonly endMs: number }, leftOut: readonly LeftOut[]): readonly LeftOut[] {
  return leftOut.filter((time) => time.fromMs < endMs && time.toMs > startMs);
}
