import type { DayRow } from '../../shared/cycle.ts';
import type { Sees } from '../../shared/distinguish.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { mad, median } from '../change/robust.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { isSetPoint } from './mends.ts';
import { nameCause } from './name-cause.ts';
import { isUsableDay, lastRows, runsOn } from './day-series.ts';

/** A band that moved by less is a controller's wander; common practice, no source. */
const MOVED_KPA = 15;
/** Nor is it a move where it is so many scatters of the days: a gauge that is read each quarter of an hour misses the ends of short runs. */
const MOVED_SD = 4;
/** Runs that are shorter than the time between three readings show their ends by chance, and which of them goes with how the two keep step: then it takes so much. Common practice, no source. */
const MOVED_UNSEEN_KPA = 30;

export type BandShift = { /** Whether the stop came there by days in between. */ readonly crept: boolean; readonly sinceMs: number; readonly startKPa: number; readonly stopKPa: number; readonly wasStartKPa: number; readonly wasStopKPa: number; /** What starts and stops of a day scatter against each other by. */ readonly scatterKPa: number };

/** How many of the last days must say so: two for a finding; one is enough to be careful with what a band moves. */
export const SURE_DAYS = 2;
export const CAREFUL_DAYS = 1;

/** Shares of a move, and days at which it stood between them since it last stood lower, by which it crept. Common practice, no source. */
const ON_ITS_WAY = [0.25, 0.75] as const;
const CREPT_DAYS = 3;

/** The controller's band moved for good: cut-in or cut-out of the last days, against the first 14 since `fromMs`. What stood off before the last service (`servedMs`) was its to mend. */
export function bandShift(rows: readonly DayRow[], fromMs: number, servedMs: number, days: number): BandShift | undefined {
  // A day that was mostly one run shows where the run was disturbed, not where the controller starts and stops.
  const banded = sinceRead(rows.filter((row) => row.startMs >= fromMs && row.cutInKPa !== null && row.cutOutKPa !== null && isUsableDay(row) && !runsOn(row)));
  if (banded.length < 10) return undefined;
  const before = banded.slice(0, Math.min(14, banded.length - 2));
  const startKPa = median(before.map((row) => row.cutInKPa!))!;
  const stopKPa = median(before.map((row) => row.cutOutKPa!))!;
  const leastKPa = banded.slice(-READ_DAYS).every(hidesEnds) ? MOVED_UNSEEN_KPA : MOVED_KPA;
  const [startSd, stopSd] = [mad(before.map((row) => row.cutInKPa!), startKPa)!, mad(before.map((row) => row.cutOutKPa!), stopKPa)!];
  const [leastStart, leastStop] = [Math.max(leastKPa, MOVED_SD * startSd), Math.max(leastKPa, MOVED_SD * stopSd)];
  const moved = (row: DayRow): boolean => Math.abs(row.cutOutKPa! - stopKPa) > leastStop || Math.abs(row.cutInKPa! - startKPa) > leastStart;
  const last = banded.slice(-days);
  if (!last.every(moved) || (last[0]!.startMs < servedMs && last.at(-1)!.endMs > servedMs)) return undefined;
  const since = banded.findLastIndex((row) => !moved(row)) + 1;
  const movedKPa = median(last.map((row) => row.cutOutKPa!))! - stopKPa;
  const shares = banded.map((row) => (row.cutOutKPa! - stopKPa) / movedKPa);
  const crept = shares.slice(shares.findLastIndex((share) => share < ON_ITS_WAY[0]) + 1).filter((share) => share < ON_ITS_WAY[1]).length >= CREPT_DAYS;
  return { crept, sinceMs: banded[since]!.startMs, startKPa: median(last.map((row) => row.cutInKPa!))! - startKPa, stopKPa: movedKPa, wasStartKPa: startKPa, wasStopKPa: stopKPa, scatterKPa: Math.hypot(startSd, stopSd) };
}

/** A tank that is read more rarely, by such a factor, shows less of its stops and starts: days before that are of another gauge. Common practice, no source. */
const READ_TIMES = 2;
const READ_DAYS = 3;

/** The days since the tank has been read as often as it is now: before them it was read otherwise for several on end. */
function sinceRead(rows: readonly DayRow[]): readonly DayRow[] {
  const now = median(rows.slice(-READ_DAYS).map(readPerDay)) ?? 0;
  let others = 0;
  for (let index = rows.length - 1; index >= 0 && now > 0; index -= 1) {
    const times = readPerDay(rows[index]!) / now;
    others = times > READ_TIMES || times < 1 / READ_TIMES ? others + 1 : 0;
    if (others === READ_DAYS) return rows.slice(index + READ_DAYS);
  }
  return rows;
}

const readPerDay = ({ heard, coveredS }: DayRow): number => ((heard['tank-pressure'] ?? 0) * 86_400) / Math.max(3600, coveredS);

/** Whether the tank is read less than twice in a run of this day. */
function hidesEnds(row: DayRow): boolean {
  const perDay = readPerDay(row);
  return row.starts > 0 && perDay > 0 && (row.runS / row.starts) * perDay < 2 * 86_400;
}

/** A start that moved by less, or by less than this share of what the stop did, stayed where it was; a stop that moved alone must have gone further. Common practice, no source. */
const STAYED_KPA = 6;
const STAYED_SHARE = 0.3;
const STOP_ALONE_KPA = 20;
const ALONE_OF_GAUGE = 0.1;

function startStays({ startKPa, stopKPa }: Pick<BandShift, 'startKPa' | 'stopKPa'>): boolean {
  return Math.abs(startKPa) < Math.max(STAYED_KPA, STAYED_SHARE * Math.abs(stopKPa));
}

