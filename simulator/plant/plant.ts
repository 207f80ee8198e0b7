import { condensateGramsPerNL } from './humid-air.ts';
import { type DeliveryCurve, curveCovers, deliveryCurve, onCurve } from './delivery-curve.ts';
import type { Departures } from './departures.ts';
import { ELEMENT_NAMES, loadElement } from './elements.ts';
import type { FeedSpec } from './feed-train.ts';
import { amountNL, atmosphereKPa, orificeNLPerMin, pressureAbsKPa } from './gas.ts';
import { type Dice, normal } from './random.ts';
import { applyStretch, riserAbsKPa, type RiserSpec, type RiserState, type RiserStretch, riserStretch } from './riser.ts';
import { type Air, startWeather, type Surroundings, weatherAt, type WeatherState } from './weather.ts';

const MINUTE_MS = 60_000;
/** Longest stretch without looking, minutes: at rest, and while something moves fast. */
const REST_STRETCH_MIN = 5;
const RUN_STRETCH_MIN = 1;
/** Tank gas: warmer than the room by this while gas flows in, and how fast it follows. Common practice, no source. */
const RUN_WARMING_K = 6;
const TANK_TAU_MIN = 7;
/** The empty housing loses its pressure through the membrane after a stop. */
const HOUSE_TAU_MIN = 4;
/** A curve is made anew after so long a run, because elements load and the room warms. */
const CURVE_MIN = 30;
const COOL_DOWN_MIN = 12;
/** Rings and valves lose 1 % of the flow in 1,000 h, about 3 % of the product; common practice, no source. */
export const WEAR_PER_H = 1e-5;

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
};

/** Running totals since the start, NL. product = content of tank and pipes + all that left; intake = product + vented + what stands in the housing. */
export type Book = { intakeNL: number; ventedNL: number; productNL: number; tankLeakNL: number; backNL: number; reliefNL: number; pipeLostNL: number; suppliedNL: number; otherNL: number };

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
};

/** What ended a stretch before its time. */
export type PlantEvent = 'start' | 'stop' | undefined;

/** A plant in good order, tank somewhere in its band, at rest. `share` 0..1 says where in the band. */
export function startPlant(spec: PlantSpec, startMs: number, weatherDice: Dice, switchDice: Dice, share: number): PlantState {
  const weather = startWeather(spec.surroundings, startMs, weatherDice);
  const air: Air = { roomC: 0, roomPercent: 0, pipeC: 0, pipeCPerMin: 0, outdoorC: 0 };
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
    book: { intakeNL: 0, ventedNL: 0, productNL: 0, tankLeakNL: 0, backNL: 0, reliefNL: 0, pipeLostNL: 0, suppliedNL: 0, otherNL: 0 },
  };
}

export function tankAbsKPa(state: PlantState, spec: PlantSpec): number {
  return pressureAbsKPa(state.tankNL, spec.tankLitres, state.tankK);
}

/**
 * Move the plant to `untilMs`, or to its next start or stop if that is sooner, and say which. Between two looks every flow is taken as constant at its middle value, so that amounts are
 * straight lines and temperature an exponential; the moment at which pressure meets the switch is solved for, not stepped to.
 */
export function advancePlant(state: PlantState, spec: PlantSpec, dep: Departures, coldC: (hourMs: number) => number, untilMs: number): PlantEvent {
  const atmKPa = atmosphereKPa(spec.elevationM);
  for (;;) {
    weatherAt(state.weather, spec.surroundings, state.atMs, state.weatherDice, coldC, state.air);
    const event = heedSwitch(state, spec, dep, atmKPa);
    if (event !== undefined || state.atMs >= untilMs) return event;
    stretch(state, spec, dep, atmKPa, untilMs);
  }
}

