import { onCurve } from './delivery-curve.ts';
import type { Departures } from './departures.ts';
import { amountNL } from './gas.ts';
import { MINUTE_MS, type PlantSpec, type PlantState, tankAbsKPa } from './plant-state.ts';
import { swingFactor } from './sieve.ts';

/** The empty housing loses its pressure through the membrane after a stop. */
const HOUSE_TAU_MIN = 4;

/** The volume before the check valve: fills at a start, empties through membrane, bowls and bleeds after a stop. */
export function moveHousing(state: PlantState, spec: PlantSpec, atmKPa: number, minutes: number, flow: { product: number; back: number }, flowing: boolean, dep: Departures): void {
  const { book } = state;
  const houseK = state.air.roomC + 278.15;
  const beforeNL = amountNL(state.houseAbsKPa, spec.houseLitres, houseK);
  if (state.running) {
    const tankAbs = tankAbsKPa(state, spec);
    const feedAbs = onCurve(state.curve, state.curve.feed, tankAbs);
    const leftMin = (state.checkOpensMs - state.atMs) / MINUTE_MS;
    const { sieve } = spec.feed;
    // While beds change over, their feed is let down.
    const paused = sieve !== undefined && flowing && swingFactor(sieve, state.atMs - state.checkOpensMs) === 0;
    state.houseAbsKPa = paused ? atmKPa + 0.82 * (feedAbs - atmKPa) : flowing ? feedAbs : state.houseAbsKPa + (feedAbs - state.houseAbsKPa) * Math.min(1, minutes / Math.max(leftMin, 1e-9));
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
