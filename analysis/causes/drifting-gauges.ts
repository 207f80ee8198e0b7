import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import { mad, median } from '../change/robust.ts';
import { restartsOf } from './baseline.ts';
import { certainCondition, type Condition } from './condition.ts';
import { bothEnds, firstRows, isLetDown, isUsableDay, lastRows } from './day-series.ts';
import { dayWords } from './evidence.ts';

/*
 * Gauges that drift by themselves. What they say is set right, or distrusted, before anything is made of it; none of them
 * touches demand or delivery, which are the tank's, so they hide nothing.
 */

const ELEMENT_GAUGES = ['discharge', 'feed'] as const;
export type ElementGauge = (typeof ELEMENT_GAUGES)[number];
const AT_REST = { discharge: 'dischargeRestKPa', feed: 'feedRestKPa' } as const;
const IN_RUNS = { discharge: 'dischargeKPa', feed: 'feedKPa' } as const;
const LABELS: Readonly<Record<ElementGauge, string>> = { discharge: 'before', feed: 'after' };

/** A gauge whose zero is not where it was: by how much it reads too high, kPa, and since when. */
export type ZeroDrift = { readonly gauge: ElementGauge; readonly wasKPa: number; readonly isKPa: number; readonly sinceMs: number; /** In shorter rests than this a day's zero isn't seen, s. */ readonly leastRestS: number };

const ZERO_DAYS = 14;
const ZERO_NOW_DAYS = 3;
/** Head and housing are let down to the air at a stop: a gauge that comes down to about zero on the first days can be held to it. */
const ABOUT_ZERO_KPA = 10;
const ZERO_SCATTER_KPA = 1.5;
/** Least zero that is off: temperature moves one of usual class by half of it. Common practice, no source. */
const ZERO_OFF_KPA = 4;
const ZERO_OFF_SD = 6;
/** Gas that stays in at rest, or runs back into it past a check valve, raises the reading at rest alone; a gauge that stands off is so in runs too, beside the other one where both are sent, within this or so much of it, as loads move them as well; asked from twice that on. */
const ALIKE_KPA = 3;
const ALIKE_SHARE = 0.35;
const RUN_DAYS = 7;
/** The housing takes its time to come down: in much shorter rests than on the first days, as while a pipe is purged, it doesn't. */
const RESTED_SHARE = 0.7;

/** Zeros of the gauges before and after the elements that drifted, where the compressor fills the tank itself and lets its head down at a stop. */
export function zeroDrifts(rows: readonly DayRow[], { generator }: RegisteredGenerator): ZeroDrift[] {
  if (generator.layout !== 'direct') return [];
  return ELEMENT_GAUGES.flatMap((gauge) => {
    const isRested = (row: DayRow): boolean => typeof row[AT_REST[gauge]] === 'number' && row.starts > 0 && isUsableDay(row) && (gauge === 'discharge' || isLetDown(row));
    const first = firstRows(rows, ZERO_DAYS, isRested);
    const leastRestS = RESTED_SHARE * (median(first.map(meanRestS)) ?? 0);
    const firstEndMs = first.at(-1)?.startMs ?? Infinity;
    const isSeen = (row: DayRow): boolean => isRested(row) && (row.startMs <= firstEndMs || meanRestS(row) > leastRestS);
    const last = lastRows(rows, ZERO_NOW_DAYS, isSeen);
    if (first.length < ZERO_DAYS || last.length < ZERO_NOW_DAYS || last[0]!.startMs <= firstEndMs) return [];
    const zeros = first.map((row) => row[AT_REST[gauge]]!);
    const wasKPa = median(zeros)!;
    const scatter = mad(zeros, wasKPa) ?? 0;
    if (Math.abs(wasKPa) > ABOUT_ZERO_KPA || scatter > ZERO_SCATTER_KPA) return [];
    const off = (row: DayRow): number => row[AT_REST[gauge]]! - wasKPa;
    const least = Math.max(ZERO_OFF_KPA, ZERO_OFF_SD * scatter);
    const sign = Math.sign(off(last[0]!));
    if (!last.every((row) => sign * off(row) > least)) return [];
    const isKPa = median(last.map((row) => row[AT_REST[gauge]]!))!;
    const seen = rows.filter(isSeen);
    const since = seen.findLastIndex((row) => sign * off(row) <= least) + 1;
    if (sign > 0 && !alsoInRuns(seen.slice(Math.max(0, since - RUN_DAYS), since), last, gauge)) return [];
    return [{ gauge, wasKPa, isKPa, sinceMs: seen[since]!.startMs, leastRestS }];
  });
}

