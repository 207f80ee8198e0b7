import type { BaseChannel } from '../../shared/channels.ts';
import type { DayRow, Estimate, QuarterValues } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { isPurging, PURGE_MS } from './purges.ts';

/*
 * The series that are watched for change, one value a day (or a quarter of a day). Demand, delivery and duty ratio are
 * watched as natural logarithms, so that 0.1 is about +10 % and the run time's rise splits into a sum (design, section 6).
 */

export const WATCHED = ['demand', 'delivery', 'duty', 'elementDrop', 'nitrogen', 'discharge', 'feed', 'feedRest', 'feedFall', 'compressorRun', 'system'] as const;
export type Watched = (typeof WATCHED)[number];

/** One value of a watched series: logarithm for demand, delivery, duty, the time of the feed side's fall and the compressor's run for each second of production; kPa for pressures; per cent for nitrogen; delivery, nitrogen and the compressor's run as at 20 °C where the room's temperature is sent. */
export type SeriesPoint = { readonly startMs: number; readonly endMs: number; readonly value: number; readonly se: number };

/**
 * Scatter that a day of a healthy generator has at least, in the series' own unit: a smaller figure from few days would
 * make small wobbles look sure, and tenants, weather and piping make demand wander by some per cent. Common practice, no source; element drop and pressures from the resolution of usual gauges.
 */
export const SCATTER_FLOOR: Readonly<Record<Watched, number>> = { demand: 0.05, delivery: 0.025, duty: 0.06, elementDrop: 1.5, nitrogen: 0.06, discharge: 5, feed: 5, feedRest: 1.5, feedFall: 0.05, compressorRun: 0.025, system: 2 };

/** The membrane's and the compressor's output fall by about 3.4 % for 10 K warmer intake (design, section 6). */
const DELIVERY_PER_KELVIN = 0.0034;
/** Oxygen in the product rises with its flow by about this power; 2 to 2.5 in cross-flow permeation at usual recoveries, and some more allowed. */
export const OXYGEN_BY_FLOW = 3;
/** So it goes with the intake as well. On 166 tuning generators in good order the middle one's oxygen falls by 1.04 % for a kelvin. */
const OXYGEN_PER_KELVIN = OXYGEN_BY_FLOW * DELIVERY_PER_KELVIN;
const REFERENCE_C = 20;

/** By what the oxygen of a day is multiplied to compare it with one at 20 °C; 1 where no room temperature is sent. */
export function oxygenAtReference(roomC: number | null): number {
  return roomC === null ? 1 : Math.exp(OXYGEN_PER_KELVIN * (roomC - REFERENCE_C));
}

/** A filling of the receiver more or less at the ends of a day. */
const COMPRESSOR_SE = 0.01;
/** A day counts when at least this share of it is known and spent holding. */
const USABLE_SHARE = 0.4;

/** Whether a day's sums stand for the generator: enough of it is known, and it wasn't filling or under test. */
export function isUsableDay(row: DayRow): boolean {
  const known = row.coveredS / ((row.endMs - row.startMs) / 1000);
  return known >= USABLE_SHARE && row.holdingRatio >= USABLE_SHARE;
}

/** The last rows that are wanted, at most `count`, oldest first: of a long history only its end is looked at. */
export function lastRows(rows: readonly DayRow[], count: number, isWanted: (row: DayRow) => boolean): DayRow[] {
  const last: DayRow[] = [];
  for (let index = rows.length - 1; index >= 0 && last.length < count; index -= 1) if (isWanted(rows[index]!)) last.push(rows[index]!);
  return last.reverse();
}

/** The first rows that are wanted, at most `count`. */
export function firstRows(rows: readonly DayRow[], count: number, isWanted: (row: DayRow) => boolean): DayRow[] {
  const first: DayRow[] = [];
  for (let index = 0; index < rows.length && first.length < count; index += 1) if (isWanted(rows[index]!)) first.push(rows[index]!);
  return first;
}

