import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { quantile } from '../change/robust.ts';

/*
 * Runs and rests as an hour meter or a duty ratio tells them, where no run state is sent. Each report says which share of the span since
 * the one before was run. A rest is told from the end of the last span in which it ran to the beginning of the next: by up to two spans
 * shorter than it was. A run is told by what was run in spans one after another, of which all but the first and the last were run
 * throughout: at least as long as any that was.
 */

/** The longest that was told of a day: [day, rest in s, run in s]. */
type ToldDay = [dayMs: number, restS: number, runS: number];
/** What is remembered; plain JSON. */
export type ToldByMeter = {
  /** When it reported last. */
  atMs: number;
  /** Of what span it spoke then, s. */
  spanS: number;
  /** Since when it hasn't run, as far as is told. */
  restSinceMs: number;
  /** The last rest that ended, s. */
  lastRestS: number;
  /** What was run on end, s, up to the last report. */
  onEndS: number;
  /** The last days that had one, oldest first. */
  days: ToldDay[];
  /** Since when all of the time was run, and how often that was said; null where it wasn't. */
  full: { sinceMs: number; times: number; /** How much of it was told as run, s; absent in what earlier builds saved. */ ranS?: number } | null;
};

/** Share of a span from which all of it was run, and below which nothing was: meters have a step. */
const FULL_SHARE = 0.97;
const RAN_SHARE = 0.002;
/** More than all of it is a meter that was set. */
const OVER_SHARE = 1.2;
/** The longest span of which one report can say how it was run. */
const LONGEST_SPAN_MS = 2 * HOUR_MS;
/** Days that say what is usual. */
const DAYS_KEPT = 28;
const LEAST_DAYS = 7;
/** One day with a run without end, or a filling, doesn't make such runs usual; nor does a week of them, as what is usual grows by no more than this from day to day. */
const LONG_DAYS = 0.9;
const GROWS = 1.1;

/** Hour meters go by hundredths of an hour: a report says so much less than was run, and the next so much more. */
const METER_STEP_S = 36;
/** But for most of a span there is no step. */
const SURELY_RAN = 0.5;

/** All of the time was run, but for the meter's step, since an earlier report or in this span alone; or null. */
function fullSince(before: ToldByMeter['full'], fromMs: number, atMs: number, share: number): ToldByMeter['full'] {
  const ranS = (share * (atMs - fromMs)) / 1000;
  const isFull = (sinceMs: number, allS: number): boolean => allS >= (FULL_SHARE * (atMs - sinceMs)) / 1000 - METER_STEP_S;
  if (share < SURELY_RAN) return null;
  if (before !== null) {
    const allS = Math.round((before.ranS ?? (fromMs - before.sinceMs) / 1000) + ranS);
    if (isFull(before.sinceMs, allS)) return { sinceMs: before.sinceMs, times: before.times + 1, ranS: allS };
  }
  return isFull(fromMs, ranS) ? { sinceMs: fromMs, times: 1, ranS: Math.round(ranS) } : null;
}

export function startTold(atMs: number): ToldByMeter {
  return { atMs, spanS: 0, restSinceMs: atMs, lastRestS: 0, onEndS: 0, days: [], full: null };
}

/** A report came: this share of the time since the one before was run. */
export function noteShare(told: ToldByMeter, atMs: number, share: number): void {
  const fromMs = told.atMs;
  if (atMs <= fromMs) return;
  told.atMs = atMs;
  told.spanS = (atMs - fromMs) / 1000;
  if (atMs - fromMs > LONGEST_SPAN_MS || share < 0 || share > OVER_SHARE) {
    Object.assign(told, { restSinceMs: atMs, onEndS: 0, full: null });
    return;
  }
  told.full = fullSince(told.full, fromMs, atMs, share);
  if (share < RAN_SHARE) {
    told.onEndS = 0;
    return;
  }
  const ranS = Math.round((Math.min(1, share) * (atMs - fromMs)) / 1000);
  const restS = Math.max(0, (fromMs - told.restSinceMs) / 1000);
  if (restS > 0) told.lastRestS = restS;
  keepDay(told, atMs, restS, told.onEndS + ranS);
  told.restSinceMs = atMs;
  told.onEndS = share < FULL_SHARE ? ranS : told.onEndS + ranS;
}

function keepDay(told: ToldByMeter, atMs: number, restS: number, runS: number): void {
  const { days } = told;
  const dayMs = Math.floor(atMs / DAY_MS) * DAY_MS;
  if (days.at(-1)?.[0] !== dayMs) days.push([dayMs, 0, 0]);
  if (days.length > DAYS_KEPT + 1) days.shift();
  const usual = usualTold(told);
  const [, longestRestS, longestRunS] = days.at(-1)!;
  const within = (s: number, usualS: number | undefined): number => Math.min(s, usualS === undefined ? Infinity : Math.max(GROWS * usualS, told.spanS));
  days[days.length - 1] = [dayMs, Math.max(longestRestS, within(restS, usual?.restS)), Math.max(longestRunS, within(runS, usual?.runS))];
}

type UsualTold = { readonly restS: number; readonly runS: number } | null;

/** What was worked out of the days before the last, which change no more: it is asked at every report and tick. */
const USUAL = new WeakMap<ToldByMeter, { readonly dayMs: number; readonly usual: UsualTold }>();

/** The longest that is usual, s, by the days before this one; null where too few are known. */
export function usualTold(told: ToldByMeter): UsualTold {
  const dayMs = told.days.at(-1)?.[0] ?? 0;
  const known = USUAL.get(told);
  if (known?.dayMs === dayMs) return known.usual;
  const before = told.days.slice(0, -1);
  const usual = before.length < LEAST_DAYS ? null : { restS: Math.max(...before.map((day) => day[1])), runS: quantile(before.map((day) => day[2]), LONG_DAYS)! };
  USUAL.set(told, { dayMs, usual });
  return usual;
}
