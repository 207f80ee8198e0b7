import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { median } from '../change/robust.ts';
import { certainCondition, type Condition } from './condition.ts';
import type { ChannelSpan, SpanDay } from './data-faults.ts';
import { firstRows, isUsableDay, lastRows, runsOn } from './day-series.ts';
import { isSetPoint } from './mends.ts';

/*
 * A tank's gauge that can't be the tank's, or not by gauge pressure. Neither is a change of demand or delivery.
 */

/** Standard atmosphere at sea level less the height of places, and some tolerance of switches, kPa; both ends of a band are off alike within this. */
const ATMOSPHERE_KPA = [82, 110] as const;
const ALIKE_KPA = 15;
/** Days that say so, the first that were seen and the last. */
const DAYS = 5;

const isBanded = (row: DayRow): boolean => row.cutInKPa !== null && row.cutOutKPa !== null && isUsableDay(row) && !runsOn(row);
const middleBand = (rows: readonly DayRow[]): readonly [startKPa: number, stopKPa: number] => [median(rows.map((row) => row.cutInKPa!))!, median(rows.map((row) => row.cutOutKPa!))!];

/** From the first day on starts and stops stand an atmosphere above those that the registry names: the gauge reads from vacuum, or the registry names others than were set. */
export function absoluteFromTheFirst(rows: readonly DayRow[], { generator }: RegisteredGenerator, entries: readonly Entry[]): Condition | undefined {
  const { cutInKPa, cutOutKPa } = generator;
  if (cutInKPa === undefined || cutOutKPa === undefined || entries.some(isSetPoint)) return undefined;
  const first = firstRows(rows, DAYS, isBanded);
  const last = lastRows(rows, DAYS, isBanded);
  const isOff = (some: readonly DayRow[]): boolean => {
    const [startKPa, stopKPa] = middleBand(some);
    const offs = [startKPa - cutInKPa, stopKPa - cutOutKPa] as const;
    return offs.every((kPa) => kPa > ATMOSPHERE_KPA[0] && kPa < ATMOSPHERE_KPA[1]) && Math.abs(offs[0] - offs[1]) < ALIKE_KPA;
  };
  if (last.length < DAYS || !isOff(first) || !isOff(last)) return undefined;
  const [startKPa, stopKPa] = middleBand(last).map(Math.round) as [number, number];
  const says = `From the first day on the tank reads ${startKPa} kPa at starts and ${stopKPa} kPa at stops, an atmosphere above the ${Math.round(cutInKPa)} and ${Math.round(cutOutKPa)} kPa that the registry names: its gauge reads from vacuum (say so in the registry: absolute), or the registry names another band.`;
  const certain = certainCondition('sensor', 'sensor-fault', 0.75, first[0]!.startMs, says, false);
  return { ...certain, causes: [{ cause: 'sensor-fault', probability: 0.75 }, { cause: 'set-point-changed', probability: 0.25 }], aside: true };
}

/** Days that must say so, and days before that say what is usual. */
const JUDGED_DAYS = 2;
const BEFORE_DAYS = 14;
/** Shares of the usual start and stop: nothing left at starts, and yet full at stops; and how much starts a day may differ meanwhile. Common practice, no source. */
const EMPTY_SHARE = 0.2;
const FULL_SHARE = 0.8;
const SAME_STARTS = 1.6;

/** The tank seems to empty in each rest, and starts and runs are as they were: another gauge's wires are on its channel, one that is let down at stops. */
export function emptiesAtStarts(rows: readonly DayRow[]): Condition | undefined {
  const empties = (row: DayRow, [startKPa, stopKPa]: readonly [number, number]): boolean => row.cutInKPa! < EMPTY_SHARE * startKPa && row.cutOutKPa! > FULL_SHARE * stopKPa;
  const all = rows.filter((row) => row.cutInKPa !== null && row.cutOutKPa !== null && row.starts > 0);
  const since = all.findLastIndex((row) => row.cutInKPa! > EMPTY_SHARE * row.cutOutKPa!) + 1;
  const before = all.slice(Math.max(0, since - BEFORE_DAYS), since);
  const now = all.slice(-JUDGED_DAYS);
  if (before.length < BEFORE_DAYS / 2 || all.length - since < JUDGED_DAYS) return undefined;
  const usual = middleBand(before);
  const times = median(now.map((row) => row.starts))! / median(before.map((row) => row.starts))!;
  if (!now.every((row) => empties(row, usual)) || times > SAME_STARTS || times < 1 / SAME_STARTS) return undefined;
  const says = `The tank seems to stand at ${Math.round(median(now.map((row) => row.cutInKPa!))!)} kPa as runs begin and at ${Math.round(median(now.map((row) => row.cutOutKPa!))!)} kPa as they end; it stood at ${Math.round(usual[0])} and ${Math.round(usual[1])} kPa, and runs come as often as before. No tank empties so: its channel carries another gauge, as where wires were exchanged.`;
  return { ...certainCondition('sensor', 'sensor-fault', 0.93, all[since]!.startMs, says, false), ofTank: true };
}

