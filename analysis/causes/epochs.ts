import type { DayRow, QuarterValues } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { atFirstBand, type BandMoves, leftByMove, mostByMove } from './band-moves.ts';
import { type Baseline, baselineFrom, learnBaseline, restartsOf } from './baseline.ts';
import { type DaySeries, type Fill, quarterSeries, SCATTER_FLOOR, type SeriesPoint, type Watched } from './day-series.ts';
import { median } from '../change/robust.ts';
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
  /** By how much it may differ from its baseline by right: after a new set point, until it is learned. */
  readonly allowed: number;
};

/** Series that a moved band changes by itself. */
export const HANGS_ON_BAND: ReadonlySet<Watched> = new Set(['demand', 'delivery', 'duty']);

/** Series that a riser more or fewer changes by right: delivery too, of which its bursts hide a part where the tank is read rarely. */
const HANGS_ON_PIPING: ReadonlySet<Watched> = new Set(['demand', 'delivery', 'duty', 'system']);

type EpochKnown = { readonly rows: readonly DayRow[]; readonly baselineDays: number; readonly fromMs: number; readonly moves: BandMoves | undefined; /** Since when it feeds another number of risers. */ readonly pipedSinceMs?: number | undefined };

/** Which way is worse; the other series only tell causes apart. */
export const WORSE: Partial<Readonly<Record<Watched, 1 | -1>>> = { demand: 1, delivery: -1, duty: 1, elementDrop: 1, nitrogen: -1, compressorRun: 1 };

/**
 * The present epoch of a series, or `undefined` while no baseline was ever learned.
 *
 * After a visit a baseline begins anew. Until it is learned, and whenever it turns out worse than the one before by more
 * than 1.5 times the smallest change, or got so while it was learned, the one before stays: what a visit left broken must not become normal. After a new set
 * point the same holds beyond what a set point may change, or what its band leaves unexplained where that is known; where that is anything, the baseline ends at once.
 */
export function epochOf(series: DaySeries, entries: readonly Entry[], name: Watched, { rows, baselineDays, fromMs, moves, pipedSinceMs }: EpochKnown): Epoch | undefined {
  const points = atFirstBand(series[name], name, moves);
  let epoch: Epoch | undefined;
  const restarts = [...restartsOf(entries, name, rows.at(-1)?.unit), ...(pipedSinceMs !== undefined && HANGS_ON_PIPING.has(name) ? [{ atMs: pipedSinceMs, allowed: Infinity, bySetPoint: false }] : [])].filter((restart) => restart.atMs > fromMs).sort((a, b) => a.atMs - b.atMs);
  for (const { atMs, allowed: byRight, bySetPoint } of [{ atMs: fromMs, allowed: 0, bySetPoint: false }, ...restarts]) {
    const move = HANGS_ON_BAND.has(name) ? moves?.moves.find((one) => one.logged && one.fromMs === atMs) : undefined;
    const most = bySetPoint && move === undefined && HANGS_ON_BAND.has(name) && byRight < Infinity ? mostByMove(rows, name, atMs) : undefined;
    const allowed = move === undefined ? Math.min(byRight, most ?? Infinity) : leftByMove(moves!, name, move);
    const own = learnBaseline(points, name, atMs, baselineDays);
    if (allowed === Infinity) epoch = undefined;
    if (own !== undefined && (epoch === undefined || !(isWorse(own, epoch.baseline, name, epoch.allowed + allowed) || endsWorse(points, own, epoch.baseline, name, epoch.allowed + allowed)))) epoch = { name, points, baseline: own, watchFromMs: own.toMs, learned: true, allowed: 0 };
    else if (epoch !== undefined) epoch = { ...epoch, watchFromMs: Math.max(epoch.baseline.toMs, atMs), learned: own !== undefined, allowed: epoch.allowed + allowed };
  }
  return epoch;
}

function isWorse(own: Baseline, before: Baseline, name: Watched, allowed: number): boolean {
  const worse = WORSE[name];
  return worse !== undefined && worse * (own.centre - before.centre) - allowed > Math.max(1.5 * SMALLEST_CHANGE[name], (3 * Math.hypot(own.scatter, before.scatter)) / Math.sqrt(own.count));
}

/** Days at the end of a new beginning that say whether it got worse meanwhile. */
const LAST_DAYS = 5;

/** By how many smallest changes, or scatters of the one before, a new beginning must end worse; what dust brings in two weeks is far less than what matters of a drop over elements. Common practice, no source. */
const ENDS_WORSE = 3;
const DROP_ENDS_WORSE = 0.4;

/** What grew while it was learned makes a baseline so wide that nothing stands out of it any more: its last days are held against the one before by that one's scatter. */
function endsWorse(points: readonly SeriesPoint[], own: Baseline, before: Baseline, name: Watched, allowed: number): boolean {
  const worse = WORSE[name];
  const last = points.filter((point) => point.startMs >= own.fromMs && point.endMs <= own.toMs).slice(-LAST_DAYS);
  return worse !== undefined && worse * (median(last.map((point) => point.value))! - before.centre) - allowed > (name === 'elementDrop' ? DROP_ENDS_WORSE : ENDS_WORSE) * Math.max(SMALLEST_CHANGE[name], before.scatter);
}

/** Quarters are watched over so many days; what lasts longer is known by the days. */
const QUARTER_DAYS = 10;

/** What a series' quarters scattered by in the days that its baseline was learned from; `undefined` with fewer than 12 good quarters. */
export function quarterBaseline(rows: readonly DayRow[], day: Epoch, fills: readonly Fill[], moves: BandMoves | undefined): Baseline | undefined {
  const { name, baseline } = day;
  if (name !== 'demand' && name !== 'delivery' && name !== 'duty') return undefined;
  const learned: QuarterValues[] = [];
  for (const row of rows) if (row.startMs >= baseline.fromMs && row.endMs <= baseline.toMs) learned.push(...(row.quarters ?? []));
  const good = atFirstBand(quarterSeries(learned, name, rows.at(-1)?.unit, fills), name, moves);
  return good.length < 12 ? undefined : { ...baselineFrom(good, SCATTER_FLOOR[name]), toMs: baseline.toMs };
}

/** The same series by quarters of the last days. */
export function quarterEpoch(rows: readonly DayRow[], open: readonly QuarterValues[], day: Epoch, baseline: Baseline, fills: readonly Fill[], moves: BandMoves | undefined): Epoch {
  const points = atFirstBand(quarterSeries([...rows.slice(-QUARTER_DAYS).flatMap((row) => row.quarters ?? []), ...open], day.name as 'demand' | 'delivery' | 'duty', rows.at(-1)?.unit, fills), day.name, moves);
  return { ...day, points, baseline };
}
