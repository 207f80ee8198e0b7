import type { GeneratorRecord } from '../../shared/registry.ts';
import type { Urgency } from '../../shared/review.ts';
import { median } from '../change/robust.ts';
import { figure, minutesFigure } from './figures.ts';
import { ATMOSPHERE_KPA } from './gas-flow.ts';
import { pipeLitres } from './leak-terms.ts';
import { slopePerMin } from './slope-windows.ts';
import type { Sample } from './tracks.ts';

export type UrgencyInput = {
  readonly generator: GeneratorRecord;
  /** Demand of the last good days: NL/min, or the tank's kPa/min; null where only ratios are known. */
  readonly demand: { readonly value: number; readonly unit: 'NL/min' | 'kPa/min' } | null;
  /** Of the riser nearest to its low-pressure signal; null where it isn't sent. */
  readonly systemKPa: number | null;
  /** A fall of the piping that was seen while nothing fed it, kPa/h. */
  readonly measuredFallKPaPerHour: number | null;
  /** A finding says that the supply is shut: the tank carries nothing then. */
  readonly supplyShut?: boolean;
};

/** Beyond a month nobody plans by this figure. */
const MOST_HOURS = 720;
const ROOM_K = 293.15;
const NORMAL_K = 273.15;

/**
 * "If it stops now, the low-pressure signal comes in about 7 h": what the tank still gives from cut-in down to the piping's
 * pressure, then the piping's fall down to `lowPressureKPa`.
 *
 * The tank is taken at cut-in, the least that it holds in good order, and the piping's fall as steady, which it isn't as it
 * empties: both make the time rather too short. Without a fall that was measured, all demand is taken as the piping's. Cooling
 * of the piping comes on top and isn't in it. What is missing is named, and no hours are given then.
 */
export function urgency(input: UrgencyInput): Urgency {
  const { generator } = input;
  const riser = lowestMargin(generator);
  const systemKPa = input.systemKPa ?? riser?.setKPa ?? null;
  const lowPressureKPa = riser?.lowPressureKPa ?? null;
  const fall = pipingFall(input);
  const base = { systemKPa, lowPressureKPa, pipingFallKPaPerHour: fall?.kPaPerHour ?? null, fallFrom: fall?.from ?? null };
  const missing = missingOf(systemKPa, lowPressureKPa, fall, generator);
  if (missing.length > 0 || systemKPa === null || lowPressureKPa === null || fall === null) return { ...base, ifStopsHours: null, ifShutHours: null, says: `How long until the low-pressure signal can’t be told: ${missing.join('; ')}.` };
  if (systemKPa <= lowPressureKPa) return { ...base, ifStopsHours: 0, ifShutHours: 0, says: `The piping stands at ${figure(systemKPa)} kPa, at or below its low-pressure signal at ${figure(lowPressureKPa)} kPa.` };
  const pipingHours = (systemKPa - lowPressureKPa) / fall.kPaPerHour;
  const tankHours = input.supplyShut === true ? null : tankLasts(input, systemKPa);
  const whole = pipingHours + (tankHours ?? 0);
  const from = fall.from === 'measured' ? 'as measured while nothing fed it' : 'reckoned as if all demand were lost in the piping, so rather too fast';
  const piping = `the piping falls by ${figure(fall.kPaPerHour)} kPa/h (${from}) from ${figure(systemKPa)} to ${figure(lowPressureKPa)} kPa`;
  if (pipingHours > MOST_HOURS) return { ...base, ifStopsHours: null, ifShutHours: null, says: `If it stops now, the low-pressure signal doesn’t come within a month: ${piping}.` };
  if (input.supplyShut === true) return { ...base, ifStopsHours: pipingHours, ifShutHours: pipingHours, says: `Its supply looks shut: the low-pressure signal of the piping comes in about ${minutesFigure(pipingHours * 60)}, because ${piping}.` };
  const says = `If it stops now, the low-pressure signal of the piping comes in about ${minutesFigure(whole * 60)}: ${tankHours === null ? '' : `the tank carries it for ${minutesFigure(tankHours * 60)}, then `}${piping}. If its supply is shut now, in about ${minutesFigure(pipingHours * 60)}.`;
  return { ...base, ifStopsHours: whole, ifShutHours: pipingHours, says };
}

type Fall = { readonly kPaPerHour: number; readonly from: 'measured' | 'from demand' };

