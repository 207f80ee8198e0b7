import { HOUR_MS, MINUTE_MS } from '../shared/time.ts';
import type { GeneratorState } from './generator-state.ts';
import type { Departures } from './plant/departures.ts';
import { atmosphereKPa } from './plant/gas.ts';
import { motorOf, stopsAtKPa } from './plant/motor.ts';
import { type PlantSpec, type PlantState, tankAbsKPa } from './plant/plant-state.ts';
import { receiverAbsKPa } from './plant/receiver.ts';

/**
 * What anybody beside the machine could see, whatever it comes from: a run past its limit, from when it was past it until it
 * ended; a stop below cut-out with the switch still calling, until the next stop at cut-out; a counter that came round its end.
 * Null while it goes on.
 */
export type Sign = { readonly kind: 'long-run' | 'stopped-short' | 'counter-round'; readonly fromMs: number; toMs: number | null };

/** A run has no end in sight past three times the longest that was normal, and not before an hour (design, section 6). */
const TIMES_NORMAL = 3;
/** Of so many runs in good order the longest few may have been a person's use or a refill: the third longest is the longest normal one. */
const RUNS_KEPT = 30;
const LONGEST_LEFT_OUT = 2;
/** So far below cut-out a stop is short of it: twice what gauges and switches scatter. */
export const SHORT_BY_KPA = 10;

/** Gauge pressure that the motor's switch looks at: the receiver's where there is one, kPa. */
export function switchGaugeKPa(plant: PlantState, spec: PlantSpec): number {
  return (plant.receiver && spec.receiver !== undefined ? receiverAbsKPa(plant.receiver, spec.receiver, plant.air.roomC) : tankAbsKPa(plant, spec)) - atmosphereKPa(spec.elevationM);
}

function going(state: GeneratorState, kind: Sign['kind']): Sign | undefined {
  const last = state.signs.findLast((sign) => sign.kind === kind);
  return last?.toMs === null ? last : undefined;
}

function begin(state: GeneratorState, kind: Sign['kind'], fromMs: number): void {
  if (going(state, kind) === undefined) state.signs.push({ kind, fromMs: Math.round(fromMs), toMs: null });
}

function end(state: GeneratorState, kind: Sign['kind']): void {
  const sign = going(state, kind);
  if (sign !== undefined) sign.toMs = Math.round(state.plant.atMs);
}

export function longestNormalMin(runsMin: readonly number[]): number {
  return runsMin.toSorted((a, b) => b - a)[Math.min(LONGEST_LEFT_OUT, Math.floor(runsMin.length / 10))] ?? 0;
}

/** A run that is longer has no end in sight. */
export function longestRunMs(runsMin: readonly number[]): number {
  return Math.max(HOUR_MS, TIMES_NORMAL * MINUTE_MS * longestNormalMin(runsMin));
}

/** A run of the motor, or behind an air receiver one of the membrane, has ended as it should. */
function keepRun(state: GeneratorState, startMs: number): void {
  state.runsMin.push(Math.round((10 * (state.plant.atMs - startMs)) / MINUTE_MS) / 10);
  if (state.runsMin.length > RUNS_KEPT) state.runsMin.shift();
}

/** Note the signs of this moment; asked at every start and stop and some times an hour. `quiet`: nothing befalls it now, so that its run is a normal one. */
export function noteSigns(state: GeneratorState, spec: PlantSpec, dep: Departures, quiet: boolean): void {
  const { plant } = state;
  const motor = motorOf(plant);
  const stopped = state.motorRan && !motor.running;
  const ended = plant.receiver !== null && state.producedRan && !plant.running;
  state.motorRan = motor.running;
  state.producedRan = plant.running;
  const ranMs = Math.max(motor.running ? plant.atMs - motor.runStartMs : 0, plant.running ? plant.atMs - plant.runStartMs : 0);
  if (ranMs > HOUR_MS) {
    const limitMs = longestRunMs(state.runsMin);
    if (ranMs > limitMs) begin(state, 'long-run', plant.atMs - ranMs + limitMs);
  } else if (stopped || ended) end(state, 'long-run');
  if (ended && !plant.calling && quiet) keepRun(state, plant.runStartMs);
  if (!stopped) return;
  if (!motor.calling) {
    end(state, 'stopped-short');
    if (quiet) keepRun(state, motor.runStartMs);
  } else if (!dep.powerOff && switchGaugeKPa(plant, spec) < stopsAtKPa(spec) - SHORT_BY_KPA) begin(state, 'stopped-short', plant.atMs);
}