function meanRestS(row: DayRow): number {
  return row.restS / row.starts;
}

/** Whether a gauge reads higher in runs by as much as at rest, since the days before it was off; nothing is said of so little that it could be chance. */
function alsoInRuns(before: readonly DayRow[], last: readonly DayRow[], gauge: ElementGauge): boolean {
  const moved = (read: (row: DayRow) => number | null | undefined): number | undefined => {
    const [was, is] = [before, last].map((rows) => median(rows.flatMap((row) => read(row) ?? [])));
    return was === undefined || is === undefined ? undefined : is - was;
  };
  const offKPa = moved((row) => row[AT_REST[gauge]]);
  const dropKPa = moved((row) => row.elementDropKPa?.value);
  const inRunsKPa = dropKPa === undefined ? moved((row) => row[IN_RUNS[gauge]]?.value) : gauge === 'discharge' ? dropKPa : -dropKPa;
  return offKPa !== undefined && inRunsKPa !== undefined && offKPa > 2 * ALIKE_KPA && Math.abs(inRunsKPa - offKPa) < Math.max(ALIKE_KPA, ALIKE_SHARE * offKPa);
}

/** The rows with what such gauges say set right by their zeros of each day, so that a drift is no load of the elements. */
export function setRight(rows: readonly DayRow[], drifts: readonly ZeroDrift[]): readonly DayRow[] {
  if (drifts.length === 0) return rows;
  return rows.map((row) => {
    const by = (gauge: ElementGauge): number => {
      const drift = drifts.find((one) => one.gauge === gauge);
      if (drift === undefined) return 0;
      const own = row.starts > 0 && meanRestS(row) > drift.leastRestS ? row[AT_REST[gauge]] : null;
      return (own ?? (row.startMs < drift.sinceMs ? drift.wasKPa : drift.isKPa)) - drift.wasKPa;
    };
    const less = (estimate: DayRow['feedKPa'], kPa: number): DayRow['feedKPa'] => estimate && { value: estimate.value - kPa, se: estimate.se };
    const [before, after] = [by('discharge'), by('feed')];
    return Object.assign({}, row, { dischargeKPa: less(row.dischargeKPa, before), feedKPa: less(row.feedKPa, after), elementDropKPa: less(row.elementDropKPa, before - after) });
  });
}

export function zeroConditions(drifts: readonly ZeroDrift[], timeZone: string): Condition[] {
  return drifts.map(({ gauge, wasKPa, isKPa, sinceMs }) => aside(certainCondition('sensor', 'sensor-fault', 0.95, sinceMs, `While the compressor rests and its head is let down, the pressure ${LABELS[gauge]} the elements reads ${kPa(isKPa)}; it came down to ${kPa(wasKPa)} before ${dayWords(isoFromMs(sinceMs), timeZone)}: the zero of its gauge has drifted. The drop over the elements is reckoned without it.`, false)));
}

const aside = (condition: Condition): Condition => ({ ...condition, aside: true });
const kPa = (value: number): string => `${Math.round(value) < 0 ? '−' : ''}${Math.abs(Math.round(value))} kPa`;

const CELL_DAYS = 28;
const CELL_NOW_DAYS = 14;
/** ln of the dip that must be gone, and by how many standard errors of the two middles; neighbours hang together little. */
const DIP_LESS = 0.3;
const DIP_SD = 4.5;
/** ln of the oxygen that a worn cell doesn't read: it reads less, never more. */
const OXYGEN_LESS = 0.03;
/** ln of delivery and of demand within which flow and rests are as they were: longer rests let more air in. */
const SAME_DELIVERY = 0.08;
const SAME_DEMAND = 0.25;

