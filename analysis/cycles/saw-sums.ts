import { addFall } from './blocks.ts';
import { holdingS } from './holding.ts';
import { bandOf, reportEveryS } from './normal.ts';
import { sumsBy } from './period-sums.ts';
import { endRunSamples } from './run-samples.ts';
import { type DescriptorSetup, type DescriptorSink, type DescriptorState, startSawTooth } from './state.ts';

/** A turn is known when the content has come back by this share of the band: noise and bursts are smaller. */
const HYSTERESIS_SHARE = 0.25;
/** Below this nothing is a cycle, kPa: sensors and regulators move by as much. */
const HYSTERESIS_LEAST_KPA = 5;
/** At an edge of a period a leg counts as turned already when it has come back by this share of the hysteresis. */
const TURNED_SHARE = 0.2;
/** A tank is silent for longer than this many usual gaps. */
export const SILENCE_TIMES = 3;

/** What the content must come back by to be a turn, kPa. */
export function hysteresisOf(state: DescriptorState, setup: DescriptorSetup): number {
  const band = bandOf(state, setup);
  const { saw } = state;
  const rangeKPa = band !== null ? band.highKPa - band.lowKPa : saw.min !== null && saw.max !== null ? Math.abs(saw.max.content - saw.min.content) : 0;
  return Math.max(HYSTERESIS_LEAST_KPA, HYSTERESIS_SHARE * rangeKPa);
}

/** No run state is known, so that the saw-tooth speaks for the generator. */
export function alone(state: DescriptorState): boolean {
  return state.run.phase === null;
}

/** Close the block of the settled rest; `goesOn` keeps its chain. */
export function endSawFall(state: DescriptorState, goesOn: boolean): void {
  const { tank } = state;
  if (tank.fallS > 0) addFall(state.quarter!.falls, tank.fall, tank.fallS);
  tank.fall = tank.fallS = 0;
  if (!goesOn) tank.settled = null;
}

/** Add time in a phase to the sums of the tank's saw-tooth, from where they stand. */
export function account(state: DescriptorState, setup: DescriptorSetup, phase: 0 | 1, toMs: number): void {
  const { saw } = state;
  const quarter = state.quarter!;
  const fromMs = Math.max(saw.accMs, quarter.startMs);
  if (toMs <= fromMs) return;
  const sums = sumsBy(quarter, 'tank-pressure');
  const spanS = (toMs - fromMs) / 1000;
  const heldS = holdingS(state, setup, fromMs, toMs);
  const inPhaseS = Math.max(spanS, saw.phase === phase ? (toMs - saw.sinceMs) / 1000 : 0);
  if (phase === 1) {
    sums.runS += spanS;
    sums.holdRunS += heldS;
    sums.longestRunS = Math.max(sums.longestRunS, inPhaseS);
  } else {
    sums.restS += spanS;
    sums.holdRestS += heldS;
    sums.longestRestS = Math.max(sums.longestRestS, inPhaseS);
  }
  saw.accMs = toMs;
}

/** A period ends: time up to its end goes into its sums by what is known now. */
export function passSawTooth(state: DescriptorState, setup: DescriptorSetup, endMs: number, sink: DescriptorSink): void {
  const { saw, tank } = state;
  if (tank.last === null || saw.phase === null) return;
  if (endMs - tank.last.atMs > SILENCE_TIMES * 1000 * Math.max(saw.usualS, reportEveryS(state, setup))) {
    cutSawTooth(state, setup, sink);
    return;
  }
  const backKPa = TURNED_SHARE * hysteresisOf(state, setup);
  if (saw.phase === 1 && tank.last.content < saw.max!.content - backKPa) {
    account(state, setup, 1, saw.crest!.atMs);
    account(state, setup, 0, endMs);
  } else if (saw.phase === 0 && tank.last.content > saw.min!.content + backKPa) {
    account(state, setup, 0, saw.foot!.atMs);
    account(state, setup, 1, endMs);
  } else account(state, setup, saw.phase, endMs);
}

/** The tank fell silent: time up to its last sample counts, the cycle under way is cut. */
export function cutSawTooth(state: DescriptorState, setup: DescriptorSetup, sink: DescriptorSink, lastMs = state.tank.last?.atMs ?? state.saw.accMs): void {
  const { saw } = state;
  if (saw.phase !== null) {
    account(state, setup, saw.phase, lastMs);
    if (alone(state)) {
      if (saw.phase === 1) saw.runS = (lastMs - saw.runStartMs) / 1000;
      endRunSamples(state, lastMs);
      endSawFall(state, false);
      if (saw.runS > 0) sink.cycle({ generator: setup.registered.key, startMs: saw.runStartMs, runS: saw.runS, restS: saw.phase === 0 ? (lastMs - saw.sinceMs) / 1000 : 0, source: 'tank-pressure', cut: true, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: saw.startKPa, stopKPa: saw.stopKPa });
    }
  }
  state.saw = { ...startSawTooth(), usualS: saw.usualS, fallPerMs: saw.fallPerMs, risePerMs: saw.risePerMs, coarse: saw.coarse, lows: saw.lows, highs: saw.highs };
}
