import type { LimitName } from '../shared/finding.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import { type GeneratorRecord, generatorsOf, generatorSchema } from '../shared/registry.ts';
import { DAY_MS, isoFromMs } from '../shared/time.ts';
import { advanceGenerator } from './generator.ts';
import { type GeneratorState, prepareGenerator } from './generator-state.ts';
import { onCurve } from './plant/delivery-curve.ts';
import { motorOf } from './plant/motor.ts';
import { MINUTE_MS, type PlantState, productOxygenNow, tankAbsKPa } from './plant/plant-state.ts';
import type { GeneratorScenario } from './scenario.ts';
import type { World } from './world.ts';

/** A generator left alone from `at` on: hours over a limit, or called for and not running, in the next 30 days, and when each limit is crossed; null = not within the horizon. */
export type Branch = { readonly at: string; readonly site: string; readonly generator: string; readonly lossHours: number; readonly crossings: Readonly<Partial<Record<LimitName, string | null>>> };

/** A world is branched so often. */
export const BRANCH_EVERY_DAYS = 30;
const LOSS_DAYS = 30;
/** As far ahead as forecasts look, so that every date that is stated can be judged. */
const HORIZON_DAYS = 365;
/** After the days that count hour by hour, one day of so many is lived and the others are taken to be like it. */
const STRIDE_DAYS = 3;
/** With nothing wrong a day tells more days. */
const HEALTHY_STRIDE_DAYS = 6;
/** A gateway's look at the plant inside a branch. */
const LOOK_MS = 15 * MINUTE_MS;

/**
 * What would happen to each generator if nobody went there from now on: what is wrong now goes on, visits and what people
 * do are left out, what has not begun yet doesn't begin, the weather goes on. Nothing is reported, which makes it cheap:
 * about 50 ms a generator. The world itself is not touched.
 */
export function branchWorld(world: World, horizonDays = HORIZON_DAYS): Branch[] {
  const records = new Map<string, GeneratorRecord>(generatorsOf(world.scenario.registry).map((one) => [one.key, one.generator]));
  return world.scenario.generators.map((generator, index) => {
    const record = records.get(generator.key) ?? generatorSchema.parse({ id: 'gen-1' });
    return branchOf(world, leftAlone(world, generator), world.generators[index]!, record, horizonDays);
  });
}

/** The scenario without anybody's doing, and without what lies ahead but weather. */
function leftAlone(world: World, generator: GeneratorScenario): GeneratorScenario {
  const day = (world.nowMs - Math.floor(world.startMs / DAY_MS) * DAY_MS) / DAY_MS;
  const faults = generator.faults.map((fault) => {
    if (fault.fromDay > day) return { ...fault, fromDay: Infinity };
    const over = fault.toDay !== undefined && fault.toDay <= day;
    if (over) return fault;
    const { toDay, badlyMended, ...on } = fault;
    return { ...on, ...(toDay !== undefined && fault.endedBy === undefined ? { toDay } : {}), ...(badlyMended !== undefined && badlyMended.fromDay <= day ? { badlyMended } : {}) };
  });
  return { ...generator, channels: [], reportEveryS: 3600, faults, visits: generator.visits.filter((visit) => visit.atDay + visit.hours / 24 <= day), upsets: generator.upsets.filter((upset) => upset.kind === 'cold-snap' || upset.fromDay <= day) };
}

/** What a day was like, in the measures that have limits. */
type DayValues = { readonly dutyRatio: number; readonly elementDropKPa: number | undefined; readonly nitrogen: number | undefined; readonly deliveryShare: number | undefined; /** Hours in which it was called for and did not run. */ readonly stuckH: number };
type Look = { drop: number; oxygen: number; weight: number; stuckMin: number };

function branchOf(world: World, scenario: GeneratorScenario, from: GeneratorState, record: GeneratorRecord, horizonDays: number): Branch {
  const state = structuredClone(from);
  const prepared = prepareGenerator(scenario);
  state.pending = [];
  // Nobody asks a branch for its truth.
  state.nextLookMs = Infinity;
  const beyond: Record<LimitName, number[]> = { dutyRatio: [], elementDropKPa: [], nitrogen: [], deliveryShare: [] };
  const later = scenario.faults.some((fault) => fault.fromDay !== Infinity) ? STRIDE_DAYS : HEALTHY_STRIDE_DAYS;
  let lossHours = 0;
  for (let day = 0; day < horizonDays; ) {
    const stride = day < LOSS_DAYS ? 1 : later;
    const before = { loading: [...state.plant.loading], wear: state.plant.wear };
    const values = liveDay(world, scenario, prepared, state, record);
    const past = pastLimits(values, record);
    for (const name of past) beyond[name].push(day);
    // Limits are those of a day's mean, so a day is past them as a whole; a compressor that stands still loses its own hours.
    if (day < LOSS_DAYS) lossHours += past.length > 0 ? 24 : values.stuckH;
    if (stride > 1) skip(state.plant, before, stride - 1);
    state.nextBeatMs += (stride - 1) * DAY_MS;
    state.nextReportMs += (stride - 1) * DAY_MS;
    day += stride;
  }
  const { site, generator } = splitGeneratorKey(scenario.key);
  const crossings: Partial<Record<LimitName, string | null>> = {};
  for (const name of Object.keys(beyond) as LimitName[]) {
    const day = lastingFrom(beyond[name], later);
    crossings[name] = day === undefined ? null : isoFromMs(world.nowMs + day * DAY_MS);
  }
  return { at: isoFromMs(world.nowMs), site, generator, lossHours: Math.round(100 * lossHours) / 100, crossings };
}

