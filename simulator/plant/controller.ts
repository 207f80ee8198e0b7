import { deliveryCurve, curveCovers, onCurve } from './delivery-curve.ts';
import type { Departures } from './departures.ts';
import { ELEMENT_NAMES, loadElement } from './elements.ts';
import { amountNL } from './gas.ts';
import { condensateGramsPerNL } from './humid-air.ts';
import { MINUTE_MS, type PlantEvent, type PlantSpec, type PlantState, productOxygenNow, tankAbsKPa } from './plant-state.ts';
import { normal } from './random.ts';
import { sourceAbsKPa } from './receiver.ts';
import { roomPercent } from './weather.ts';

const COOL_DOWN_MIN = 12;
/** Rings and valves lose 1 % of the flow in 1,000 h, about 3 % of the product; common practice, no source. */
export const WEAR_PER_H = 1e-5;

/** Close or open the pressure switch and start or stop the motor, at this moment. */
export function heedSwitch(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): PlantEvent {
  const gaugeKPa = tankAbsKPa(state, spec) - atmKPa;
  if (!state.calling && gaugeKPa <= state.cutInKPa + dep.bandShiftKPa + 1e-6) {
    state.calling = true;
    state.cutOutKPa = spec.cutOutKPa + spec.switchJitterKPa * normal(state.switchDice);
  } else if (state.calling && gaugeKPa >= state.cutOutKPa + dep.bandShiftKPa - 1e-6 && (!dep.stopBlocked || state.receiver)) {
    state.calling = false;
    state.cutInKPa = spec.cutInKPa + spec.switchJitterKPa * normal(state.switchDice);
  }
  const powered = !dep.powerOff && !dep.lockedOut;
  if (powered && !state.powered) state.heldUntilMs = Math.max(state.heldUntilMs, state.atMs + MINUTE_MS);
  state.powered = powered;
  if (state.running && !state.receiver && dep.tripsAfterMin > 0 && state.atMs >= state.runStartMs + dep.tripsAfterMin * MINUTE_MS - 1) {
    state.heldUntilMs = state.atMs + COOL_DOWN_MIN * MINUTE_MS;
  }
  const mayRun = powered && state.atMs >= state.heldUntilMs && state.calling;
  if (state.running && !mayRun) {
    stop(state, spec, dep, atmKPa);
    return 'stop';
  }
  if (state.running || !mayRun || (dep.startBlocked && !state.receiver)) return undefined;
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

/** Settle the feed train anew, for what has loaded and worn until now. */
export function settle(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): void {
  const now = tankAbsKPa(state, spec);
  const high = Math.max(now + 40, spec.cutOutKPa + dep.bandShiftKPa + atmKPa + 10);
  const overflowMl = Math.max(0, state.waterMl - spec.bowlMl);
  let source = {};
  if (state.receiver && spec.receiver !== undefined) {
    state.curveSourceKPa = sourceAbsKPa(state.receiver, spec.receiver, state.air.roomC, atmKPa);
    source = { sourceAbsKPa: state.curveSourceKPa };
  }
  state.curve = deliveryCurve(spec.feed, { condition: 1 - state.wear, loading: state.loading, overflowMl, ...source }, dep, state.air.roomC, atmKPa, now, Math.min(high, now + 220), state.curveMs > 0 && curveCovers(state.curve, now) ? onCurve(state.curve, state.curve.discharge, now) : undefined);
  state.curveMs = state.atMs;
}

/** Hours run since last told: elements load, rings wear, water falls out. */
export function bookLoading(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number): void {
  const runH = state.unloadedRunMin / 60;
  if (runH === 0) return;
  const percent = roomPercent(state.air);
  state.unloadedRunMin = 0;
  for (let index = 0; index < ELEMENT_NAMES.length; index += 1) {
    const name = ELEMENT_NAMES[index]!;
    const wet = name === 'particulate-element' || name === 'coalescing-element';
    state.loading[index] = loadElement(state.loading[index]!, name, runH, percent, wet ? dep.loadingRate : 1);
  }
  state.wear += WEAR_PER_H * runH;
  if (dep.drainShut || state.air.roomC < dep.drainFreezesC) {
    const intake = onCurve(state.curve, state.curve.intake, tankAbsKPa(state, spec));
    const grams = condensateGramsPerNL(state.air.roomC, percent, atmKPa, state.curve.discharge[1]!, state.air.roomC + 8);
    // Some of the water falls out in the first separator, which has its own drain.
    state.waterMl += 0.6 * grams * intake * runH * 60;
  } else state.waterMl = 0;
}
