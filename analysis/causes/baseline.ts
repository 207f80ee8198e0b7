import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { Part } from '../../shared/registry.ts';
import { firstAbove, MAD_CONSTANT, madOfSorted, quantileOfSorted, sorted } from '../change/robust.ts';
import { SCATTER_FLOOR, type SeriesPoint, WATCHED, type Watched } from './day-series.ts';
import { isSetPoint } from './mends.ts';

/** What a series is in good order: its middle and its scatter from day to day, from the first good days since it began anew. */
export type Baseline = { readonly centre: number; readonly scatter: number; /** Root of the mean square about the middle, wild values cut at three scatters: what a mean of many scatters by. What is counted in whole numbers goes up and down by turns, and the scatter, made to hold for single values, is twice that. */ readonly spread: number; /** Correlation of neighbours, 0..0.95: healthy demand wanders for days. */ readonly correlation: number; /** Middle stated error of its values: so much of any value's is in the scatter already. */ readonly usualSe: number; readonly count: number; readonly fromMs: number; readonly toMs: number };

/** Which series a replaced part begins anew; the others keep their baseline (design, section 5). */
const RESTARTED_BY: Readonly<Record<Part, readonly Watched[]>> = {
  'intake-element': ['delivery', 'duty', 'discharge', 'feed', 'compressorRun'],
  'particulate-element': ['delivery', 'duty', 'elementDrop', 'discharge', 'feed', 'nitrogen'],
  'coalescing-element': ['delivery', 'duty', 'elementDrop', 'discharge', 'feed', 'nitrogen'],
  'carbon-element': ['delivery', 'duty', 'elementDrop', 'discharge', 'feed', 'nitrogen'],
  drain: ['delivery', 'duty', 'discharge', 'feed', 'feedRest', 'feedFall', 'compressorRun'],
  'o-rings': ['delivery', 'duty', 'discharge', 'feed', 'feedRest', 'feedFall', 'compressorRun'],
  membrane: ['delivery', 'duty', 'nitrogen', 'discharge', 'feed', 'feedFall', 'compressorRun'],
  'oxygen-sensor': ['nitrogen'],
  'check-valve': ['demand', 'delivery', 'duty', 'feedRest', 'feedFall'],
  regulator: ['demand', 'duty', 'system'],
  'pressure-switch': ['demand', 'delivery', 'duty', 'discharge', 'feed'],
  compressor: ['delivery', 'duty', 'discharge', 'feed', 'compressorRun'],
};

/** A new beginning of a series, and by how much it may differ from before by right. */
export type Restart = { readonly atMs: number; readonly allowed: number; readonly bySetPoint: boolean };

/**
 * How much ln(demand), ln(delivery) and ln(run time) may change by a new set point: delivery falls with tank pressure, by up to a
 * third over the widest bands (design, section 6), run time by that and by what shorter runs lose in bowls. What counts cycles
 * and what is a pressure compares with nothing before, but for the drop over the elements, kPa. Common practice, no source.
 */
const BY_SET_POINT: Partial<Readonly<Record<Watched, number>>> = { demand: 0.35, delivery: 0.35, duty: 0.5, feedRest: 3, feedFall: 0.05, compressorRun: 0.1, elementDrop: 5 };
/** A new membrane may pass less than one whose fibres had torn. Common practice, no source. */
const BY_MEMBRANE: Partial<Readonly<Record<Watched, number>>> = { delivery: 0.35, duty: 0.35, compressorRun: 0.35 };

/** What ran back through the old valve fell in rests like demand, and was counted to what is made; the new one ends it, and run time only gets less by it. Common practice, no source. */
const BY_CHECK_VALVE: Partial<Readonly<Record<Watched, number>>> = { delivery: 0.25 };

/** When a series began anew, in order: a service restarts what it replaced, or everything where nothing is named; a set point everything. What an old cell read compares with nothing that a new one reads. */
export function restartsOf(entries: readonly Entry[], name: Watched, unit?: DayRow['unit']): Restart[] {
  const bySetPoint = unit === 'relative' && name !== 'duty' ? Infinity : (BY_SET_POINT[name] ?? Infinity);
  const byParts = ({ replaced }: Entry): number => (name === 'nitrogen' && replaced.includes('oxygen-sensor') ? Infinity : Math.max(replaced.includes('membrane') ? (BY_MEMBRANE[name] ?? 0) : 0, replaced.includes('check-valve') ? (BY_CHECK_VALVE[name] ?? 0) : 0));
  const restarts = entries.filter((entry) => restartedBy(entry).includes(name)).map((entry) => ({ atMs: Date.parse(entry.finishedAt ?? entry.startedAt), allowed: Math.max(isSetPoint(entry) ? bySetPoint : 0, byParts(entry)), bySetPoint: isSetPoint(entry) }));
  return restarts.sort((a, b) => a.atMs - b.atMs);
}

function restartedBy(entry: Entry): readonly Watched[] {
  if (isSetPoint(entry)) return WATCHED;
  if (entry.kind !== 'service') return [];
  return entry.replaced.length === 0 ? WATCHED : entry.replaced.flatMap((part) => RESTARTED_BY[part]);
}

