import { median } from './change/robust.ts';
import { LATE_START_KPA } from './causes/clock-view.ts';
import { middleTimes } from './causes/recent-cycles.ts';
import type { FoldState } from './generator-fold.ts';
import { DAY_MS, MINUTE_MS } from '../shared/time.ts';

/* Where a compressor starts by right: below that, a tank waits for it in vain. */

/** The lowest of the usual start, the last starts and those of the weeks before: where a band creeps, or is set back, a low start is still a start. */
export function lowestStartKPa(fold: FoldState, registeredKPa: number | undefined): number | null {
  const { usual, last, weeks } = fold.cycles;
  if (usual === null || usual.startKPa === null) return null;
  const seenKPa = Math.min(usual.startKPa, ...last.slice(-8).flatMap((cycle) => cycle[3] ?? []), ...weeks.flatMap((week) => week.startKPa ?? []));
  // Whether it is seen is asked of a tank that stands below it, and not at each tick.
  if (fold.tank === null || fold.tank[0] >= seenKPa - LATE_START_KPA || !isReadRarely(fold)) return seenKPa;
  return Math.min(seenKPa, registeredKPa ?? Infinity, usualLowKPa(fold));
}

/** Between reports so far apart a burst may take a tank from well above its start to it. Common practice, no source. */
const RARE_MS = 4 * MINUTE_MS;

/** Whether the tank falls by more between two reports than tells a late start, or may: then nobody sees where runs begin. */
function isReadRarely({ cycles, spanDays }: FoldState): boolean {
  const { restS } = middleTimes(cycles);
  const tanks = spanDays.flatMap(({ spans: { 'tank-pressure': tank } }) => (tank === undefined ? [] : [tank]));
  if (restS === undefined || tanks.length === 0) return false;
  const perReportKPa = median(tanks.map(([leastKPa, mostKPa, count]) => (mostKPa - leastKPa) / count))!;
  return DAY_MS / median(tanks.map((tank) => tank[2]))! > RARE_MS || perReportKPa * DAY_MS > LATE_START_KPA * 1000 * restS;
}

/** Days that say how low the tank is read. */
const LOW_DAYS = 3;

/** How low the tank was read on the last days but one, which may have been a test's. */
function usualLowKPa({ spanDays }: FoldState): number {
  const lows = spanDays.flatMap(({ starts, spans: { 'tank-pressure': tank } }) => (starts > 0 && tank !== undefined ? [tank[0]] : []));
  return lows.length < LOW_DAYS ? Infinity : lows.sort((a, b) => a - b)[1]!;
}