/** The stop moved and the start didn't. One that comes short at once is another fault, which is told by its runs. */
function stopAlone({ startKPa, stopKPa, crept }: BandShift): boolean {
  return startStays({ startKPa, stopKPa }) && Math.abs(stopKPa) >= STOP_ALONE_KPA && (stopKPa > 0 || crept);
}

/** A tank that is read in step with its runs shows starts too high on the days on which it shows stops too low. */
function staysEachDay({ wasStartKPa, wasStopKPa }: BandShift, rows: readonly DayRow[]): boolean {
  return lastRows(rows, SURE_DAYS, (row) => row.cutInKPa !== null && row.cutOutKPa !== null).every((row) => startStays({ startKPa: row.cutInKPa! - wasStartKPa, stopKPa: row.cutOutKPa! - wasStopKPa }));
}

/** How far starts and stops were, and are, from where the registry has them, the further end, kPa; `undefined` where it has none. */
function offRegistered({ startKPa, stopKPa, wasStartKPa, wasStopKPa }: BandShift, { generator: { cutInKPa, cutOutKPa } }: RegisteredGenerator): { readonly wasKPa: number; readonly isKPa: number } | undefined {
  if (cutInKPa === undefined || cutOutKPa === undefined) return undefined;
  return { wasKPa: Math.max(Math.abs(wasStartKPa - cutInKPa), Math.abs(wasStopKPa - cutOutKPa)), isKPa: Math.max(Math.abs(wasStartKPa + startKPa - cutInKPa), Math.abs(wasStopKPa + stopKPa - cutOutKPa)) };
}

/**
 * Says a moved band unless a person logged the change within three days: the switch, or the gauge that reads it.
 * A stop that comes short alone, and at once, is another fault: it is told here where neither a run state nor starts tell of runs.
 */
export function setPointChanged(shift: BandShift | undefined, entries: readonly Entry[], ofGauge: number, { sees, registered, rows }: { readonly sees: Sees; readonly registered: RegisteredGenerator; readonly rows: readonly DayRow[] }): Condition[] {
  if (shift === undefined) return [];
  const together = !startStays(shift) && Math.sign(shift.startKPa) === Math.sign(shift.stopKPa) && Math.min(Math.abs(shift.startKPa), Math.abs(shift.stopKPa)) >= MOVED_KPA / 2;
  const isShort = startStays(shift) && shift.stopKPa <= -STOP_ALONE_KPA && !shift.crept && rows.at(-1)?.source === 'duty' && staysEachDay(shift, rows);
  if (!together && !stopAlone(shift) && !isShort) return [];
  const logged = entries.some((entry) => (isSetPoint(entry) || entry.replaced.includes('pressure-switch')) && Math.abs(Date.parse(entry.startedAt) - shift.sinceMs) < 3 * DAY_MS);
  if (logged) return [];
  // A gauge that moves as a visit ends was mended or changed, unless it showed the registered band until then; a band that comes to where it belongs was set right.
  const served = entries.some((entry) => entry.kind === 'service' && Math.abs(Date.parse(entry.finishedAt ?? entry.startedAt) - shift.sinceMs) < 2 * DAY_MS);
  const off = offRegistered(shift, registered);
  if (served && off !== undefined && off.isKPa < MOVED_KPA) return [];
  // Where ends are seen by chance, one of them came nearer to where it is set by chance.
  if (!together && off !== undefined && off.isKPa < off.wasKPa && rows.slice(-READ_DAYS).every((row) => row.source !== 'running' || hidesEnds(row))) return [];
  if (served && ofGauge > 0.5 && (off === undefined || off.wasKPa > MOVED_UNSEEN_KPA || off.isKPa < off.wasKPa + MOVED_UNSEEN_KPA)) return [];
  if (isShort) return [mixedCondition('running', [['stops-short', 0.6], ['set-point-changed', 0.4]], shift.sinceMs, [{ says: `Stops moved by ${Math.round(shift.stopKPa)} kPa while starts stayed, and nobody logged a new set point: it stops before the tank is full, or its switch was turned.`, for: 'stops-short', weight: 1 }])];
  const moved = together ? `Starts moved by ${Math.round(shift.startKPa)} kPa and stops by ${Math.round(shift.stopKPa)} kPa, and nobody logged a new set point.` : `Stops moved by ${Math.round(shift.stopKPa)} kPa while starts stayed, and nobody logged a new set point: the switch's difference has changed.`;
  const isGauge = ofGauge > 0.5 && together;
  // A gauge that moves takes starts and stops with it.
  const gauge = together ? ofGauge : Math.min(ofGauge, ALONE_OF_GAUGE);
  const causes = [{ cause: 'set-point-changed' as const, probability: 1 - gauge }, { cause: 'sensor-fault' as const, probability: gauge }].sort((one, other) => other.probability - one.probability);
  const evidence = [{ says: moved, for: causes[0]!.cause, weight: Math.round(Math.abs(Math.log(Math.max(gauge, 0.02) / Math.max(1 - gauge, 0.02))) * 10) / 10 }, ...(isGauge ? [{ says: 'Run, rest and the other pressures did not follow as they do when a switch is turned: it is the gauge that moved.', for: 'sensor-fault' as const, weight: 1 }] : [])];
  return [nameCause('set-point', { causes }, sees, { earliestMs: shift.sinceMs, likelyMs: shift.sinceMs, latestMs: shift.sinceMs }, evidence, 1)];
}
