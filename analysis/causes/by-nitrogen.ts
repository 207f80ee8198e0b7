import type { DayRow } from '../../shared/cycle.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import type { DaysJudged } from './assess.ts';
import type { Baseline } from './baseline.ts';
import type { Watching } from './change-watch.ts';
import { OXYGEN_BY_FLOW } from './day-series.ts';
import { BY_DAY, findShift, meanLevel, presentLevel, SMALLEST_CHANGE } from './find-shift.ts';
import type { BandShift } from './set-point.ts';
import { ruleOf } from './shift-rule.ts';

/*
 * What nitrogen says of the flow through the membrane, and the flow of nitrogen: more air passes less pure, less air purer.
 */

/** The power itself, for what a purer gas says of its flow; and the least share of oxygen, days, ln of delivery and its certainty that say so. Common practice, no source. */
const OXYGEN_PER_FLOW = 2.2;
const PURER_SHARE = 0.2;
const PURER_LEAST_DAYS = 7;
const LEAST_LESS = 0.07;
const PURER_SD = 2.5;
const AGREES = 0.1;
const LOADS_KPA = 4;
/** A mean run under which the product is still settling, s (design, section 6); and the share of what it was that is shorter. Common practice, no source. */
const SETTLES_S = 300;
const SHORTER = 0.9;
const MORE_MADE = 0.05;
/** What a visit does to delivery shows in nitrogen within so long. */
const AFTER_VISIT_MS = 1.5 * DAY_MS;
const RISES_WITHIN_MS = 14 * DAY_MS;
/** Days before a change, and since, whose delivery is compared. */
export const DAYS_BEFORE = 21;
export const DAYS_SINCE = 7;

/** A shift of nitrogen that its flow doesn't explain: where a visit or a set point made the delivery rise, nitrogen falls by right. Where it rose by itself, the membrane lets more through. */
export function lostByNitrogen(days: DaysJudged, watching: Watching | undefined): Watching | undefined {
  if (watching === undefined || watching.shift.direction === 'up') return watching;
  const { epoch, shift } = watching;
  const onsetMs = epoch.points[shift.onsetIndex]!.startMs;
  if (hasShorterRuns(days.rows, epoch.baseline, onsetMs)) return undefined;
  const served = days.entries.findLast((entry) => entry.kind === 'service' && Date.parse(entry.startedAt) < onsetMs + AFTER_VISIT_MS && Date.parse(entry.finishedAt ?? entry.startedAt) > onsetMs - RISES_WITHIN_MS);
  if (served === undefined && days.careful === undefined) return watching;
  // Where the visit began delivery anew, its own baseline doesn't know how much was made before.
  const rows = days.rows.filter((row) => row.unit === days.rows.at(-1)!.unit);
  const was = made(rows.filter((row) => row.endMs <= (served === undefined ? onsetMs : Date.parse(served.startedAt))).slice(-DAYS_BEFORE));
  const is = made(rows.filter((row) => row.startMs >= onsetMs).slice(-DAYS_SINCE));
  const byFlow = was === undefined || is === undefined ? 0 : (100 - epoch.baseline.centre) * Math.expm1(OXYGEN_BY_FLOW * Math.max(0, Math.log(is / was)));
  const byRight = Math.max(byFlow, byBand(days.careful));
  return -shift.effect - byRight > (byRight > 0 ? SMALLEST_CHANGE.nitrogen : 0) ? watching : undefined;
}

/** What a band that stands lower takes of nitrogen by itself: air at less pressure passes less pure. Per kPa; on tuning worlds 0.5 % for 60 kPa. */
const BY_BAND_PER_KPA = 0.008;

function byBand(band: BandShift | undefined): number {
  return band === undefined ? 0 : BY_BAND_PER_KPA * Math.max(0, -band.stopKPa);
}

/** Runs that became too short for the product to settle make nitrogen look poorer, as where a leak was mended; not where more is made, which makes them short by itself. */
function hasShorterRuns(rows: readonly DayRow[], { fromMs, toMs }: Baseline, onsetMs: number): boolean {
  const runS = (some: readonly DayRow[]): number | undefined => median(some.flatMap((row) => (row.nitrogen !== null && row.starts > 0 ? [row.runS / row.starts] : [])));
  const was = runS(rows.filter((row) => row.startMs >= fromMs && row.endMs <= toMs));
  const is = runS(rows.filter((row) => row.startMs >= onsetMs));
  if (was === undefined || is === undefined || is > SETTLES_S || is > SHORTER * was) return false;
  const [wasMade, isMade] = [made(rows.filter((row) => row.startMs >= fromMs && row.endMs <= toMs)), made(rows.filter((row) => row.startMs >= onsetMs))];
  return wasMade === undefined || isMade === undefined || Math.log(isMade / wasMade) < MORE_MADE;
}

