import { type DeliveryCurve, onCurve } from './delivery-curve.ts';
import type { FeedSpec } from './feed-train.ts';
import { amountNL, atmosphereKPa, pressureAbsKPa } from './gas.ts';
import { type ReceiverSpec, type ReceiverState, startReceiver } from './receiver.ts';
import type { Dice } from './random.ts';
import { riserAbsKPa, type RiserSpec, type RiserState } from './riser.ts';
import { type Air, startWeather, type Surroundings, weatherAt, type WeatherState } from './weather.ts';

export const MINUTE_MS = 60_000;

export type PlantSpec = {
  readonly elevationM: number;
  readonly tankLitres: number;
  readonly cutInKPa: number;
  readonly cutOutKPa: number;
  /** Scatter of the pressure switch from one cycle to the next, sd. */
  readonly switchJitterKPa: number;
  readonly feed: FeedSpec;
  /** Bowls and membrane housing before the check valve. */
  readonly houseLitres: number;
  readonly bowlMl: number;
  readonly healthyTankLeakMm2: number;
  readonly risers: readonly RiserSpec[];
  readonly surroundings: Surroundings;
  /** An air receiver between compressor and elements; none when left out. */
  readonly receiver?: ReceiverSpec;
};

/** What ended a stretch before its time: the motor, or with an air receiver the membrane valve, started or stopped. */
export type PlantEvent = 'start' | 'stop' | undefined;

/** Running totals since the start, NL. product = content of tank and pipes + all that left; intake = product + vented + what stands in the housing. */
export type Book = { intakeNL: number; ventedNL: number; productNL: number; tankLeakNL: number; backNL: number; reliefNL: number; pipeLostNL: number; suppliedNL: number; otherNL: number; /** Minutes in which product flowed. */ flowMin: number };

export type PlantState = {
  atMs: number;
  weather: WeatherState;
  weatherDice: Dice;
  switchDice: Dice;
  air: Air;
  running: boolean;
  /** The pressure switch calls for a run, whether or not one is possible. */
  calling: boolean;
  runStartMs: number;
  stopMs: number;
  checkOpensMs: number;
  /** The motor may not start before. */
  heldUntilMs: number;
  powered: boolean;
  cutInKPa: number;
  cutOutKPa: number;
  tankNL: number;
  tankK: number;
  tankOxygen: number;
  productOxygen: number;
  houseAbsKPa: number;
  risers: RiserState[];
  curve: DeliveryCurve;
  curveMs: number;
  wear: number;
  loading: [number, number, number, number];
  waterMl: number;
  unloadedRunMin: number;
  runS: number;
  starts: number;
  book: Book;
  /** The compressor and its receiver, where there is one: then `running` is the membrane valve. */
  receiver: ReceiverState | null;
  /** Source pressure that the curve was made for. */
  curveSourceKPa: number;
};

/** A plant in good order, tank somewhere in its band, at rest. `share` 0..1 says where in the band. */
export function startPlant(spec: PlantSpec, startMs: number, weatherDice: Dice, switchDice: Dice, share: number): PlantState {
  const weather = startWeather(spec.surroundings, startMs, weatherDice);
  const air: Air = { roomC: 0, dewC: 0, pipeC: 0, pipeCPerMin: 0, outdoorC: 0 };
  weatherAt(weather, spec.surroundings, startMs, weatherDice, () => 0, air);
  const atmKPa = atmosphereKPa(spec.elevationM);
  const tankK = air.roomC + 273.15;
  return {
    atMs: startMs, weather, weatherDice, switchDice, air,
    running: false, calling: false, runStartMs: 0, stopMs: startMs - 3_600_000, checkOpensMs: 0, heldUntilMs: 0, powered: true,
    cutInKPa: spec.cutInKPa, cutOutKPa: spec.cutOutKPa,
    tankNL: amountNL(spec.cutInKPa + 5 + share * (spec.cutOutKPa - spec.cutInKPa - 5) + atmKPa, spec.tankLitres, tankK), tankK, tankOxygen: 0.015, productOxygen: 0.015, houseAbsKPa: atmKPa,
    risers: spec.risers.map((riser) => ({ pipeNL: amountNL(riser.setKPa - 0.5 * riser.deadBandKPa + atmKPa, riser.pipeLitres, air.pipeC + 273.15), oxygen: 0.018, open: false })),
    curve: { lowAbsKPa: 0, stepKPa: 1, product: [0, 0, 0], intake: [0, 0, 0], oxygen: [0, 0, 0], discharge: [0, 0, 0], feed: [0, 0, 0] }, curveMs: 0,
    wear: 0, loading: [0, 0, 0, 0], waterMl: 0, unloadedRunMin: 0, runS: 0, starts: 0,
    book: { intakeNL: 0, ventedNL: 0, productNL: 0, tankLeakNL: 0, backNL: 0, reliefNL: 0, pipeLostNL: 0, suppliedNL: 0, otherNL: 0, flowMin: 0 },
    receiver: spec.receiver === undefined ? null : startReceiver(spec.receiver, atmKPa, tankK), curveSourceKPa: 0,
  };
}

export function tankAbsKPa(state: PlantState, spec: PlantSpec): number {
  return pressureAbsKPa(state.tankNL, spec.tankLitres, state.tankK);
}

/** Oxygen of the product at this moment of a run: the housing was full of air that had come back, and clears in minutes. */
export function productOxygenNow(state: PlantState, spec: PlantSpec): number {
  if (!state.running) return state.productOxygen;
  const steady = onCurve(state.curve, state.curve.oxygen, tankAbsKPa(state, spec));
  const sinceMin = Math.max(0, (state.atMs - state.checkOpensMs) / MINUTE_MS);
  const restedMin = (state.runStartMs - state.stopMs) / MINUTE_MS;
  return steady + 0.05 * (1 - Math.exp(-restedMin / 25)) * Math.exp(-sinceMin / 1.6);
}

/** Gauge pressure of a riser's piping, kPa. */
export function riserGaugeKPa(state: PlantState, spec: PlantSpec, index: number): number {
  return riserAbsKPa(state.risers[index]!, spec.risers[index]!, state.air.pipeC) - atmosphereKPa(spec.elevationM);
}
