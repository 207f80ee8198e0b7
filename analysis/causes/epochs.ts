import type { DayRow, QuarterValues } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { type Baseline, baselineFrom, learnBaseline, restartsOf } from './baseline.ts';
import { daySeries, quarterSeries, SCATTER_FLOOR, type SeriesPoint, type Watched } from './day-series.ts';
import { SMALLEST_CHANGE } from './find-shift.ts';

/** A watched series with the baseline that it is held against. */
export type Epoch = {
  readonly name: Watched;
  readonly points: readonly SeriesPoint[];
  readonly baseline: Baseline;
  /** From here on values are held against the baseline. */
  readonly watchFromMs: number;
  /** Enough days since it last began anew; else it is held against the baseline before. */
  readonly learned: boolean;
};

/** Which way is worse; the other series only tell causes apart. */
export const WORSE: Partial<Readonly<Record<Watched, 1 | -1>>> = { demand: 1, delivery: -1, duty: 1, elementDrop: 1, nitrogen: -1 };

/**
 * The present epoch of a series, or `undefined` while no baseline was ever learned.
 *
 * After a visit a baseline begins anew. Until it is learned, and whenever it turns out worse than the one before by more
 * than 1.5 times the smallest change, the one before stays: what a visit left broken must not become normal.
 */
export function epochOf(rows: readonly DayRow[], entries: readonly Entry[], name: Watched, baselineDays: number, fromMs: number): Epoch | undefined {
  const points = daySeries(rows, name);
  let epoch: Epoch | undefined;
  for (const restartMs of [fromMs, ...restartsOf(entries, name).filter((ms) => ms > fromMs)]) {
    const own = learnBaseline(points, name, restartMs, baselineDays);
    if (own !== undefined && (epoch === undefined || !isWorse(own, epoch.baseline, name))) epoch = { name, points, baseline: own, watchFromMs: own.toMs, learned: true };
    else if (epoch !== undefined) epoch = { ...epoch, watchFromMs: Math.max(epoch.baseline.toMs, restartMs), learned: own !== undefined };
  }
  return epoch;
}

function isWorse(own: Baseline, before: Baseline, name: Watched): boolean {
  const worse = WORSE[name];
  return worse !== undefined && worse * (own.centre - before.centre) > Math.max(1.5 * SMALLEST_CHANGE[name], (3 * Math.hypot(own.scatter, before.scatter)) / Math.sqrt(own.count));
}

/** The same series by quarters of a day, its baseline learned over the same days; `undefined` with fewer than 12 good quarters. */
export function quarterEpoch(rows: readonly DayRow[], open: readonly QuarterValues[], day: Epoch): Epoch | undefined {
  const { name, baseline } = day;
  if (name !== 'demand' && name !== 'delivery' && name !== 'duty') return undefined;
  const points = quarterSeries([...rows.flatMap((row) => row.quarters ?? []), ...open], name, rows.at(-1)?.unit);
  const good = points.filter((point) => point.startMs >= baseline.fromMs && point.endMs <= baseline.toMs);
  return good.length < 12 ? undefined : { ...day, points, baseline: baselineFrom(good, SCATTER_FLOOR[name]) };
}