/**
 * A cell that answers less and less: as a run begins air comes out of the housing, and nitrogen dips by so much each time; where
 * the dip shrinks and the oxygen that is read at the end of a run with it, while as much is made and drawn as before, it is the
 * cell. A membrane that really parts better leaves the dip as it was. Needs two reports in the first five minutes of most runs.
 */
export function agedCell(rows: readonly DayRow[], entries: readonly Entry[], fromMs: number): Condition | undefined {
  const anewMs = Math.max(fromMs, restartsOf(entries, 'nitrogen').at(-1)?.atMs ?? 0);
  const ends = bothEnds(rows, [CELL_DAYS, CELL_NOW_DAYS], (row) => row.startMs >= anewMs && (row.nitrogenDip?.value ?? 0) > 0 && row.nitrogen !== null && row.nitrogen.value < 1 && isUsableDay(row));
  if (ends === undefined) return undefined;
  const [first, last] = ends;
  const moved = (read: (row: DayRow) => number | undefined): number | undefined => {
    const [was, is] = [first, last].map((some) => median(some.flatMap((row) => read(row) ?? [])));
    return was === undefined || is === undefined ? undefined : is - was;
  };
  const dip = (row: DayRow): number => Math.log(row.nitrogenDip!.value);
  const ln = (estimate: DayRow['delivery']): number | undefined => (estimate === null || estimate.value <= 0 ? undefined : Math.log(estimate.value));
  const scatter = Math.max(...[first, last].map((some) => mad(some.map(dip)) ?? 0));
  const less = -moved(dip)!;
  const oxygen = moved((row) => Math.log(1 - row.nitrogen!.value))!;
  const delivery = moved((row) => ln(row.delivery));
  const demand = moved((row) => ln(row.demand));
  if (less < Math.max(DIP_LESS, DIP_SD * 1.25 * scatter * Math.sqrt(1 / CELL_DAYS + 1 / CELL_NOW_DAYS)) || oxygen > -OXYGEN_LESS) return undefined;
  if (delivery === undefined || demand === undefined || Math.abs(delivery) > SAME_DELIVERY || Math.abs(demand) > SAME_DEMAND) return undefined;
  const percent = (some: readonly DayRow[], read: (row: DayRow) => number): string => `${(100 * median(some.map(read))!).toFixed(2)} %`;
  const says = `As runs begin nitrogen dips by ${percent(last, (row) => row.nitrogenDip!.value)}, where it dipped by ${percent(first, (row) => row.nitrogenDip!.value)}, and reads ${percent(last, (row) => row.nitrogen!.value)} after ${percent(first, (row) => row.nitrogen!.value)} at their end, while as much is made and drawn as before: the cell answers less and less, and nitrogen is poorer than it looks.`;
  return aside(certainCondition('sensor', 'sensor-fault', 0.9, last[0]!.startMs, says, false));
}

const SLOW_DAYS = 14;
const SLOW_FIRST_DAYS = 28;
/** Days that say something of demand are of now within this. */
const SLOW_STALE_MS = 5 * DAY_MS;
/** Standard atmosphere, kPa: what leaks goes by absolute pressure. */
const AIR_KPA = 101;
/** How much (natural logarithm) demand must differ from what the piping's pressure would bring, and by how many standard errors. */
const DEMAND_OFF = 0.1;
const DEMAND_SD = 3;
/** Days hang together: errors of middles are so many times those of free values. Common practice, no source. */
const WANDERS = 1.25 * 1.7;

/**
 * Piping whose gauge crept away: what leaks goes with the absolute pressure, so piping that really stood so much higher or lower
 * would draw more or less. Smaller drifts than that can't be told from a regulator that somebody turned, nor any where several risers are sent:
 * the day keeps their mean.
 */
