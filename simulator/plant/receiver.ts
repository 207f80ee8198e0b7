import { amountNL, pressureAbsKPa } from './gas.ts';

/** An air receiver between compressor and elements. The compressor keeps it filled; a valve lets air to the membrane while the tank calls. */
export type ReceiverSpec = { readonly litres: number; readonly cutInKPa: number; readonly cutOutKPa: number; /** What the regulator before the elements lets through, gauge. */ readonly feedSetKPa: number };

/** The compressor's own state, where it has a receiver: then the plant's `running` is the membrane valve. Totals since the start, NL. */
export type ReceiverState = { airNL: number; running: boolean; calling: boolean; runStartMs: number; heldUntilMs: number; runS: number; starts: number; gainedNL: number; drawnNL: number; lostNL: number };

export function startReceiver(spec: ReceiverSpec, atmKPa: number, roomK: number): ReceiverState {
  return { airNL: amountNL((spec.cutInKPa + spec.cutOutKPa) / 2 + atmKPa, spec.litres, roomK), running: false, calling: false, runStartMs: 0, heldUntilMs: 0, runS: 0, starts: 0, gainedNL: 0, drawnNL: 0, lostNL: 0 };
}

/** Absolute pressure in the receiver, kPa; its air has the room's temperature. */
export function receiverAbsKPa(receiver: ReceiverState, spec: ReceiverSpec, roomC: number): number {
  return pressureAbsKPa(receiver.airNL, spec.litres, roomC + 273.15);
}

/** What stands before the elements' regulator can give, absolute; an empty receiver gives what it has. */
export function sourceAbsKPa(receiver: ReceiverState, spec: ReceiverSpec, roomC: number, atmKPa: number): number {
  return Math.max(atmKPa + 1, Math.min(spec.feedSetKPa + atmKPa, receiverAbsKPa(receiver, spec, roomC)));
}

/** What goes into and out of the receiver now, NL/min. */
export type ReceiverFlow = { gained: number; drawn: number; lost: number };

/** Minutes until the receiver meets its switch, at constant flows; Infinity if it doesn't. */
export function receiverMeetsMin(receiver: ReceiverState, spec: ReceiverSpec, flow: ReceiverFlow, roomC: number, atmKPa: number, stopBlocked: boolean): number {
  if (receiver.calling && stopBlocked) return Infinity;
  const goalNL = amountNL((receiver.calling ? spec.cutOutKPa : spec.cutInKPa) + atmKPa, spec.litres, roomC + 273.15);
  const perMin = flow.gained - flow.drawn - flow.lost;
  const minutes = (goalNL - receiver.airNL) / perMin;
  return receiver.calling === perMin > 0 && minutes > 0 ? minutes : Infinity;
}

/** Let so many minutes pass. The safety valve opens at 120 kPa over cut-out. */
export function moveReceiver(receiver: ReceiverState, spec: ReceiverSpec, flow: ReceiverFlow, roomC: number, atmKPa: number, minutes: number): void {
  const drawn = Math.min(flow.drawn * minutes, 0.9 * receiver.airNL + flow.gained * minutes);
  const lost = Math.min(flow.lost * minutes, 0.5 * (receiver.airNL + flow.gained * minutes - drawn));
  receiver.airNL += flow.gained * minutes - drawn - lost;
  const surplus = Math.max(0, receiver.airNL - amountNL(spec.cutOutKPa + 120 + atmKPa, spec.litres, roomC + 273.15));
  receiver.airNL -= surplus;
  receiver.gainedNL += flow.gained * minutes;
  receiver.drawnNL += drawn;
  receiver.lostNL += lost + surplus;
  if (receiver.running) receiver.runS += minutes * 60;
}
