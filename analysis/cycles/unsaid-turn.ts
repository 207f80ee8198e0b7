import { bandOf } from './normal.ts';
import { sumsBy } from './period-sums.ts';
import { beginRest, beginRun } from './run-state.ts';
import type { DescriptorSetup, DescriptorSink, DescriptorState, TankSample } from './state.ts';

/** A turn is sure when the tank has moved back by this share of the band, and by so many kPa; common practice, no source. */
const TURN_SHARE = 0.25;
const TURN_LEAST_KPA = 15;

/**
 * The message of a start or a stop can get lost, and the next one is an hour away: the run would seem to have lasted till
 * then. The tank tells: it came to its usual stop and has fallen since, or to its usual start and has risen since. The phase
 * ends where the tank turned. A state that is said again holds on, whatever the tank did before.
 */
export function heedTurn(state: DescriptorState, setup: DescriptorSetup, sample: TankSample, sink: DescriptorSink): void {
  const { run } = state;
  // Behind an air receiver the compressor runs by the receiver, and the tank says nothing of it.
  if (run.phase === null || (run.channel === 'running' && setup.registered.generator.layout === 'air-receiver')) return;
  const { extreme } = run;
  const sign = run.phase === 1 ? 1 : -1;
  if (extreme === null || sign * (sample.kPa - extreme.kPa) >= 0) {
    run.extreme = sample;
    return;
  }
  const band = bandOf(state, setup);
  if (band === null) return;
  const turnKPa = Math.max(TURN_LEAST_KPA, TURN_SHARE * (band.highKPa - band.lowKPa));
  const edgeKPa = run.phase === 1 ? band.highKPa : band.lowKPa;
  const shortKPa = sign * (edgeKPa - extreme.kPa);
  // A tank far above its usual stop has a stop that doesn't come: there it falls by what it vents.
  if (sign * (extreme.kPa - sample.kPa) < turnKPa || shortKPa > turnKPa / 2 || (run.phase === 1 && shortKPa < -turnKPa)) return;
  if (run.phase === 1) endUnsaidRun(state, setup, extreme);
  else beginUnsaidRun(state, setup, extreme, sink);
  run.extreme = sample;
}

/** What a tank must have lost of its band, near its usual start again, for a state that is said anew to be a new start. Common practice, no source. */
const LOST_SHARE = 0.6;
const NEAR_START_SHARE = 0.1;
/** And the fall must have taken this share of a usual rest: piping that is filled again takes it faster. */
const REST_SHARE = 0.4;

/**
 * A run that is said again just as the tank is back at its usual start, after it had been far above: the stop between got lost,
 * and rare samples missed how high the tank came. Not where it was said in between: then it ran, and made nothing.
 * Called before the state itself is taken in.
 */
export function heedNewStart(state: DescriptorState, setup: DescriptorSetup, channel: 'running' | 'producing', atMs: number): void {
  const { run, tank } = state;
  const { extreme } = run;
  const band = bandOf(state, setup);
  if (run.phase !== 1 || run.channel !== channel || extreme === null || band === null || tank.last === null || tank.last.atMs !== atMs || (channel === 'running' && setup.registered.generator.layout === 'air-receiver')) return;
  if (state.usualRestS === 0 || atMs - extreme.atMs < 1000 * REST_SHARE * state.usualRestS) return;
  const spanKPa = band.highKPa - band.lowKPa;
  if (Math.abs(tank.last.kPa - band.lowKPa) <= NEAR_START_SHARE * spanKPa && extreme.kPa - tank.last.kPa >= LOST_SHARE * spanKPa) endUnsaidRun(state, setup, extreme);
}

/** What was counted as run since the tank turned was rest. */
function endUnsaidRun(state: DescriptorState, setup: DescriptorSetup, turn: TankSample): void {
  const { run, tank } = state;
  const accMs = run.accMs;
  const movedS = countedS(state, turn);
  const sums = sumsBy(state.quarter!, 'running');
  const heldS = Math.min(movedS, sums.holdRunS, run.addedS);
  sums.runS -= movedS;
  sums.restS += movedS;
  sums.holdRunS -= heldS;
  sums.holdRestS += heldS;
  sums.longestRunS = Math.max(run.longestBeforeS, (turn.atMs - run.sinceMs) / 1000);
  run.totalRunS -= movedS;
  tank.runS = Math.max(0, tank.runS - movedS);
  if (tank.chain !== null) tank.chain.runS = run.totalRunS;
  beginRest(state, setup, turn.atMs, turn);
  run.accMs = accMs;
}

/** What was counted as rest since the tank turned was run; the settled rest under way held a part of the rise, and is left out. */
function beginUnsaidRun(state: DescriptorState, setup: DescriptorSetup, turn: TankSample, sink: DescriptorSink): void {
  const { run, tank } = state;
  const accMs = run.accMs;
  const movedS = countedS(state, turn);
  const sums = sumsBy(state.quarter!, 'running');
  const heldS = Math.min(movedS, sums.holdRestS);
  sums.restS -= movedS;
  sums.runS += movedS;
  sums.holdRestS -= heldS;
  sums.holdRunS += heldS;
  tank.fall = tank.fallS = tank.cycleFall = tank.cycleFallS = 0;
  beginRun(state, setup, turn.atMs, sink, turn);
  run.totalRunS += movedS;
  run.addedS = heldS;
  run.accMs = accMs;
}

/** Seconds since the turn that are in the sums of the present quarter. */
function countedS(state: DescriptorState, turn: TankSample): number {
  return Math.max(0, state.run.accMs - Math.max(turn.atMs, state.quarter!.startMs)) / 1000;
}