function pipingFall({ generator, demand, measuredFallKPaPerHour }: UrgencyInput): Fall | null {
  if (measuredFallKPaPerHour !== null && measuredFallKPaPerHour > 0) return { kPaPerHour: measuredFallKPaPerHour, from: 'measured' };
  const litres = pipeLitres(generator);
  const nlPerMin = demand === null ? null : demand.unit === 'NL/min' ? demand.value : generator.tankLitres === undefined ? null : (demand.value * generator.tankLitres * NORMAL_K) / (ATMOSPHERE_KPA * ROOM_K);
  if (litres === null || nlPerMin === null || !(nlPerMin > 0)) return null;
  return { kPaPerHour: ((nlPerMin * 60 * ATMOSPHERE_KPA) / litres) * (ROOM_K / NORMAL_K), from: 'from demand' };
}

/** Hours that the tank feeds the piping from cut-in down to the piping's pressure. */
function tankLasts({ generator, demand }: UrgencyInput, systemKPa: number): number | null {
  const { cutInKPa, tankLitres } = generator;
  if (demand === null || cutInKPa === undefined || !(demand.value > 0) || cutInKPa <= systemKPa) return null;
  const kPaPerMin = demand.unit === 'kPa/min' ? demand.value : tankLitres === undefined ? null : (demand.value * ATMOSPHERE_KPA * ROOM_K) / (tankLitres * NORMAL_K);
  return kPaPerMin === null ? null : (cutInKPa - systemKPa) / kPaPerMin / 60;
}

/** The riser whose set pressure stands least above its low-pressure signal; without set pressures the one that signals highest. */
function lowestMargin(generator: GeneratorRecord): { readonly setKPa?: number | undefined; readonly lowPressureKPa: number } | undefined {
  const known = generator.risers.flatMap((riser) => (riser.lowPressureKPa === undefined ? [] : [{ setKPa: riser.setKPa, lowPressureKPa: riser.lowPressureKPa }]));
  return known.sort((a, b) => (a.setKPa ?? 0) - a.lowPressureKPa - ((b.setKPa ?? 0) - b.lowPressureKPa))[0];
}

function missingOf(systemKPa: number | null, lowPressureKPa: number | null, fall: Fall | null, generator: GeneratorRecord): string[] {
  const missing: string[] = [];
  if (systemKPa === null) missing.push('the piping’s pressure isn’t sent, and no set pressure is registered');
  if (lowPressureKPa === null) missing.push('no lowPressureKPa is registered');
  if (fall === null) missing.push(pipeLitres(generator) === null ? 'the piping’s litres aren’t registered, and its fall was never measured' : 'demand isn’t known as an amount of gas, and the piping’s fall was never measured');
  return missing;
}

/** A fall is measured where the piping lost this much at least, within one of these spans. */
const LEAST_FALL_KPA = 3;
const SPANS_MS = [3_600_000, 3 * 3_600_000] as const;
/** It is straight if the readings scatter about it by less than this share of the fall. */
const STRAIGHT_SHARE = 0.1;
/** Piping below this share of its usual pressure was let down by somebody. */
const LET_DOWN = 0.6;

/**
 * Fall of the piping, kPa/h, from the newest hour (or three) in which it fell by 3 kPa or more on a straight line: its supply
 * was shut, or nothing was left to feed it. `null` without one. A regulator's own steps are smaller; a letting-down isn't
 * straight, and ends far below.
 */
export function measuredFall(samples: readonly Sample[]): number | null {
  const usual = median(samples.map(([, value]) => value)) ?? 0;
  for (let last = samples.length - 1; last >= 0; last -= 1) {
    for (const spanMs of SPANS_MS) {
      let first = last;
      while (first > 0 && samples[last]![0] - samples[first]![0] < spanMs) first -= 1;
      const [from, to] = [samples[first]!, samples[last]!];
      if (to[0] - from[0] < spanMs || to[0] - from[0] > 1.5 * spanMs || from[1] - to[1] < LEAST_FALL_KPA || to[1] < LET_DOWN * usual) continue;
      const some = samples.slice(first, last + 1);
      const slope = slopePerMin(some);
      if (slope !== undefined && scatterAbout(some, slope) < STRAIGHT_SHARE * (from[1] - to[1])) return -slope * 60;
    }
  }
  return null;
}

/** Root mean square of the readings about the line of this slope. */
function scatterAbout(samples: readonly Sample[], perMin: number): number {
  const meanMs = samples.reduce((sum, [atMs]) => sum + atMs, 0) / samples.length;
  const mean = samples.reduce((sum, [, value]) => sum + value, 0) / samples.length;
  const squares = samples.reduce((sum, [atMs, value]) => sum + (value - mean - (perMin * (atMs - meanMs)) / 60_000) ** 2, 0);
  return Math.sqrt(squares / samples.length);
}
