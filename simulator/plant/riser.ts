import type { Departures } from './departures.ts';
import { amountNL, orificeNLPerMin, pressureAbsKPa, valveNLPerMin } from './gas.ts';

/** One riser: its regulator and the piping behind it. */
export type RiserSpec = {
  readonly id: string;
  readonly pipeLitres: number;
  readonly setKPa: number;
  /** How far the pressure falls before the regulator opens, kPa; 0 = it follows without a step. */
  readonly deadBandKPa: number;
  /** Flow per kPa below the set point, NL/(min kPa): its droop, turned round. */
  readonly gainNLPerMinKPa: number;
  /** Sonic conductance of the whole way from the tank, dm³/(s bar): bounds a refill. */
  readonly supplyLPerSBar: number;
  /** Holes of the piping in good order, and of a fixed purge vent, mm². */
  readonly healthyLeakMm2: number;
};

/** Gas in the piping, NL; its oxygen share; whether the regulator passes (with a dead-band), or gives all it can: then it is looked at each minute. */
export type RiserState = { pipeNL: number; oxygen: number; open: boolean };
/** What a stretch of time did to a riser, not yet done. */
export type RiserStretch = { pipeNL: number; suppliedNL: number; lostNL: number; otherNL: number; open: boolean };

export type RiserAir = { readonly pipeC: number; readonly pipeCPerMin: number; readonly atmKPa: number; readonly tankAbsKPa: number; readonly roomK: number };

export function riserAbsKPa(state: RiserState, spec: RiserSpec, pipeC: number): number {
  return pressureAbsKPa(state.pipeNL, spec.pipeLitres, pipeC + 273.15);
}

/**
 * Gas that passes the regulator and leaves the piping in `minutes`, exactly for a constant leak and a straight change of
 * temperature: pressure nears its balance exponentially. Piping breathes one way, because the regulator gives and never
 * takes. Leak is that of the beginning; a stretch is at most 5 min, in which a pipe's pressure moves by less than 1 %.
 */
export function riserStretch(state: RiserState, spec: RiserSpec, dep: Departures, index: number, air: RiserAir, minutes: number, into: RiserStretch): void {
  const pipeK = air.pipeC + 273.15;
  const endK = pipeK + air.pipeCPerMin * minutes;
  const nowAbs = pressureAbsKPa(state.pipeNL, spec.pipeLitres, pipeK);
  into.otherNL = 0;
  if (dep.drained[index]!) {
    // Opened to the air, supply shut: what is inside is at the air's pressure at once, which is what a trip does in a minute.
    into.pipeNL = amountNL(air.atmKPa, spec.pipeLitres, endK);
    into.lostNL = state.pipeNL - into.pipeNL;
    into.suppliedNL = 0;
    into.open = false;
    return;
  }
  let lostPerMin = orificeNLPerMin(spec.healthyLeakMm2 * dep.wander + dep.pipeLeakMm2[index]! + dep.purgeMm2[index]!, nowAbs, air.atmKPa, pipeK);
  lostPerMin = Math.min(lostPerMin, (state.pipeNL * 0.5) / minutes);
  const setAbs = spec.setKPa + air.atmKPa;
  const passing = spec.deadBandKPa === 0 || (state.open ? nowAbs < setAbs - 0.08 * spec.deadBandKPa : nowAbs <= setAbs - spec.deadBandKPa);
  const mostPerMin = dep.bypassed[index]! ? 60 : dep.valveShut[index]! || !passing ? 0 : valveNLPerMin(spec.supplyLPerSBar, air.tankAbsKPa, nowAbs, air.roomK);
  let gotNL = 0;
  into.open = passing && spec.deadBandKPa > 0;
  if (mostPerMin > 0) {
    const perKPa = amountNL(1, spec.pipeLitres, pipeK);
    const coolingNL = (state.pipeNL * air.pipeCPerMin) / pipeK;
    const rate = spec.gainNLPerMinKPa / perKPa;
    const balance = setAbs - (lostPerMin - coolingNL) / spec.gainNLPerMinKPa;
    const endAbs = balance + (nowAbs - balance) * Math.exp(-rate * minutes);
    const wantedNL = amountNL(endAbs, spec.pipeLitres, endK) - state.pipeNL + lostPerMin * minutes;
    gotNL = Math.max(0, Math.min(mostPerMin * minutes, wantedNL));
    if (wantedNL > gotNL && gotNL > 0) into.open = true;
  }
  const creepMm2 = dep.creepMm2[index]!;
  if (creepMm2 > 0 && !dep.valveShut[index]! && !dep.bypassed[index]!) gotNL += orificeNLPerMin(creepMm2, air.tankAbsKPa, nowAbs, air.roomK) * minutes;
  into.suppliedNL = dep.bypassed[index]! ? 0 : gotNL;
  into.otherNL = dep.bypassed[index]! ? gotNL : 0;
  into.lostNL = lostPerMin * minutes;
  into.pipeNL = state.pipeNL + gotNL - into.lostNL;
}

/** Do it. What comes from the tank brings the tank's oxygen. */
export function applyStretch(state: RiserState, stretch: RiserStretch, tankOxygen: number): void {
  const got = stretch.suppliedNL + stretch.otherNL;
  if (got > 0) state.oxygen += (got / (state.pipeNL + got)) * (tankOxygen - state.oxygen);
  state.pipeNL = stretch.pipeNL;
  state.open = stretch.open;
}