/** The first and the last rows that are wanted, where there are so many that none is both; of a long history only its ends are looked at. */
export function bothEnds(rows: readonly DayRow[], counts: readonly [first: number, last: number], isWanted: (row: DayRow) => boolean): readonly [first: readonly DayRow[], last: readonly DayRow[]] | undefined {
  const first = firstRows(rows, counts[0], isWanted);
  const last = lastRows(rows, counts[1], isWanted);
  return first.length < counts[0] || last.length < counts[1] || last[0]!.startMs <= first.at(-1)!.startMs ? undefined : [first, last];
}

/** After so many times in which it falls to 1/e the housing is empty, to a thousandth; and that time where it isn't known, s. Common practice, no source. */
const EMPTY_FALLS = 7;
const USUAL_FALL_S = 400;

/** Rests of the day last until the feed side is empty. */
export function isLetDown(row: DayRow): boolean {
  return row.starts > 0 && row.restS / row.starts > EMPTY_FALLS * (row.feedFallS?.value ?? USUAL_FALL_S);
}

/** Share of a day, and how long a run, s, that make it one run. Common practice, no source. */
const ALL_DAY = 0.9;
const ONE_RUN_S = 12 * 3600;

/** A day that was mostly one run. */
export function runsOn({ runS, restS, longestRunS }: DayRow): boolean {
  return (longestRunS > ONE_RUN_S && runS > ONE_RUN_S) || runS > ALL_DAY * (runS + restS);
}

/** One watched value of a row, or `undefined` where the row can't tell. */
export function watchedPoint(row: DayRow, name: Watched): SeriesPoint | undefined {
  switch (name) {
    case 'demand':
      return logPoint(row, row.demand, 0);
    case 'delivery':
      return logPoint(row, row.delivery, row.roomC === null ? 0 : DELIVERY_PER_KELVIN * (row.roomC - REFERENCE_C));
    case 'duty':
      // A day without a run has no logarithm: half a minute of run stands for "less than we can see".
      return row.dutyRatio === null || row.coveredS <= 0 ? undefined : pointOf(row, Math.log(Math.max(row.dutyRatio, 30 / row.coveredS)), dutyError(row));
    case 'elementDrop':
      return row.elementDropKPa ? pointOf(row, row.elementDropKPa.value, row.elementDropKPa.se) : undefined;
    case 'nitrogen':
      // Gas that stays in a run without end is as pure as it never is.
      return row.nitrogen && !runsOn(row) ? pointOf(row, 100 * (1 - (1 - row.nitrogen.value) * oxygenAtReference(row.roomC)), 100 * row.nitrogen.se * oxygenAtReference(row.roomC)) : undefined;
    case 'discharge':
      return row.dischargeKPa ? pointOf(row, row.dischargeKPa.value, row.dischargeKPa.se) : undefined;
    case 'feed':
      return row.feedKPa ? pointOf(row, row.feedKPa.value, row.feedKPa.se) : undefined;
    case 'feedRest':
      return typeof row.feedRestKPa === 'number' && isLetDown(row) ? pointOf(row, row.feedRestKPa, 0) : undefined;
    case 'feedFall':
      return logPoint(row, row.feedFallS ?? null, 0);
    case 'compressorRun':
      // Warm intake is more volume for the same air.
      return row.compressorRatio ? pointOf(row, Math.log(row.compressorRatio) - (row.roomC === null ? 0 : DELIVERY_PER_KELVIN * (row.roomC - REFERENCE_C)), COMPRESSOR_SE) : undefined;
    case 'system':
      return row.systemKPa ? pointOf(row, row.systemKPa.value, row.systemKPa.se) : undefined;
  }
}

/** Where starts aren't told, a run is taken to last so long, s. Common practice, no source. */
const USUAL_RUN_S = 600;

/** Run time of few cycles is known to about a third of a cycle: one more or less falls into the period by chance. */
function dutyError(row: DayRow): number {
  const cycles = row.starts > 0 ? row.starts : row.source === 'duty' ? (row.dutyRatio! * row.coveredS) / USUAL_RUN_S : 0;
  return cycles > 0 ? Math.min(0.5, 0.3 / cycles) : 0.5;
}

function pointOf({ startMs, endMs }: DayRow, value: number, se: number): SeriesPoint {
  return { startMs, endMs, value, se };
}