/** Close or open the pressure switch and start or stop the motor, at this moment. */
function heedSwitch(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): PlantEvent {
  const gaugeKPa = tankAbsKPa(state, spec) - atmKPa;
  if (!state.calling && gaugeKPa <= state.cutInKPa + dep.bandShiftKPa + 1e-6) {
    state.calling = true;
    state.cutOutKPa = spec.cutOutKPa + spec.switchJitterKPa * normal(state.switchDice);
  } else if (state.calling && gaugeKPa >= state.cutOutKPa + dep.bandShiftKPa - 1e-6 && !dep.stopBlocked) {
    state.calling = false;
    state.cutInKPa = spec.cutInKPa + spec.switchJitterKPa * normal(state.switchDice);
  }
  const powered = !dep.powerOff && !dep.lockedOut;
  if (powered && !state.powered) state.heldUntilMs = Math.max(state.heldUntilMs, state.atMs + MINUTE_MS);
  state.powered = powered;
  if (state.running && dep.tripsAfterMin > 0 && state.atMs >= state.runStartMs + dep.tripsAfterMin * MINUTE_MS - 1) {
    state.heldUntilMs = state.atMs + COOL_DOWN_MIN * MINUTE_MS;
  }
  const mayRun = powered && state.atMs >= state.heldUntilMs && state.calling;
  if (state.running && !mayRun) {
    stop(state, spec, dep, atmKPa);
    return 'stop';
  }
  if (state.running || !mayRun || dep.startBlocked) return undefined;
  start(state, spec, dep, atmKPa);
  return 'start';
}

function start(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): void {
  state.running = true;
  state.starts += 1;
  state.runStartMs = state.atMs;
  settle(state, spec, dep, atmKPa);
  const feedAbs = onCurve(state.curve, state.curve.feed, tankAbsKPa(state, spec));
  const needNL = amountNL(Math.max(0, feedAbs - state.houseAbsKPa), spec.houseLitres, state.air.roomC + 278.15);
  const intake = Math.max(1, onCurve(state.curve, state.curve.intake, tankAbsKPa(state, spec)));
  // Against a low pressure the compressor gives a tenth more, and the membrane takes a little of it meanwhile.
  const fillMin = needNL / intake;
  state.checkOpensMs = state.atMs + fillMin * MINUTE_MS;
}

function stop(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): void {
  state.productOxygen = productOxygenNow(state, spec);
  bookLoading(state, spec, dep, atmKPa);
  state.running = false;
  state.stopMs = state.atMs;
}

/** Oxygen of the product at this moment of a run: the housing was full of air that had come back, and clears in minutes. */
export function productOxygenNow(state: PlantState, spec: PlantSpec): number {
  if (!state.running) return state.productOxygen;
  const steady = onCurve(state.curve, state.curve.oxygen, tankAbsKPa(state, spec));
  const sinceMin = Math.max(0, (state.atMs - state.checkOpensMs) / MINUTE_MS);
  const restedMin = (state.runStartMs - state.stopMs) / MINUTE_MS;
  return steady + 0.05 * (1 - Math.exp(-restedMin / 25)) * Math.exp(-sinceMin / 1.6);
}

function settle(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): void {
  const now = tankAbsKPa(state, spec);
  const high = Math.max(now + 40, spec.cutOutKPa + dep.bandShiftKPa + atmKPa + 10);
  const overflowMl = Math.max(0, state.waterMl - spec.bowlMl);
  state.curve = deliveryCurve(spec.feed, { condition: 1 - state.wear, loading: state.loading, overflowMl }, dep, state.air.roomC, atmKPa, now, Math.min(high, now + 220), state.curveMs > 0 && curveCovers(state.curve, now) ? onCurve(state.curve, state.curve.discharge, now) : undefined);
  state.curveMs = state.atMs;
}

/** Hours run since last told: elements load, rings wear, water falls out. */
function bookLoading(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): void {
  const runH = state.unloadedRunMin / 60;
  if (runH === 0) return;
  state.unloadedRunMin = 0;
  for (let index = 0; index < ELEMENT_NAMES.length; index += 1) {
    const name = ELEMENT_NAMES[index]!;
    const wet = name === 'particulate-element' || name === 'coalescing-element';
    state.loading[index] = loadElement(state.loading[index]!, name, runH, state.air.roomPercent, wet ? dep.loadingRate : 1);
  }
  state.wear += WEAR_PER_H * runH;
  if (dep.drainShut) {
    const intake = onCurve(state.curve, state.curve.intake, tankAbsKPa(state, spec));
    const grams = condensateGramsPerNL(state.air.roomC, state.air.roomPercent, atmKPa, state.curve.discharge[1]!, state.air.roomC + 8);
    // Some of the water falls out in the first separator, which has its own drain.
    state.waterMl += 0.6 * grams * intake * runH * 60;
  } else state.waterMl = 0;
}

const scratch: RiserStretch[] = [];

