import { quantile } from '../change/robust.ts';
import { type Sample, type Span, within } from './tracks.ts';

/** Least-squares slope of samples, kPa (or what they are in) per minute; `undefined` of fewer than 3 or where the times are one. */
export function slopePerMin(samples: readonly Sample[]): number | undefined {
  const n = samples.length;
  if (n < 3) return undefined;
  const first = samples[0]![0];
  let sumT = 0;
  let sumV = 0;
  for (const [atMs, value] of samples) {
    sumT += atMs - first;
    sumV += value;
  }
  let top = 0;
  let bottom = 0;
  for (const [atMs, value] of samples) {
    const t = atMs - first - sumT / n;
    top += t * (value - sumV / n);
    bottom += t * t;
  }
  return bottom === 0 ? undefined : (top / bottom) * 60_000;
}

export type Window = { readonly fromMs: number; readonly toMs: number; readonly slope: number; readonly mean: number };

/** A window may be so much shorter or longer than asked for: reports that come every 15 minutes fit no length exactly. */
const SHORTER = 0.85;
const LONGER = 1.35;

/**
 * Slopes of windows of about one length, end to end inside the spans; `settleMs` after a span's beginning is left out.
 * `mostRise`: a window in which the track rises by more between two samples is none, because a run was missed in it.
 */
export function slopeWindows(track: readonly Sample[], spans: readonly { readonly fromMs: number; readonly toMs: number }[], lengthMs: number, settleMs: number, mostRise = Infinity): Window[] {
  const windows: Window[] = [];
  for (const span of spans) {
    const samples = within(track, span.fromMs + settleMs, span.toMs);
    let first = 0;
    for (let last = 1; last < samples.length; last += 1) {
      const spanMs = samples[last]![0] - samples[first]![0];
      if (samples[last]![1] - samples[last - 1]![1] > mostRise || spanMs > LONGER * lengthMs) first = last;
      else if (spanMs >= SHORTER * lengthMs && last - first >= 2) {
        const some = samples.slice(first, last + 1);
        windows.push({ fromMs: some[0]![0], toMs: some.at(-1)![0], slope: slopePerMin(some)!, mean: some.reduce((sum, [, value]) => sum + value, 0) / some.length });
        first = last;
      }
    }
  }
  return windows;
}

/** What is usual of a figure: middle, and the bounds that healthy windows kept to. */
export type Usual = { readonly middle: number; readonly low: number; readonly high: number; readonly count: number };

/** Fewer windows than this are no measure of what is usual. */
export const ENOUGH_WINDOWS = 30;
/** The share of healthy windows that lies outside on each side, where there are enough windows to tell it. */
const OUTSIDE = 0.002;

/**
 * The middle and the 0.2 and 99.8 % quantiles; `undefined` below 30 values. With fewer than about 500 values these are nearly
 * the extremes, so that a value outside is one that was hardly ever seen in good order.
 */
export function usualOf(values: readonly number[]): Usual | undefined {
  if (values.length < ENOUGH_WINDOWS) return undefined;
  return { middle: quantile(values, 0.5)!, low: quantile(values, OUTSIDE)!, high: quantile(values, 1 - OUTSIDE)!, count: values.length };
}

/** The parts of spans that lie in good days. */
export function insideOf(spans: readonly Span[], days: readonly { readonly startMs: number; readonly endMs: number }[]): Span[] {
  return spans.filter((span) => days.some((day) => span.fromMs >= day.startMs && span.fromMs < day.endMs));
}
