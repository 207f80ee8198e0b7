import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { normalDensity } from '../change/normal.ts';
import { certainCondition, type Condition } from './condition.ts';
import { ELEMENTS_WITH_DROP, setRightAt } from './mends.ts';
import type { Bend } from './band-moves.ts';
import type { BandShift } from './set-point.ts';

/*
 * Gauges that went on moving and yet lie: one channel leaves the others alone. Looked at before anything is called a leak,
 * a lost delivery or a new set point (design, section 6: "the balance no longer closes: one channel moves alone").
 */

/** How far a series is from its baseline since something began. */
export type Level = { readonly effect: number; readonly se: number };

/** Demand and delivery move by the same share while run and rest do not: the scale of the tank's gauge. Common practice, no source. */
const ALIKE = 0.05;
/** Smaller changes of scale show in the band that the controller seems to hold; demand wanders by as much. */
const LEAST_SCALE = 0.35;
/** ln of the duty ratio by which run and rest are still as they were. */
const SAME_DUTY = 0.1;
/** The same beside a very large change of scale, as a share of it, and at most: demand wanders meanwhile. */
const SAME_SHARE = 0.1;
const MOST_DUTY = 0.3;
/** Standard error of that from which on nothing is known about it. */
const DUTY_KNOWN = 0.15;

/**
 * Demand and delivery are both the tank's slopes: a gauge whose scale changes moves both by the same share, and leaves run
 * and rest as they were. A leak moves one of them, a lost delivery the other, and both show in the duty ratio.
 */
export function scaledGauge(demand: Level, delivery: Level, duty: Level, sinceMs: number): Condition | undefined {
  const apart = Math.abs(demand.effect - delivery.effect);
  const least = Math.min(Math.abs(demand.effect), Math.abs(delivery.effect));
  if (Math.sign(demand.effect) !== Math.sign(delivery.effect) || least < LEAST_SCALE || apart > Math.max(ALIKE, 0.1 * least)) return undefined;
  if (Math.abs(duty.effect) > Math.max(SAME_DUTY, Math.min(MOST_DUTY, SAME_SHARE * least)) || duty.se > DUTY_KNOWN) return undefined;
  const share = Math.round(Math.abs(Math.expm1((demand.effect + delivery.effect) / 2)) * 100);
  const says = `Demand and delivery both ${demand.effect > 0 ? 'rose' : 'fell'} by ${share} % by the tank's gauge, while run and rest are as they were: its scale or its place has changed, not the flow.`;
  return { ...certainCondition('sensor', 'sensor-fault', 0.93, sinceMs, says, false), ofTank: true };
}

/** Starts and stops moved by the same ratio within this (natural logarithm), or by the same pressure within this, or within two scatters of their days: rare reports miss them by tens of kPa. */
const SAME_RATIO = 0.025;
const SAME_SHIFT_KPA = 6;
const SAME_SHIFT_SD = 2;
/** No switch is turned so far that the stop ends below or above so many times the old one. Common practice, no source. */
const FAR = Math.log(1.7);

/** A band that moved further than any switch is turned. */
export function isFar({ stopKPa, wasStopKPa }: BandShift): boolean {
  return Math.abs(Math.log(Math.max(1, wasStopKPa + stopKPa) / wasStopKPa)) > FAR;
}
/** Standard atmosphere at sea level, and what the height of places takes from it, kPa: a gauge that reads absolute is off by this. */
const ATMOSPHERE_KPA = [88, 104] as const;

/** Betas of the design, section 6, from a restriction to a floating membrane. */
const BETAS = [0.3, 0.7, 1.2, 1.8, 2.5] as const;
/** Prior odds that a gauge stands off rather than that somebody turned the switch; a whole atmosphere makes the gauge likelier. */
const GAUGE_ODDS = 0.35;
const ATMOSPHERE_ODDS = 4;

/**
 * Chance that a band which seems to have moved is the gauge's fault, 0..1. A real band moves delivery (Q(p) of the design) and
 * the pressure after the elements with it; a gauge that stands off moves itself alone; one that is scaled moves starts and
 * stops by the same share and not by the same pressure.
 *
 * @param delivery how ln(delivery) stands since, or undefined where it isn't known.
 * @param feedKPa how the pressure after the elements stands since.
 * @param bend β as it was learned; else it may be any that is seen.
 */