/** The first day past a limit that is followed by another within two days lived: one odd day is no crossing. */
function lastingFrom(days: readonly number[], later: number): number | undefined {
  for (let index = 0; index + 1 < days.length; index += 1) {
    const first = days[index]!;
    if (days[index + 1]! - first <= 2 * (first < LOSS_DAYS - 2 ? 1 : later)) return first;
  }
  return undefined;
}

function pastLimits(values: DayValues, record: GeneratorRecord): LimitName[] {
  const { limits, nitrogenLimit } = record;
  const past: LimitName[] = [];
  if (values.dutyRatio > limits.dutyRatio) past.push('dutyRatio');
  if ((values.elementDropKPa ?? 0) > limits.elementDropKPa) past.push('elementDropKPa');
  if ((values.nitrogen ?? 1) < nitrogenLimit) past.push('nitrogen');
  if ((values.deliveryShare ?? 1) < limits.deliveryShare) past.push('deliveryShare');
  return past;
}

/** Live one day and look at it; means over the run time of what only a run can show. */
function liveDay(world: World, scenario: GeneratorScenario, prepared: ReturnType<typeof prepareGenerator>, state: GeneratorState, record: GeneratorRecord): DayValues {
  const { plant } = state;
  const startMs = plant.atMs;
  const { runS, book } = { runS: motorOf(plant).runS, book: { ...plant.book } };
  const look: Look = { drop: 0, oxygen: 0, weight: 0, stuckMin: 0 };
  while (plant.atMs < startMs + DAY_MS) {
    const atMs = plant.atMs;
    const runBefore = plant.runS;
    advanceGenerator(state, scenario, prepared, world.startMs, Math.min(atMs + LOOK_MS, startMs + DAY_MS));
    lookAt(plant, scenario, look, (plant.runS - runBefore) / 60, (plant.atMs - atMs) / MINUTE_MS);
  }
  const minutes = (plant.atMs - startMs) / MINUTE_MS;
  const flowMin = plant.book.flowMin - book.flowMin;
  const delivered = plant.book.productNL - book.productNL;
  // Called for and not running for half of the day: it delivers nothing of what it should.
  const stuck = look.stuckMin > minutes / 2;
  const share = record.ratedNLPerMin === undefined || flowMin < 2 ? undefined : delivered / flowMin / record.ratedNLPerMin;
  return { dutyRatio: (motorOf(plant).runS - runS) / 60 / minutes, elementDropKPa: look.weight > 0 ? look.drop / look.weight : undefined, nitrogen: look.weight > 0 ? 1 - look.oxygen / look.weight : undefined, deliveryShare: stuck ? 0 : share, stuckH: look.stuckMin / 60 };
}

function lookAt(plant: PlantState, scenario: GeneratorScenario, look: Look, ranMin: number, minutes: number): void {
  const motor = motorOf(plant);
  if (motor.calling && !motor.running && ranMin === 0) look.stuckMin += minutes;
  if (ranMin <= 0 || plant.curveMs === 0) return;
  const tankAbs = tankAbsKPa(plant, scenario.plant);
  look.drop += ranMin * (onCurve(plant.curve, plant.curve.discharge, tankAbs) - onCurve(plant.curve, plant.curve.feed, tankAbs));
  // At rest the product's oxygen is that of the end of the last run.
  look.oxygen += ranMin * (plant.running && plant.atMs - plant.runStartMs < 5 * MINUTE_MS ? onCurve(plant.curve, plant.curve.oxygen, tankAbs) : productOxygenNow(plant, scenario.plant));
  look.weight += ranMin;
}

/** Let so many days pass as the last one did: elements load and rings wear by their rates, gas stays where it is. */
function skip(plant: PlantState, before: { readonly loading: readonly number[]; readonly wear: number }, days: number): void {
  for (let index = 0; index < 4; index += 1) plant.loading[index]! += days * (plant.loading[index]! - before.loading[index]!);
  plant.wear += days * (plant.wear - before.wear);
  plant.curveMs = 0;
  for (const time of ['atMs', 'runStartMs', 'stopMs', 'checkOpensMs', 'heldUntilMs'] as const) plant[time] += days * DAY_MS;
}