function stretch(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number, untilMs: number): void {
  const roomK = state.air.roomC + 273.15;
  const startAbs = tankAbsKPa(state, spec);
  if (state.running && (state.atMs - state.curveMs >= CURVE_MIN * MINUTE_MS || !curveCovers(state.curve, startAbs))) {
    bookLoading(state, spec, dep, atmKPa);
    settle(state, spec, dep, atmKPa);
  }
  let minutes = longestStretchMin(state, dep, untilMs);
  const flowing = state.running && state.atMs >= state.checkOpensMs;
  let supplied = supplies(state, spec, dep, atmKPa, startAbs, minutes);
  const targetK = roomK + (flowing ? RUN_WARMING_K : 0);
  const perNL = spec.tankLitres;
  const tankKAfter = (m: number): number => targetK + (state.tankK - targetK) * Math.exp(-m / TANK_TAU_MIN);
  const net = (abs: number): { product: number; leak: number; back: number } => ({
    product: flowing ? Math.max(0, onCurve(state.curve, state.curve.product, abs)) : 0,
    leak: orificeNLPerMin(spec.healthyTankLeakMm2 + dep.tankLeakMm2, abs, atmKPa, roomK),
    back: state.running ? 0 : orificeNLPerMin(dep.checkLeakMm2, abs, state.houseAbsKPa, roomK),
  });
  const first = net(startAbs);
  const half = minutes / 2;
  const middleNL = Math.max(1, state.tankNL + (first.product - first.leak - first.back - supplied / minutes) * half);
  const flow = net(pressureAbsKPa(middleNL, perNL, tankKAfter(half)));
  const perMin = flow.product - flow.leak - flow.back;
  const absAfter = (m: number): number => pressureAbsKPa(state.tankNL + (perMin - supplied / minutes) * m, perNL, tankKAfter(m));
  const goal = state.calling ? state.cutOutKPa + dep.bandShiftKPa + atmKPa : state.cutInKPa + dep.bandShiftKPa + atmKPa;
  const watched = state.calling ? state.running && !dep.stopBlocked : true;
  if (watched && (state.calling ? absAfter(minutes) >= goal : absAfter(minutes) <= goal)) {
    const cut = crossing(absAfter, goal, minutes);
    if (cut < minutes) {
      minutes = Math.max(cut, 1e-6);
      supplied = supplies(state, spec, dep, atmKPa, startAbs, minutes);
    }
  }
  commit(state, spec, atmKPa, minutes, flow, tankKAfter(minutes), supplied, flowing, dep);
}

function longestStretchMin(state: PlantState, dep: Departures, untilMs: number): number {
  const moving = state.running || state.risers.some((riser) => riser.open);
  let endMs = Math.min(untilMs, state.atMs + (moving ? RUN_STRETCH_MIN : REST_STRETCH_MIN) * MINUTE_MS);
  if (state.running && state.checkOpensMs > state.atMs) endMs = Math.min(endMs, state.checkOpensMs);
  if (state.running && dep.tripsAfterMin > 0) {
    const tripMs = state.runStartMs + dep.tripsAfterMin * MINUTE_MS;
    if (tripMs > state.atMs) endMs = Math.min(endMs, tripMs);
  }
  if (state.heldUntilMs > state.atMs) endMs = Math.min(endMs, state.heldUntilMs);
  return Math.max(endMs - state.atMs, 0.01) / MINUTE_MS;
}

/** What the risers draw in a stretch, NL; the details stay in `scratch` until `commit`. */
function supplies(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number, tankAbs: number, minutes: number): number {
  let sum = 0;
  const air = { pipeC: state.air.pipeC, pipeCPerMin: state.air.pipeCPerMin, atmKPa, tankAbsKPa: tankAbs, roomK: state.air.roomC + 273.15 };
  for (let index = 0; index < spec.risers.length; index += 1) {
    const into = (scratch[index] ??= { pipeNL: 0, suppliedNL: 0, lostNL: 0, otherNL: 0, open: false });
    const departure = { leakMm2: dep.pipeLeakMm2[index]!, purgeMm2: dep.purgeMm2[index]!, shut: dep.valveShut[index]!, bypassed: dep.bypassed[index]!, drained: dep.drained[index]! };
    riserStretch(state.risers[index]!, spec.risers[index]!, departure, air, minutes, into);
    sum += into.suppliedNL;
  }
  return sum;
}