export function chanceOfGauge(shift: BandShift, delivery: Level | undefined, feedKPa: Level | undefined, bend?: Bend): number {
  const { startKPa, stopKPa, wasStartKPa, wasStopKPa, scatterKPa } = shift;
  const ratioStart = Math.log(Math.max(1, wasStartKPa + startKPa) / wasStartKPa);
  const ratioStop = Math.log(Math.max(1, wasStopKPa + stopKPa) / wasStopKPa);
  if (isFar(shift)) return 0.95;
  const apartKPa = Math.abs(startKPa - stopKPa);
  const scaledApartKPa = Math.abs(stopKPa - (startKPa * wasStopKPa) / wasStartKPa);
  if (Math.abs(ratioStart - ratioStop) < SAME_RATIO && scaledApartKPa < apartKPa && apartKPa > SAME_SHIFT_KPA) return 0.9;
  if (apartKPa > Math.max(SAME_SHIFT_KPA, SAME_SHIFT_SD * scatterKPa)) return 0.1;
  const meanKPa = (startKPa + stopKPa) / 2;
  let odds = GAUGE_ODDS * (meanKPa > ATMOSPHERE_KPA[0] && meanKPa < ATMOSPHERE_KPA[1] ? ATMOSPHERE_ODDS : 1);
  if (delivery !== undefined) {
    const se = Math.hypot(delivery.se, 0.015);
    const share = meanKPa / (wasStopKPa + 101);
    const betas = bend === undefined ? BETAS : [bend.beta - bend.se, bend.beta, bend.beta + bend.se];
    const real = betas.map((beta) => normalDensity((delivery.effect + beta * share) / se)).reduce((sum, one) => sum + one, 0) / betas.length;
    odds *= (normalDensity(delivery.effect / se) + 1e-3) / (real + 1e-3);
  }
  if (feedKPa !== undefined) odds *= Math.abs(feedKPa.effect) > Math.max(0.3 * Math.abs(meanKPa), 2 * feedKPa.se) ? 0.05 : 2;
  return odds / (1 + odds);
}

/** Elements that are loaded, or flooded, don't hold back more than this, kPa; common practice, no source. */
export const MOST_DROP_KPA = 250;
/** A drop below zero by more than two gauges of usual class differ. */
const LEAST_DROP_KPA = -12;
const JUDGED_DAYS = 2;

/** Where delivery went with it, water or dirt may really stop the flow. */
const GONE_SHARE = 0.7;

function deliveryWent(rows: readonly DayRow[], sinceMs: number): boolean {
  const of = (some: readonly DayRow[]): number | undefined => median(some.flatMap((row) => row.delivery?.value ?? []));
  const before = of(rows.filter((row) => row.startMs < sinceMs).slice(-14));
  const now = of(rows.filter((row) => row.startMs >= sinceMs));
  return before !== undefined && (now === undefined || now < GONE_SHARE * before);
}

/** Water and dirt take days to hold back so much; a gauge does it at once. */
function cameSlowly(rows: readonly DayRow[]): boolean {
  const drops = rows.filter((row) => row.elementDropKPa !== null);
  const lastRight = drops.findLastIndex((row) => row.elementDropKPa!.value <= MOST_DROP_KPA);
  return drops.slice(Math.max(0, lastRight + 1 - JUDGED_DAYS), lastRight + 1).some((row) => row.elementDropKPa!.value > MOST_DROP_KPA / 2);
}

/** Pressures before and after the elements that can't both be right: gas doesn't flow uphill, and elements don't hold back all. */
export function impossibleDrop(rows: readonly DayRow[]): Condition | undefined {
  const last = rows.filter((row) => row.elementDropKPa !== null).slice(-JUDGED_DAYS);
  if (last.length < JUDGED_DAYS) return undefined;
  const dropKPa = median(last.map((row) => row.elementDropKPa!.value))!;
  const wrong = (row: DayRow): boolean => row.elementDropKPa!.value < LEAST_DROP_KPA || row.elementDropKPa!.value > MOST_DROP_KPA;
  if (!last.every(wrong)) return undefined;
  if (dropKPa > 0 && (deliveryWent(rows, last[0]!.startMs) || cameSlowly(rows))) return undefined;
  const says = dropKPa < 0 ? `The pressure after the elements reads ${Math.round(-dropKPa)} kPa above the one before them while the compressor runs; air does not flow uphill: one of the two gauges is wrong, or their wires are exchanged.` : `The elements seem to hold back ${Math.round(dropKPa)} kPa, more than elements do: one of the two gauges is wrong.`;
  return { ...certainCondition('sensor', 'sensor-fault', 0.93, last[0]!.startMs, says, false), lying: ['elements'] };
}