/** A tank that is cycled comes up to its start each time; starts a day that say so, and the most that its compressor runs meanwhile. Common practice, no source. */
const REACHED_SHARE = 0.6;
const CYCLED_STARTS = 3;
const CYCLED_DUTY = 0.5;

/** It starts as often as it takes; or runs as much of the time as it did, where starts aren't told. */
function isCycled(last: readonly SpanDay[], rows: readonly DayRow[], duty: number): boolean {
  if (rows.at(-1)?.source !== 'duty') return last.every((day) => day.starts >= CYCLED_STARTS);
  const before = median(rows.slice(-JUDGED_DAYS - BEFORE_DAYS, -JUDGED_DAYS).flatMap((row) => row.dutyRatio ?? []));
  return before !== undefined && duty > 0 && duty < SAME_STARTS * before && duty > before / SAME_STARTS;
}

/** For two days the tank never came near its start, and yet its compressor starts and stops as by a tank that is full: a unit that is wrong, or a gauge. */
export function neverReachesStart(days: readonly SpanDay[], rows: readonly DayRow[], { generator }: RegisteredGenerator): Condition[] {
  const last = days.slice(-JUDGED_DAYS);
  const banded = lastRows(rows, BEFORE_DAYS, isBanded);
  const startKPa = median(banded.map((row) => row.cutInKPa!)) ?? generator.cutInKPa;
  const duty = median(rows.slice(-JUDGED_DAYS).flatMap((row) => row.dutyRatio ?? []));
  if (last.length < JUDGED_DAYS || startKPa === undefined || duty === undefined || duty > CYCLED_DUTY) return [];
  // A motor that trips over and over empties its tank, and starts many times as often.
  const usualStarts = median(banded.map((row) => row.starts));
  if (usualStarts !== undefined && usualStarts > 0 && last.some((day) => day.starts > SAME_STARTS * usualStarts)) return [];
  const most = last.map((day) => day.spans['tank-pressure']?.[1] ?? Infinity);
  if (!isCycled(last, rows, duty) || most.some((kPa) => kPa > REACHED_SHARE * startKPa)) return [];
  const says = `For two days the tank has read ${Math.round(Math.max(...most))} kPa at most, and its compressor, which starts at ${Math.round(startKPa)} kPa, ${rows.at(-1)?.source === 'duty' ? 'runs as much of the time' : 'goes on starting and stopping'} as before: the unit that is sent is wrong, or its gauge.`;
  return [{ ...certainCondition('sensor', 'sensor-fault', 0.93, last[0]!.startMs, says, false), ofTank: true }];
}

/** A piping's gauge and its tank's read alike within this, kPa. Common practice, no source. */
const AS_PIPING_KPA = 15;

/** For two days the tank has stood where a piping is set, and that piping's gauge went up to where the tank stops and down to where it starts: their wires are exchanged. */
export function exchangedWithPiping(days: readonly SpanDay[], rows: readonly DayRow[], { generator }: RegisteredGenerator): Condition[] {
  const last = days.slice(-JUDGED_DAYS);
  const banded = lastRows(rows, BEFORE_DAYS, isBanded);
  const startKPa = generator.cutInKPa ?? median(banded.map((row) => row.cutInKPa!));
  const stopKPa = generator.cutOutKPa ?? median(banded.map((row) => row.cutOutKPa!));
  if (last.length < JUDGED_DAYS || startKPa === undefined || stopKPa === undefined) return [];
  for (const { id, setKPa } of generator.risers) {
    if (setKPa === undefined || startKPa - setKPa < 2 * AS_PIPING_KPA) continue;
    const channel = last[0]!.spans['system-pressure'] === undefined ? (`system-pressure.${id}` as const) : 'system-pressure';
    const exchanged = last.every(({ spans: { 'tank-pressure': tank, [channel]: piping } }) => tank !== undefined && piping !== undefined && Math.max(setKPa - tank[0], tank[1] - setKPa) < AS_PIPING_KPA && piping[0] > (setKPa + startKPa) / 2 && piping[1] > (startKPa + stopKPa) / 2 && piping[1] < stopKPa + 2 * AS_PIPING_KPA);
    if (!exchanged) continue;
    const [tank, piping] = (['tank-pressure', channel] as const).map((name) => last.at(-1)!.spans[name]!) as [ChannelSpan, ChannelSpan];
    const says = `For two days the tank has read ${Math.round(tank[0])} to ${Math.round(tank[1])} kPa, which is where its piping is set, and the piping ${Math.round(piping[0])} to ${Math.round(piping[1])} kPa, which is where the tank starts and stops: their gauges are exchanged.`;
    return [{ ...certainCondition('sensor', 'sensor-fault', 0.95, last[0]!.startMs, says, false), ofTank: true }];
  }
  return [];
}
