import { bookLoading, settle } from './controller.ts';
import { curveCovers, onCurve } from './delivery-curve.ts';
import type { Departures } from './departures.ts';
import { amountNL, orificeNLPerMin, pressureAbsKPa } from './gas.ts';
import { moveHousing } from './housing.ts';
import { MINUTE_MS, type PlantSpec, type PlantState, productOxygenNow, tankAbsKPa } from './plant-state.ts';
import { motorOf } from './motor.ts';
import { moveReceiver, type ReceiverFlow, receiverMeetsMin, sourceAbsKPa } from './receiver.ts';
import { receiverFlow } from './receiver-switch.ts';
import { applyStretch, type RiserStretch, riserStretch } from './riser.ts';
import { swingFactor, untilTurnMs } from './sieve.ts';

/** Longest stretch without looking, minutes: at rest, and while something moves fast. */
const REST_STRETCH_MIN = 5;
const RUN_STRETCH_MIN = 1;
/** Tank gas: warmer than the room by this while gas flows in, and how fast it follows. Common practice, no source. */
const RUN_WARMING_K = 6;
const TANK_TAU_MIN = 7;
/** A curve is made anew after so long a run, because elements load and the room warms. */
const CURVE_MIN = 30;

/** What risers do in the stretch under way, and the tank's flows; used again and again, because stretches are many. */
const scratch: RiserStretch[] = [];
type Flow = { product: number; leak: number; back: number };
const flow: Flow = { product: 0.1, leak: 0.1, back: 0.1 };
const airFlow: ReceiverFlow = { gained: 0.1, drawn: 0.1, lost: 0.1 };
/** Doubles from the start, so that they are written in place. */
const riserAir = { pipeC: 0.1, pipeCPerMin: 0.1, atmKPa: 0.1, tankAbsKPa: 0.1, roomK: 0.1 };

/** The tank's straight line: what it holds at the beginning, NL/min gained, where its temperature goes. */
type TankLine = { tankNL: number; gainedPerMin: number; litres: number; startK: number; targetK: number };
const line: TankLine = { tankNL: 0.1, gainedPerMin: 0.1, litres: 0.1, startK: 0.1, targetK: 0.1 };

/** Move the plant by one stretch, at most to `untilMs`; shorter where its pressure meets the switch. */
export function stretch(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number, untilMs: number): void {
  const startAbs = tankAbsKPa(state, spec);
  if (state.running && (state.atMs - state.curveMs >= CURVE_MIN * MINUTE_MS || !curveCovers(state.curve, startAbs) || sourceMoved(state, spec, atmKPa))) {
    bookLoading(state, spec, dep, atmKPa);
    settle(state, spec, dep, atmKPa);
  }
  const flowing = state.running && state.atMs >= state.checkOpensMs;
  let minutes = longestStretchMin(state, spec, dep, untilMs);
  if (state.receiver && spec.receiver !== undefined) {
    receiverFlow(state, state.receiver, spec, dep, atmKPa, airFlow);
    minutes = Math.min(minutes, Math.max(1e-6, receiverMeetsMin(state.receiver, spec.receiver, airFlow, state.air.roomC, atmKPa, dep.stopBlocked)));
  }
  let supplied = supplies(state, spec, dep, atmKPa, startAbs, minutes);
  setLine(state, spec, dep, atmKPa, startAbs, minutes, supplied, flowing);
  const goal = (state.calling ? state.cutOutKPa : state.cutInKPa) + dep.bandShiftKPa + atmKPa;
  const watched = !state.calling || (state.running && (!dep.stopBlocked || state.receiver));
  const endAbs = absAfter(minutes);
  if (watched && (state.calling ? endAbs >= goal : endAbs <= goal)) {
    const cut = crossing(goal, minutes);
    if (cut < minutes) {
      minutes = Math.max(cut, 1e-6);
      supplied = supplies(state, spec, dep, atmKPa, startAbs, minutes);
    }
  }
  commit(state, spec, atmKPa, minutes, tankKAfter(minutes), supplied, flowing, dep);
}

/** Flows at a tank pressure, NL/min, into `flow`. */
function flowAt(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number, tankAbs: number, flowing: boolean): void {
  const roomK = state.air.roomC + 273.15;
  flow.product = flowing ? Math.max(0, onCurve(state.curve, state.curve.product, tankAbs)) : 0;
  if (flowing && spec.feed.sieve !== undefined) flow.product *= swingFactor(spec.feed.sieve, state.atMs - state.checkOpensMs);
  flow.leak = orificeNLPerMin(spec.healthyTankLeakMm2 + dep.tankLeakMm2 + (state.receiver ? 0 : dep.useMm2), tankAbs, atmKPa, roomK);
  flow.back = state.running ? 0 : orificeNLPerMin(dep.checkLeakMm2, tankAbs, state.houseAbsKPa, roomK);
}

