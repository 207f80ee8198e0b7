import { median } from '../change/robust.ts';
import { type Sample, type Span, within } from './tracks.ts';

/*
 * A run held against earlier runs at equal tank pressure: rise slows as the tank fills, and a run after work begins anywhere.
 */

/** The tank's pressure is sorted into steps of this size. */
const STEP_KPA = 12;
/** Housing fills and gas warms in the first minute; pressures of the feed side take two. */
const RISE_AFTER_MS = 60_000;
const FEED_AFTER_MS = 120_000;
/** Two readings farther apart than this are not one rise. */
const TOGETHER_MS = 6 * 60_000;
const LEAST_IN_STEP = 5;

/** What is usual in a run by tank pressure: rise, kPa/min, or a pressure of the feed side, kPa. */
export type ByPressure = ReadonlyMap<number, number>;
type Point = { readonly tankKPa: number; readonly value: number; readonly minutes: number };

/**
 * The samples of a run up to its highest pressure: what holds or falls after it is at rest, and the packet that said so was
 * lost. A run that was seen from its start and never rose is kept: then nothing arrives in the tank.
 */
function rising(samples: readonly Sample[], run: Span): readonly Sample[] {
  let top = 0;
  for (let index = 1; index < samples.length; index += 1) if (samples[index]![1] > samples[top]![1]) top = index;
  return top === 0 && samples.length > 0 && samples[0]![0] - run.fromMs <= TOGETHER_MS ? samples : samples.slice(0, top + 1);
}

function risePoints(tank: readonly Sample[], run: Span): Point[] {
  const samples = rising(within(tank, run.fromMs + RISE_AFTER_MS, run.toMs), run);
  return samples.slice(1).flatMap(([atMs, value], index) => {
    const [beforeMs, before] = samples[index]!;
    const minutes = (atMs - beforeMs) / 60_000;
    return minutes <= 0 || atMs - beforeMs > TOGETHER_MS ? [] : [{ tankKPa: (value + before) / 2, value: (value - before) / minutes, minutes }];
  });
}

function feedPoints(tank: readonly Sample[], feed: readonly Sample[], run: Span): Point[] {
  const tanks = within(tank, run.fromMs, run.toMs);
  return within(feed, run.fromMs + FEED_AFTER_MS, run.toMs).flatMap(([atMs, value]) => {
    const near = tanks.find(([tankMs]) => Math.abs(tankMs - atMs) < 30_000);
    return near === undefined ? [] : [{ tankKPa: near[1], value, minutes: 1 }];
  });
}

function byPressure(points: readonly Point[]): ByPressure {
  const steps = new Map<number, number[]>();
  for (const point of points) {
    const step = Math.floor(point.tankKPa / STEP_KPA);
    const list = steps.get(step) ?? [];
    steps.set(step, list);
    list.push(point.value);
  }
  return new Map([...steps].filter(([, values]) => values.length >= LEAST_IN_STEP).map(([step, values]) => [step, median(values)!]));
}

/** A run's points with what is usual at their pressure. */
function compared(points: readonly Point[], usual: ByPressure): { readonly value: number; readonly usual: number; readonly minutes: number }[] {
  return points.flatMap((point) => {
    const here = usual.get(Math.floor(point.tankKPa / STEP_KPA));
    return here === undefined ? [] : [{ value: point.value, usual: here, minutes: point.minutes }];
  });
}

export type RunFigures = { readonly values: readonly number[]; readonly usual: ByPressure };

/** Rise of each run as a share of the usual rise at the same pressures; runs that can't be compared are left out. */
export function riseShares(tank: readonly Sample[], runs: readonly Span[]): RunFigures {
  const points = runs.map((run) => risePoints(tank, run));
  const usual = byPressure(points.flat());
  return { usual, values: points.flatMap((ofRun) => riseShareOf(ofRun, usual) ?? []) };
}

function riseShareOf(points: readonly Point[], usual: ByPressure): number | undefined {
  const known = compared(points, usual);
  const expected = known.reduce((sum, one) => sum + one.usual * one.minutes, 0);
  // Less than this and the gauge's scatter is a part of the figure.
  if (expected < 15) return undefined;
  return known.reduce((sum, one) => sum + one.value * one.minutes, 0) / expected;
}

/** The same of one run, against what other runs did. */
export function riseShare(tank: readonly Sample[], run: Span, usual: ByPressure): number | undefined {
  return riseShareOf(risePoints(tank, run), usual);
}

/** Feed-side pressure of each run above what is usual at the same tank pressure, kPa. */
export function feedOffsets(tank: readonly Sample[], feed: readonly Sample[], runs: readonly Span[]): RunFigures {
  const points = runs.map((run) => feedPoints(tank, feed, run));
  const usual = byPressure(points.flat());
  return { usual, values: points.flatMap((ofRun) => offsetOf(ofRun, usual) ?? []) };
}

function offsetOf(points: readonly Point[], usual: ByPressure): number | undefined {
  const known = compared(points, usual);
  return known.length === 0 ? undefined : known.reduce((sum, one) => sum + one.value - one.usual, 0) / known.length;
}

export function feedOffset(tank: readonly Sample[], feed: readonly Sample[], run: Span, usual: ByPressure): number | undefined {
  return offsetOf(feedPoints(tank, feed, run), usual);
}