/** A drop that turned over was so large at least, and is the same within so much or this share of it, kPa: what two gauges of usual class may differ by. */
const TURNED_KPA = 6;
const MIRROR_KPA = 2;
const MIRROR_SHARE = 0.3;
const BEFORE_DAYS = 14;

/** The drop over the elements has from one day to the next the same size and the other sign: the wires of its two gauges were exchanged. Not where elements were changed then: whatever their gauges differ by, the drop falls. */
export function turnedDrop(rows: readonly DayRow[], entries: readonly Entry[]): Condition | undefined {
  const drops = rows.filter((row) => row.elementDropKPa !== null);
  const last = drops.slice(-JUDGED_DAYS);
  const nowKPa = median(last.map((row) => row.elementDropKPa!.value));
  const since = drops.findLastIndex((row) => row.elementDropKPa!.value > 0) + 1;
  const beforeKPa = median(drops.slice(Math.max(0, since - BEFORE_DAYS), since).map((row) => row.elementDropKPa!.value));
  if (last.length < JUDGED_DAYS || nowKPa === undefined || beforeKPa === undefined || since < LEAST_BEFORE || since === drops.length || beforeKPa < TURNED_KPA) return undefined;
  const mirrorKPa = Math.max(MIRROR_KPA, MIRROR_SHARE * beforeKPa);
  if (!last.every((row) => row.elementDropKPa!.value < -beforeKPa / 2 && row.elementDropKPa!.se < mirrorKPa) || Math.abs(nowKPa + beforeKPa) > mirrorKPa) return undefined;
  if (entries.some((entry) => entry.replaced.some((part) => ELEMENTS_WITH_DROP.has(part)) && Date.parse(entry.finishedAt ?? entry.startedAt) > drops[since - 1]!.startMs && Date.parse(entry.startedAt) < drops[since]!.endMs + LOGGED_LATE_MS)) return undefined;
  return { ...certainCondition('sensor', 'sensor-fault', 0.93, drops[since]!.startMs, `The pressure after the elements reads ${Math.round(-nowKPa)} kPa above the one before them; until then it read ${Math.round(beforeKPa)} kPa below: the wires of the two gauges were exchanged.`, false), lying: ['elements'] };
}

/** A visit is logged by the day. Common practice, no source. */
const LOGGED_LATE_MS = DAY_MS;
const LEAST_BEFORE = 7;

/** Air holds 78.1 % nitrogen and 0.9 % argon, which is counted with it (ISO 2533): gas that is poorer than air doesn't come out of a generator. */
const AIR_RATIO = 0.78;

/** Nitrogen below that of air for two days: the cell, its line or its unit. */
export function impossibleNitrogen(rows: readonly DayRow[]): Condition | undefined {
  const last = rows.filter((row) => row.nitrogen !== null).slice(-JUDGED_DAYS);
  if (last.length < JUDGED_DAYS || !last.every((row) => row.nitrogen!.value < AIR_RATIO)) return undefined;
  return { ...certainCondition('sensor', 'sensor-fault', 0.95, last[0]!.startMs, `Nitrogen reads ${(last.at(-1)!.nitrogen!.value * 100).toFixed(1)} %, less than air holds: the analyser, its sample line or its unit is wrong.`, false), lying: ['nitrogen'] };
}