/** When a pressure that moves one way meets the goal, minutes, by regula falsi with halving; to a microsecond. */
function crossing(absAfter: (minutes: number) => number, goal: number, minutes: number): number {
  let low = 0;
  let high = minutes;
  let atLow = absAfter(0) - goal;
  let atHigh = absAfter(minutes) - goal;
  if (atLow * atHigh > 0) return 0;
  for (let round = 0; round < 30 && high - low > 1e-8; round += 1) {
    const guess = round % 4 === 3 || atHigh === atLow ? (low + high) / 2 : (low * atHigh - high * atLow) / (atHigh - atLow);
    const at = absAfter(guess) - goal;
    if (Math.abs(at) < 1e-7) return guess;
    if (at * atHigh > 0) {
      high = guess;
      atHigh = at;
    } else {
      low = guess;
      atLow = at;
    }
  }
  return high;
}

function commit(state: PlantState, spec: PlantSpec, atmKPa: number, minutes: number, flow: { product: number; leak: number; back: number }, endK: number, supplied: number, flowing: boolean, dep: Departures): void {
  const { book } = state;
  const product = flow.product * minutes;
  const leak = flow.leak * minutes;
  const back = flow.back * minutes;
  for (let index = 0; index < spec.risers.length; index += 1) {
    const done = scratch[index]!;
    applyStretch(state.risers[index]!, done, state.tankOxygen);
    book.pipeLostNL += done.lostNL;
    book.otherNL += done.otherNL;
  }
  if (product > 0) state.tankOxygen += (product / (state.tankNL + product)) * (productOxygenNow(state, spec) - state.tankOxygen);
  moveHousing(state, spec, atmKPa, minutes, flow, flowing, dep);
  state.tankNL += product - leak - back - supplied;
  state.tankK = endK;
  const reliefAbs = spec.cutOutKPa + 150 + atmKPa;
  const surplus = state.tankNL - amountNL(reliefAbs, spec.tankLitres, endK);
  if (surplus > 0) {
    state.tankNL -= surplus;
    book.reliefNL += surplus;
  }
  book.productNL += product;
  book.tankLeakNL += leak;
  book.backNL += back;
  book.suppliedNL += supplied;
  state.atMs += minutes * MINUTE_MS;
  if (state.running) {
    state.runS += minutes * 60;
    state.unloadedRunMin += minutes;
  }
}

/** The volume before the check valve: fills at a start, empties through membrane, bowls and bleeds after a stop. */
function moveHousing(state: PlantState, spec: PlantSpec, atmKPa: number, minutes: number, flow: { product: number; back: number }, flowing: boolean, dep: Departures): void {
  const { book } = state;
  const houseK = state.air.roomC + 278.15;
  const beforeNL = amountNL(state.houseAbsKPa, spec.houseLitres, houseK);
  if (state.running) {
    const tankAbs = tankAbsKPa(state, spec);
    const feedAbs = onCurve(state.curve, state.curve.feed, tankAbs);
    const leftMin = (state.checkOpensMs - state.atMs) / MINUTE_MS;
    state.houseAbsKPa = flowing ? feedAbs : state.houseAbsKPa + (feedAbs - state.houseAbsKPa) * Math.min(1, minutes / Math.max(leftMin, 1e-9));
    const intake = onCurve(state.curve, state.curve.intake, tankAbs) * minutes;
    book.intakeNL += intake;
    book.ventedNL += intake - flow.product * minutes - (amountNL(state.houseAbsKPa, spec.houseLitres, houseK) - beforeNL);
    return;
  }
  const tau = HOUSE_TAU_MIN / (1 + 1.5 * (dep.drainMm2 + dep.feedBleedMm2) / 0.3);
  const heldKPa = amountNL(1, spec.houseLitres, houseK);
  const balance = atmKPa + (flow.back * tau) / heldKPa;
  state.houseAbsKPa = Math.min(tankAbsKPa(state, spec), balance + (state.houseAbsKPa - balance) * Math.exp(-minutes / tau));
  book.ventedNL += flow.back * minutes - (amountNL(state.houseAbsKPa, spec.houseLitres, houseK) - beforeNL);
}

/** Gauge pressure of a riser's piping, kPa. */
export function riserGaugeKPa(state: PlantState, spec: PlantSpec, index: number): number {
  return riserAbsKPa(state.risers[index]!, spec.risers[index]!, state.air.pipeC) - atmosphereKPa(spec.elevationM);
}