export function driftedPiping(rows: readonly DayRow[], fromMs: number): Condition | undefined {
  const ends = bothEnds(rows, [SLOW_FIRST_DAYS, SLOW_DAYS], (row) => row.startMs >= fromMs && row.systemKPa !== null && row.systemKPa.value > 0 && row.demand !== null && row.demand.value > 0 && row.unit === rows.at(-1)!.unit && row.unit !== 'relative' && row.starts > 0 && row.holdingRatio > 0.9 && row.heard['system-pressure'] !== undefined && isUsableDay(row));
  if (ends === undefined) return undefined;
  const [first, last] = ends;
  // Where the last days say nothing of demand, those before are none of now.
  if (rows.at(-1)!.endMs - last.at(-1)!.endMs > SLOW_STALE_MS) return undefined;
  const [wasKPa, isKPa] = [first, last].map((some) => median(some.map((row) => row.systemKPa!.value))!) as [number, number];
  const logs = [first, last].map((some) => some.map((row) => Math.log(row.demand!.value)));
  const [was, is] = logs.map((values) => median(values)!) as [number, number];
  const scatter = Math.max(...logs.map((values, index) => mad(values, index === 0 ? was : is) ?? 0));
  const expected = Math.log((isKPa + AIR_KPA) / (wasKPa + AIR_KPA));
  const off = Math.abs(is - was - expected);
  const same = Math.abs(is - was) < Math.abs(expected) / 2;
  if (!same || off < Math.max(DEMAND_OFF, DEMAND_SD * WANDERS * scatter * Math.sqrt(1 / SLOW_FIRST_DAYS + 1 / SLOW_DAYS))) return undefined;
  return { ...aside(certainCondition('sensor', 'sensor-fault', 0.85, last[0]!.startMs, `The piping reads ${kPa(isKPa)} after ${kPa(wasKPa)}, and as much is drawn as before, where ${Math.round(100 * Math.abs(Math.expm1(expected)))} % ${expected > 0 ? 'more' : 'less'} would leak at such a pressure: its gauge has drifted.`, false)), hides: ['supply'] };
}

/** A drop that falls by so much below that of its clean elements, kPa and share. */
const CLEANER_KPA = 4;
const CLEANER_SHARE = 0.3;
/** What comes off at once was taken out, or a gauge was exchanged. */
const SLOWLY_DAYS = 5;
const SAME_FLOW = 0.05;

/** Elements don't clean themselves: a drop that falls slowly below that of the first days since they were changed, while as much is made, is one of the two gauges. For where no zero tells which. */
export function cleanerThanClean(rows: readonly DayRow[], entries: readonly Entry[], fromMs: number): Condition | undefined {
  const anewMs = Math.max(fromMs, restartsOf(entries, 'elementDrop').at(-1)?.atMs ?? 0);
  const isSeen = (row: DayRow): boolean => row.startMs >= anewMs && row.elementDropKPa !== null && isUsableDay(row);
  const ends = bothEnds(rows, [SLOW_DAYS, SLOW_DAYS], isSeen);
  if (ends === undefined) return undefined;
  const [first, last] = ends;
  const drop = (row: DayRow): number => row.elementDropKPa!.value;
  const [cleanKPa, isKPa] = [first, last].map((some) => median(some.map(drop))!) as [number, number];
  const fallKPa = cleanKPa - isKPa;
  if (fallKPa < Math.max(CLEANER_KPA, CLEANER_SHARE * cleanKPa)) return undefined;
  const seen = rows.filter(isSeen);
  const between = seen.filter((row) => drop(row) < cleanKPa - fallKPa / 4 && drop(row) > cleanKPa - (3 * fallKPa) / 4).length;
  const [was, is] = [first, last].map((some) => median(some.flatMap((row) => row.delivery?.value ?? [])));
  if (seen.length < 3 * SLOW_DAYS || between < SLOWLY_DAYS || was === undefined || is === undefined || Math.abs(Math.log(is / was)) > SAME_FLOW) return undefined;
  return aside(certainCondition('sensor', 'sensor-fault', 0.85, last[0]!.startMs, `The drop over the elements fell slowly from ${kPa(cleanKPa)}, when they were clean, to ${kPa(isKPa)}, and as much is made as before: elements do not clean themselves, so one of the two gauges has drifted.`, false));
}