function logPoint(row: DayRow, estimate: Estimate, correction: number): SeriesPoint | undefined {
  if (estimate === null || !(estimate.value > 0)) return undefined;
  return pointOf(row, Math.log(estimate.value) + correction, Math.min(estimate.se / estimate.value, 2));
}

/** A long run that filled something up, or a time in which nothing started: [from, to, whether the piping itself had been let down], ms. */
export type Fill = readonly [fromMs: number, toMs: number, piping: boolean];
const AROUND_MS = 6 * 3_600_000;

/** What was filled up, and what people logged of the kind: after a trip test the piping is filled and purged for days. */
export function fillsOf(seen: readonly Fill[], entries: readonly Entry[]): Fill[] {
  return [...seen, ...entries.filter(isPurging).map((entry): Fill => [Date.parse(entry.startedAt), Date.parse(entry.finishedAt ?? entry.startedAt), true])];
}

/** What stands off for as long as the piping is purged after it was let down. */
const PURGED: ReadonlySet<Watched> = new Set(['demand', 'duty', 'nitrogen']);

function isFilled(startMs: number, endMs: number, isPurged: boolean, fills: readonly Fill[]): boolean {
  return fills.some(([fromMs, toMs, piping]) => startMs < toMs + (piping && isPurged ? PURGE_MS : AROUND_MS) && endMs > fromMs - AROUND_MS);
}

export type DaySeries = Readonly<Record<Watched, readonly SeriesPoint[]>>;

/** The watched series over usable days of the newest unit, oldest first; all in one pass, as a close looks through 400 rows. */
export function daySeries(rows: readonly DayRow[], fills: readonly Fill[]): DaySeries {
  const unit = rows.at(-1)?.unit;
  const series: Record<Watched, SeriesPoint[]> = { demand: [], delivery: [], duty: [], elementDrop: [], nitrogen: [], discharge: [], feed: [], feedRest: [], feedFall: [], compressorRun: [], system: [] };
  for (const row of rows) {
    if (!isUsableDay(row) || isFilled(row.startMs, row.endMs, false, fills)) continue;
    const purged = isFilled(row.startMs, row.endMs, true, fills);
    for (const name of WATCHED) {
      if ((purged && PURGED.has(name)) || (row.unit !== unit && (name === 'demand' || name === 'delivery'))) continue;
      const point = watchedPoint(row, name);
      if (point !== undefined) series[name].push(point);
    }
  }
  return series;
}

/** The quarters of the days as points; only what moves fast is kept by quarters. */
export function quarterSeries(quarters: readonly QuarterValues[], name: 'demand' | 'delivery' | 'duty', unit: DayRow['unit'] | undefined, fills: readonly Fill[]): SeriesPoint[] {
  const points: SeriesPoint[] = [];
  for (const quarter of quarters) {
    if ((name !== 'duty' && quarter.unit !== unit) || isFilled(quarter.startMs, quarter.endMs, PURGED.has(name), fills)) continue;
    const [value, se] = quarter[name];
    if (value !== null) points.push({ startMs: quarter.startMs, endMs: quarter.endMs, value, se });
  }
  return points;
}

/** What a quarter keeps of its row: logarithms with standard errors. */
export function quarterValues(row: DayRow): QuarterValues {
  const pair = (name: 'demand' | 'delivery' | 'duty'): readonly [number | null, number] => {
    const point = isUsableDay(row) ? watchedPoint(row, name) : undefined;
    return point === undefined ? [null, 0] : [round(point.value), round(point.se)];
  };
  return { startMs: row.startMs, endMs: row.endMs, unit: row.unit, demand: pair('demand'), delivery: pair('delivery'), duty: pair('duty') };
}

/** Six digits are more than a quarter can tell, and keep the saved state small. */
function round(value: number): number {
  return Math.round(value * 1e6) / 1e6;
}

/** The channels heard in the last days: what the analysis has to go by now. */
export function channelsHeard(rows: readonly DayRow[], days = 7): Set<BaseChannel> {
  const heard = new Set<BaseChannel>();
  for (const row of rows.slice(-days)) for (const channel of Object.keys(row.heard)) heard.add(channel.startsWith('system-pressure.') ? 'system-pressure' : (channel as BaseChannel));
  return heard;
}