/** Piping that reads so much higher or lower (natural logarithm) than in the two weeks before, while as much is drawn as before. */
const PIPING_JUMP = Math.log(1.4);
/** Empty piping has no ratio: a jump is of so many kPa at least. */
const PIPING_JUMP_KPA = 20;
const SAME_DEMAND = 0.2;
const SAGGED = 0.1;
/** Share of what it was within which piping has come back to it. */
const CAME_BACK = 0.05;
/** Piping that holds stays within this share of its usual pressure on so many of the days. */
const HELD_SHARE = 0.2;
const HELD_DAYS = 0.7;

/** Farther off than any regulator is turned, or by an atmosphere upwards. */
function jumped(isKPa: number, wasKPa: number): boolean {
  const byKPa = isKPa - wasKPa;
  return (byKPa > ATMOSPHERE_KPA[0] && byKPa < ATMOSPHERE_KPA[1]) || (Math.abs(byKPa) > PIPING_JUMP_KPA && Math.abs(Math.log(Math.max(1, isKPa) / Math.max(1, wasKPa))) > PIPING_JUMP);
}

/** Whether it reads further from what the piping is set to than it did: no visit set it right so. */
function isFurther(isKPa: number, wasKPa: number, setKPa: number | undefined): boolean {
  return setKPa !== undefined && Math.abs(isKPa - setKPa) > Math.abs(wasKPa - setKPa);
}

/** The piping's gauge jumped: piping that really lost a third of its pressure, or gained it, would have changed what is drawn. `setKPa`: what the piping is set to, of several risers in the mean, as their pressure is kept. */
export function jumpedPiping(rows: readonly DayRow[], entries: readonly Entry[], setKPa?: number): Condition | undefined {
  const held = rows.filter((row) => row.systemKPa !== null && row.demand !== null && row.starts > 0 && row.holdingRatio > 0.9);
  // It stays where it jumped to until somebody sets it right: the first of the last days since which it has been off.
  for (let since = LEAST_PIPING_DAYS; since <= held.length - JUDGED_DAYS; since += 1) {
    const condition = jumpedSince(held, since, entries, setKPa);
    if (condition !== undefined) return condition;
  }
  return undefined;
}

/** Days that say where it stood before. */
const LEAST_PIPING_DAYS = 7;

function jumpedSince(held: readonly DayRow[], since: number, entries: readonly Entry[], setKPa: number | undefined): Condition | undefined {
  const last = held.slice(since);
  const before = held.slice(Math.max(0, since - BEFORE_DAYS), since);
  const lastRight = before.at(-1)!;
  const usualKPa = median(before.map((row) => row.systemKPa!.value))!;
  const isElsewhere = (row: DayRow): boolean => jumped(row.systemKPa!.value, usualKPa);
  if (!isElsewhere(last.at(-1)!) || isElsewhere(lastRight) || !last.every(isElsewhere)) return undefined;
  const usualDemand = median(before.map((row) => row.demand!.value))!;
  // It only comes back to where it stood before, as where it wasn't fed for two weeks.
  const earlierKPa = median(held.slice(0, Math.max(0, since - BEFORE_DAYS)).map((row) => row.systemKPa!.value));
  if (earlierKPa !== undefined && Math.abs(last.at(-1)!.systemKPa!.value - earlierKPa) < CAME_BACK * Math.abs(earlierKPa)) return undefined;
  const drawsAsBefore = (row: DayRow): boolean => Math.abs(Math.log(row.demand!.value / usualDemand)) < SAME_DEMAND;
  // What fell for days has no usual pressure to jump from.
  if (before.filter((row) => Math.abs(row.systemKPa!.value - usualKPa) <= HELD_SHARE * Math.abs(usualKPa)).length < HELD_DAYS * before.length) return undefined;
  // Piping that had begun to sag before goes on: nothing feeds it.
  if (!last.slice(0, JUDGED_DAYS).every(drawsAsBefore) || (setRightAt(entries, last[0]!.startMs) && !isFurther(last.at(-1)!.systemKPa!.value, usualKPa, setKPa)) || lastRight.systemKPa!.value < (1 - SAGGED) * usualKPa) return undefined;
  return { ...certainCondition('sensor', 'sensor-fault', 0.9, last[0]!.startMs, `The piping reads ${Math.round(last.at(-1)!.systemKPa!.value)} kPa after ${Math.round(usualKPa)} kPa, and as much is drawn as before: its gauge jumped.`, false), lying: ['piping'] };
}
