import type { DescriptorState } from './state.ts';
import { rounded } from './thinned.ts';

/*
 * Regulators with a dead-band and users draw in bursts. What is drawn quietly is a low quantile of the fall slopes of settled
 * rests; what a slope has beyond it is burst (design, section 6). The balance of whole cycles holds both, so delivery needs no
 * correction by it; the share tells what kind of demand it is.
 */

/** A slope is taken over so long, and over a sixteenth of a usual rest: shorter ones are noise. */
const LEAST_S = 300;
const REST_PARTS = 16;
const HOUR_S = 3600;
/** The quantile that stands for quiet demand, and how fast it is followed: by so much of itself at each slope. */
const QUIET_QUANTILE = 0.25;
const FOLLOWS = 0.05;
/** Nor does a nearly tight tank keep it at nothing. */
const LEAST_SHARE = 0.2;
/** A slope over twice the quiet one, and by more than gauges scatter by, is a burst. */
const BURST_TIMES = 2;
const BURST_KPA = 2;

/** A settled rest fell on: where a slope is complete, learn what is quiet and add up what is drawn in bursts. */
export function heedBurst(state: DescriptorState): void {
  const { tank } = state;
  // Each rest adds its fall up from nothing.
  if (tank.cycleFallS < tank.slopeFromS) tank.slopeFromS = tank.slopeFromKPa = 0;
  const tookS = tank.cycleFallS - tank.slopeFromS;
  if (tookS < LEAST_S || tookS * REST_PARTS < state.usualRestS) return;
  const fall = tank.cycleFall - tank.slopeFromKPa;
  const perHour = (fall * HOUR_S) / tookS;
  const quiet = tank.quietKPaPerHour ?? Math.max(0, perHour);
  const quietFall = (quiet * tookS) / HOUR_S;
  const quarter = state.quarter!;
  quarter.slopeKPa = rounded((quarter.slopeKPa ?? 0) + fall);
  if (fall > BURST_TIMES * quietFall + BURST_KPA) quarter.burstKPa = rounded((quarter.burstKPa ?? 0) + fall - quietFall);
  const step = FOLLOWS * Math.max(quiet, LEAST_SHARE * Math.abs(perHour));
  tank.quietKPaPerHour = rounded(Math.max(0, quiet + step * (perHour < quiet ? QUIET_QUANTILE - 1 : QUIET_QUANTILE)));
  tank.slopeFromS = tank.cycleFallS;
  tank.slopeFromKPa = tank.cycleFall;
}

/** Between the last two samples before a start a burst takes so much more than is drawn quietly: by more than gauges scatter, and than quiet is known. */
const START_KPA = 3;
const START_TIMES = 2;

/** Whether a burst starts the run that begins now: bursts empty the tank faster than anything else, and go on into the run, where they look like delivery that is lost. */
export function startsByBurst({ tank: { before, last, quietKPaPerHour }, run }: DescriptorState): boolean {
  if (before === null || last === null || quietKPaPerHour === null || before.atMs < run.sinceMs) return false;
  return before.kPa - last.kPa > START_KPA + (START_TIMES * quietKPaPerHour * (last.atMs - before.atMs)) / (1000 * HOUR_S);
}