/**
 * Learn a baseline from the first `days` points that begin at or after `fromMs`.
 *
 * Middle: median. Scatter: the larger of the MAD about it and of the MAD of differences between neighbours (a ramp widens
 * the first, a wobble the second), no more than what the values lie within allows, never below the floor of the series, and wider while the points are few.
 * `undefined` while there are fewer than `days` points.
 */
export function learnBaseline(points: readonly SeriesPoint[], name: Watched, fromMs: number, days: number): Baseline | undefined {
  const first = points.findIndex((point) => point.startMs >= fromMs);
  if (first < 0 || points.length - first < days) return undefined;
  const learned = points.slice(first, first + days);
  return baselineFrom(learned, SCATTER_FLOOR[name]);
}

/**
 * A baseline of few days knows neither middle nor scatter well: with 14 days a cumulative sum signals falsely several times as
 * often as with both known (analysis/change/README.md), and a wander of weeks isn't in them at all. Scatter is widened by this
 * over the number of days: 1.9 times at 14, 1.2 times at 60.
 */
const FEW_DAYS = 12;

/** From the 10 % to the 90 % quantile of a normal distribution, in its sd. Values that take a whole cycle more or less have two humps: the MAD sees one of them. */
const NORMAL_10_TO_90 = 2.563;

/** No values scatter by more than half of what they lie within (Popoviciu 1935), but for a few wild ones at each end: of days with one or two runs the MAD and neighbours say twice as much. */
const WILD_END = 0.05;

/** Middle and scatter of values that were good. @throws {RangeError} if there are none. */
export function baselineFrom(learned: readonly SeriesPoint[], floor: number): Baseline {
  if (learned.length === 0) throw new RangeError('Cannot learn a baseline as learned must hold a value: it is empty');
  return new LearnedValues(learned).baseline(floor);
}

/** The values of a baseline that goes on learning, also in order of size, so that one more costs no sorting. */
export class LearnedValues {
  readonly #points: SeriesPoint[];
  readonly #ordered: number[];
  /** How far neighbours are apart, in rising order. */
  readonly #apart: number[];
  /** Their stated errors, in rising order. */
  readonly #errors: number[];

  constructor(points: readonly SeriesPoint[]) {
    this.#points = [...points];
    this.#ordered = Array.from(sorted(points.map((point) => point.value)));
    this.#errors = Array.from(sorted(points.map((point) => point.se)));
    this.#apart = Array.from(sorted(points.slice(1).map((point, index) => apart(points[index]!, point))));
  }

  get count(): number {
    return this.#points.length;
  }

  add(point: SeriesPoint): void {
    const newest = this.#points.at(-1);
    if (newest !== undefined) insert(this.#apart, apart(newest, point));
    insert(this.#ordered, point.value);
    insert(this.#errors, point.se);
    this.#points.push(point);
  }

  /** The values learned last, up to so many. */
  newest(count: number): readonly number[] {
    return this.#points.slice(-count).map((point) => point.value);
  }

  /** Of one value at least. */
  baseline(floor: number): Baseline {
    const ordered = this.#ordered;
    const count = ordered.length;
    const centre = quantileOfSorted(ordered, 0.5);
    const tails = (quantileOfSorted(ordered, 0.9) - quantileOfSorted(ordered, 0.1)) / NORMAL_10_TO_90;
    const neighbours = this.#apart.length === 0 ? 0 : MAD_CONSTANT * quantileOfSorted(this.#apart, 0.5);
    const most = (quantileOfSorted(ordered, 1 - WILD_END) - quantileOfSorted(ordered, WILD_END)) / 2;
    const scatter = Math.max(Math.min(most, Math.max(madOfSorted(ordered, centre), neighbours)), tails, floor) * (1 + FEW_DAYS / count);
    const { correlation, meanSquare } = together(this.#points, centre, scatter);
    return { centre, scatter, spread: Math.max(floor, scatter * Math.sqrt(meanSquare)) * (1 + FEW_DAYS / count), correlation, usualSe: quantileOfSorted(this.#errors, 0.5), count, fromMs: this.#points[0]!.startMs, toMs: this.#points[count - 1]!.endMs };
  }
}

function apart(one: SeriesPoint, next: SeriesPoint): number {
  return Math.abs(next.value - one.value) / Math.SQRT2;
}

function insert(ordered: number[], value: number): void {
  ordered.splice(firstAbove(ordered, value), 0, value);
}

/** Days' worth of belief in the usual correlation, and that correlation: a few values say little of it. Common practice, no source. */
const USUAL_CORRELATION = { weight: 10, value: 0.5 };

/** Correlation of neighbours, drawn to the usual one while the values are few, and mean square, in scatters; wild values cut at three. */
function together(points: readonly SeriesPoint[], centre: number, scatter: number): { readonly correlation: number; readonly meanSquare: number } {
  let products = 0;
  let alone = 0;
  let before = 0;
  for (const { value } of points) {
    const away = Math.max(-3, Math.min(3, (value - centre) / scatter));
    alone += away ** 2;
    products += away * before;
    before = away;
  }
  const seen = alone > 0 ? products / alone : 0;
  const { weight, value } = USUAL_CORRELATION;
  return { correlation: Math.max(0, Math.min(0.95, (points.length * seen + weight * value) / (points.length + weight))), meanSquare: alone / points.length };
}