/** The line that the tank follows in a stretch, with the flows at the pressure of its middle. */
function setLine(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number, startAbs: number, minutes: number, supplied: number, flowing: boolean): void {
  line.tankNL = state.tankNL;
  line.litres = spec.tankLitres;
  line.startK = state.tankK;
  line.targetK = state.air.roomC + 273.15 + (flowing ? RUN_WARMING_K : 0);
  flowAt(state, spec, dep, atmKPa, startAbs, flowing);
  line.gainedPerMin = flow.product - flow.leak - flow.back - supplied / minutes;
  flowAt(state, spec, dep, atmKPa, Math.max(1, absAfter(minutes / 2)), flowing);
  line.gainedPerMin = flow.product - flow.leak - flow.back - supplied / minutes;
}

function tankKAfter(minutes: number): number {
  return line.targetK + (line.startK - line.targetK) * Math.exp(-minutes / TANK_TAU_MIN);
}

function absAfter(minutes: number): number {
  return pressureAbsKPa(line.tankNL + line.gainedPerMin * minutes, line.litres, tankKAfter(minutes));
}

/** A receiver that runs empty feeds the train at less and less. */
function sourceMoved(state: PlantState, spec: PlantSpec, atmKPa: number): boolean {
  return state.receiver !== null && state.receiver !== undefined && spec.receiver !== undefined && Math.abs(sourceAbsKPa(state.receiver, spec.receiver, state.air.roomC, atmKPa) - state.curveSourceKPa) > 6;
}

/** Something moves fast: the compressor runs, a stepping regulator passes, or a riser takes all that its supply gives. */
function moving(state: PlantState): boolean {
  if (state.running || state.receiver?.running === true) return true;
  for (const riser of state.risers) if (riser.open) return true;
  return false;
}

function longestStretchMin(state: PlantState, spec: PlantSpec, dep: Departures, untilMs: number): number {
  let endMs = Math.min(untilMs, state.atMs + (moving(state) ? RUN_STRETCH_MIN : REST_STRETCH_MIN) * MINUTE_MS);
  if (state.running && state.checkOpensMs > state.atMs) endMs = Math.min(endMs, state.checkOpensMs);
  if (state.running && spec.feed.sieve !== undefined && state.atMs >= state.checkOpensMs) endMs = Math.min(endMs, state.atMs + untilTurnMs(spec.feed.sieve, state.atMs - state.checkOpensMs));
  const motor = motorOf(state);
  if (motor.running && dep.tripsAfterMin > 0) {
    const tripMs = motor.runStartMs + dep.tripsAfterMin * MINUTE_MS;
    if (tripMs > state.atMs) endMs = Math.min(endMs, tripMs);
  }
  if (state.receiver && state.receiver.heldUntilMs > state.atMs) endMs = Math.min(endMs, state.receiver.heldUntilMs);
  if (state.heldUntilMs > state.atMs) endMs = Math.min(endMs, state.heldUntilMs);
  return Math.max(endMs - state.atMs, 0.01) / MINUTE_MS;
}

/** What the risers draw in a stretch, NL; the details stay in `scratch` until `commit`. */
function supplies(state: PlantState, spec: PlantSpec, dep: Departures, atmKPa: number, tankAbs: number, minutes: number): number {
  let sum = 0;
  riserAir.pipeC = state.air.pipeC;
  riserAir.pipeCPerMin = state.air.pipeCPerMin;
  riserAir.atmKPa = atmKPa;
  riserAir.tankAbsKPa = tankAbs;
  riserAir.roomK = state.air.roomC + 273.15;
  for (let index = 0; index < spec.risers.length; index += 1) {
    const into = (scratch[index] ??= { pipeNL: 0.1, suppliedNL: 0.1, lostNL: 0.1, otherNL: 0.1, open: false });
    riserStretch(state.risers[index]!, spec.risers[index]!, dep, index, riserAir, minutes, into);
    sum += into.suppliedNL;
  }
  return sum;
}

/** When a pressure that moves one way meets the goal, minutes, by regula falsi with halving; to a microsecond. */
function crossing(goal: number, minutes: number): number {
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

function commit(state: PlantState, spec: PlantSpec, atmKPa: number, minutes: number, endK: number, supplied: number, flowing: boolean, dep: Departures): void {
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
  if (state.receiver && spec.receiver !== undefined) moveReceiver(state.receiver, spec.receiver, airFlow, state.air.roomC, atmKPa, minutes);
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
  if (flowing) book.flowMin += minutes;
  book.tankLeakNL += leak;
  book.backNL += back;
  book.suppliedNL += supplied;
  state.atMs += minutes * MINUTE_MS;
  if (state.running) {
    state.runS += minutes * 60;
    state.unloadedRunMin += minutes;
  }
}
