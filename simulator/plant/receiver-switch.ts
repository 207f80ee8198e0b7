import { compressorNLPerMin } from './compressor.ts';
import { onCurve } from './delivery-curve.ts';
import type { Departures } from './departures.ts';
import { elementDropKPa } from './elements.ts';
import { orificeNLPerMin } from './gas.ts';
import { MINUTE_MS, type PlantEvent, type PlantSpec, type PlantState, tankAbsKPa } from './plant-state.ts';
import { receiverAbsKPa, type ReceiverFlow, type ReceiverSpec, type ReceiverState } from './receiver.ts';

const COOL_DOWN_MIN = 12;

/** Heed the receiver's own pressure switch, at this moment. */
export function heedReceiver(state: PlantState, receiver: ReceiverState, spec: ReceiverSpec, dep: Departures, atmKPa: number): PlantEvent {
  const gaugeKPa = receiverAbsKPa(receiver, spec, state.air.roomC) - atmKPa;
  if (!receiver.calling && gaugeKPa <= spec.cutInKPa + 1e-6) receiver.calling = true;
  else if (receiver.calling && gaugeKPa >= spec.cutOutKPa - 1e-6 && !dep.stopBlocked) receiver.calling = false;
  if (receiver.running && dep.tripsAfterMin > 0 && state.atMs >= receiver.runStartMs + dep.tripsAfterMin * MINUTE_MS - 1) receiver.heldUntilMs = state.atMs + COOL_DOWN_MIN * MINUTE_MS;
  const mayRun = receiver.calling && state.powered && state.atMs >= Math.max(receiver.heldUntilMs, state.heldUntilMs);
  if (receiver.running && !mayRun) {
    receiver.running = false;
    return 'stop';
  }
  if (receiver.running || !mayRun || dep.startBlocked) return undefined;
  receiver.running = true;
  receiver.starts += 1;
  receiver.runStartMs = state.atMs;
  return 'start';
}

/** What goes into the receiver and out of it now, into `into`. */
export function receiverFlow(state: PlantState, receiver: ReceiverState, spec: PlantSpec, dep: Departures, atmKPa: number, into: ReceiverFlow): void {
  const { roomC } = state.air;
  const absKPa = receiverAbsKPa(receiver, spec.receiver!, roomC);
  const intakeDropKPa = dep.intakeMissing ? 0 : elementDropKPa('intake-element', state.loading[0], 1);
  into.gained = receiver.running ? compressorNLPerMin(spec.feed.compressor, { roomK: roomC + 273.15, atmKPa, intakeDropKPa }, absKPa, (1 - state.wear) * (1 - dep.flowLoss)) : 0;
  into.drawn = state.running ? Math.max(0, onCurve(state.curve, state.curve.intake, tankAbsKPa(state, spec))) : 0;
  into.lost = orificeNLPerMin(dep.drainMm2 + (spec.feed.timedDrainMm2 ?? 0) + dep.useMm2, absKPa, atmKPa, roomC + 273.15);
}
