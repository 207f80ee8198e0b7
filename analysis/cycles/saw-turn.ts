import type { SawTooth, TankSample } from './state.ts';

/** Extremes that must be remembered before the band's ends are read from them. */
const LEAST_EXTREMES = 8;
/** The band's end is taken from this many-th extreme, so that one odd cycle doesn't move it. */
const RANK = 2;
/** A sample that stands above the line of its rest by more than this is no sample of that rest: a fifth of one step of the line, and noise. */
const OFF_LINE_SHARE = 0.2;
const OFF_LINE_KPA = 0.5;

/**
 * When the tank turned, near its extreme sample. With enough samples in a run: where the slope before meets the slope
 * after, on whichever side of the extreme that lies. With runs about as short as the time between samples: where the
 * fall meets the end of the band, which the extremes of many cycles show. Else the middle.
 */
export function turnMs(saw: SawTooth, before: TankSample | null, extreme: TankSample, after: TankSample, end: 'low' | 'high'): number {
  const fall = -(saw.fallPerMs ?? 0);
  if (saw.risePerMs !== null && !saw.coarse) {
    const [first, second] = end === 'low' ? [fall, saw.risePerMs] : [saw.risePerMs, fall];
    const later = crossingMs(extreme, after, first, second);
    const earlier = before === null ? undefined : crossingMs(before, extreme, first, second);
    // The extreme lies on one of the two lines: there, the crossing on its own side falls on itself but for noise.
    if (earlier !== undefined && (later === undefined || extreme.atMs - earlier > later - extreme.atMs)) return earlier;
    if (later !== undefined) return later;
  }
  const level = bandEnd(saw, end);
  if (level !== null && saw.fallPerMs !== null && saw.fallPerMs > 0) {
    const reaches = (sample: TankSample): number => sample.atMs + (sample.content - level) / saw.fallPerMs!;
    if (end === 'high') return Math.min(after.atMs, Math.max((before ?? extreme).atMs, reaches(after)));
    // The lowest sample may be the first of the run already: then it stands above the line on which the rest fell.
    const fell = before === null ? 0 : saw.fallPerMs * (extreme.atMs - before.atMs);
    const inRun = before !== null && extreme.content - (before.content - fell) > OFF_LINE_SHARE * fell + OFF_LINE_KPA;
    return inRun ? Math.min(extreme.atMs, Math.max(before.atMs, reaches(before))) : Math.min(after.atMs, Math.max(extreme.atMs, reaches(extreme)));
  }
  return (extreme.atMs + after.atMs) / 2;
}

/** When a line from `from` with one slope (kPa/ms) meets the line into `to` with another; `undefined` when not between them. */
function crossingMs(from: TankSample, to: TankSample, slopeFrom: number, slopeTo: number): number | undefined {
  if (slopeTo === slopeFrom) return undefined;
  const atMs = from.atMs + (from.content - to.content + slopeTo * (to.atMs - from.atMs)) / (slopeTo - slopeFrom);
  return atMs >= from.atMs && atMs <= to.atMs ? atMs : undefined;
}

/**
 * The end of the band from the extremes of many cycles. A sample comes at any moment of the time between two, so that
 * the k-th of n extremes stands k/(n+1) of one gap's fall inside the band.
 */
function bandEnd(saw: SawTooth, end: 'low' | 'high'): number | null {
  const list = end === 'low' ? saw.lows : saw.highs;
  if (list.length < LEAST_EXTREMES || saw.fallPerMs === null) return null;
  const inside = (saw.fallPerMs * saw.usualS * 1000 * RANK) / (list.length + 1);
  const ordered = [...list].sort((a, b) => a - b);
  return end === 'low' ? ordered[RANK - 1]! - inside : ordered.at(-RANK)! + inside;
}