const made = (rows: readonly DayRow[]): number | undefined => median(rows.flatMap((row) => row.delivery?.value ?? []));

/** Nitrogen that rises while delivery falls by what belongs to it: tells of losses within the scatter of delivery itself. */
export function purerByLess(days: DaysJudged): Watching | undefined {
  const nitrogen = days.epochs.get('nitrogen');
  const delivery = days.epochs.get('delivery');
  if (nitrogen === undefined || delivery === undefined || days.careful !== undefined) return undefined;
  const oxygen = 100 - nitrogen.baseline.centre;
  // Asked at each quarter: mostly its newest values already say no.
  if (nitrogen.points.slice(-3).every((point) => point.value - nitrogen.baseline.centre < (PURER_SHARE / 2) * oxygen)) return undefined;
  const { shift } = findShift(nitrogen.points, nitrogen.baseline, { ...ruleOf(nitrogen, days, BY_DAY), smallest: PURER_SHARE * oxygen });
  if (shift === undefined || shift.effect < (PURER_SHARE / 2) * oxygen) return undefined;
  const from = delivery.points.findIndex((point) => point.startMs >= nitrogen.points[shift.onsetIndex]!.startMs);
  if (from < 0 || delivery.points.length - from < PURER_LEAST_DAYS) return undefined;
  // Elements that load as they always do make less and purer, and their own gauges watch over that.
  const drop = days.epochs.get('elementDrop');
  if (drop !== undefined && presentLevel(drop.points, drop.baseline, 0).effect > LOADS_KPA) return undefined;
  const { effect, effectSe } = meanLevel(delivery.points, delivery.baseline, from);
  const byNitrogen = Math.log(Math.max(0.1, 1 - shift.effect / oxygen)) / OXYGEN_PER_FLOW;
  return effect < -LEAST_LESS && effect < -PURER_SD * effectSe && Math.abs(effect - byNitrogen) < Math.max(AGREES, 2 * effectSe) ? { epoch: nitrogen, shift, byDay: true } : undefined;
}

/** Least fall of nitrogen, per cent, and of ln delivery beside it, over so many days, and by how many standard errors both must be off. Common practice, no source. */
const POORER = 0.15;
const LESS_BESIDE = 0.03;
const BESIDE_DAYS = 14;
const BESIDE_SE = 3.5;

/**
 * Nitrogen that falls while less is made. Less air would be purer, so both together, each too small or too little beyond its scatter
 * to be told alone, tell of the membrane. Not without the room's temperature: a season moves both.
 */
export function poorerByLess(days: DaysJudged): Watching | undefined {
  const nitrogen = days.epochs.get('nitrogen');
  const delivery = days.epochs.get('delivery');
  if (nitrogen === undefined || delivery === undefined || days.careful !== undefined || days.rows.at(-1)!.roomC === null) return undefined;
  const onsetIndex = nitrogen.points.length - BESIDE_DAYS;
  if (onsetIndex < 0 || nitrogen.points[onsetIndex]!.startMs < Math.max(nitrogen.watchFromMs, delivery.watchFromMs)) return undefined;
  const onsetMs = nitrogen.points[onsetIndex]!.startMs;
  const from = delivery.points.findIndex((point) => point.startMs >= onsetMs);
  if (from < 0 || delivery.points.length - from < PURER_LEAST_DAYS) return undefined;
  const poorer = meanLevel(nitrogen.points, nitrogen.baseline, onsetIndex);
  const less = meanLevel(delivery.points, delivery.baseline, from);
  if (poorer.effect > -Math.max(POORER, BESIDE_SE * poorer.effectSe) || less.effect > -Math.max(LESS_BESIDE, BESIDE_SE * less.effectSe) || hasShorterRuns(days.rows, nitrogen.baseline, onsetMs)) return undefined;
  return { epoch: nitrogen, shift: { direction: 'down', onsetIndex, signalIndex: nitrogen.points.length - 1, ...poorer }, byDay: true };
}
