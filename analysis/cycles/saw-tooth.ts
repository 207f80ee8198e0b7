import { MINUTE_MS } from '../../shared/time.ts';
import { addBalance, addFall } from './blocks.ts';
import { nextUsual } from './duty.ts';
import { holdingS, holdsAt } from './holding.ts';
import { bandOf, rememberCycle, rememberEdge, reportEveryS } from './normal.ts';
import { endRunSamples } from './run-samples.ts';
import { addCycle } from './run-state.ts';
import { turnMs } from './saw-turn.ts';
import { type DescriptorSetup, type DescriptorSink, type DescriptorState, type SawTooth, startSawTooth, sumsBy, type TankSample } from './state.ts';
import { settlesMs } from './settling.ts';
import { addThinned } from './thinned.ts';

/** A turn is known when the content has come back by this share of the band: noise and bursts are smaller. */
const HYSTERESIS_SHARE = 0.25;
/** Below this nothing is a cycle, kPa: sensors and regulators move by as much. */
const HYSTERESIS_LEAST_KPA = 5;
/** At an edge of a period a leg counts as turned already when it has come back by this share of the hysteresis. */
const TURNED_SHARE = 0.2;
const SILENCE_TIMES = 3;
/** Within this share of the hysteresis two samples stand equally high. */
const NOISE_SHARE = 0.05;
/** Samples from the lowest to the highest that a run needs to show its own slope. */
const LEAST_IN_RUN = 4;
/** Extremes that are remembered to know the band's ends. */
const EXTREMES = 12;
/** A tank that only falls for so long since its first sample rests, though it hasn't fallen by the hysteresis yet. */
const STEADY_MS = 30 * MINUTE_MS;
/** A run raises the tank: one that hasn't for so long, and fell by more than noise, is over. */
const STALLED_MS = 20 * MINUTE_MS;
const STALLED_KPA = 0.5;
/** A long rest gives one value each two hours. */
const FALL_BLOCK_S = 7200;
const MOST_EDGES = 8;

/** A sample of the tank, after it went into the sums by state: follow the saw-tooth, and find its turns. */
export function sawToothSent(state: DescriptorState, setup: DescriptorSetup, sample: TankSample, sink: DescriptorSink): void {
  const before = state.tank.before;
  if (before !== null) {
    const gapS = (sample.atMs - before.atMs) / 1000;
    if (gapS > SILENCE_TIMES * Math.max(state.saw.usualS, reportEveryS(state, setup))) cutSawTooth(state, setup, sink, before.atMs);
    state.saw.usualS = nextUsual(state.saw.usualS, gapS);
  }
  const { saw } = state;
  if (saw.min === null) saw.accMs = sample.atMs;
  const hysteresis = hysteresisOf(state, setup);
  follow(saw, sample, before, NOISE_SHARE * hysteresis, settlesMs(state));
  if (saw.phase !== 1 && sample.content > saw.min!.content + hysteresis) turnUp(state, setup, sample, sink);
  else if (saw.phase !== 0 && sample.content < saw.max!.content - hysteresis) turnDown(state, setup, sample);
  else if (saw.phase === 1 && sample.atMs - saw.max!.atMs >= STALLED_MS && sample.content < saw.max!.content - STALLED_KPA) turnDown(state, setup, sample);
  else if (saw.phase === null && sample.atMs - saw.accMs >= STEADY_MS && sample === saw.min && saw.max!.atMs - saw.accMs < STALLED_MS) turnDown(state, setup, sample);
  if (saw.phase === 0 && saw.min === sample && alone(state)) fallTo(state, setup, saw.coarse && before !== null ? before : sample);
}

function hysteresisOf(state: DescriptorState, setup: DescriptorSetup): number {
  const band = bandOf(state, setup);
  const { saw } = state;
  const rangeKPa = band !== null ? band.highKPa - band.lowKPa : saw.min !== null && saw.max !== null ? Math.abs(saw.max.content - saw.min.content) : 0;
  return Math.max(HYSTERESIS_LEAST_KPA, HYSTERESIS_SHARE * rangeKPa);
}

function follow(saw: SawTooth, sample: TankSample, before: TankSample | null, noiseKPa: number, settleMs: number): void {
  if (saw.min === null || sample.content < saw.min.content) saw.min = sample;
  if (saw.phase !== 1 && sample.content <= saw.min.content + noiseKPa) Object.assign(saw, { beforeFoot: before, foot: sample, afterFoot: null, sinceFoot: 0 });
  else {
    saw.afterFoot ??= sample;
    saw.sinceFoot += 1;
  }
  if (saw.max === null || sample.content > saw.max.content) {
    saw.max = sample;
    if (saw.crest === null || sample.content > saw.crest.content + noiseKPa) {
      Object.assign(saw, { beforeCrest: before, crest: sample, afterCrest: null, settledFirst: null, atCrest: saw.sinceFoot });
      return;
    }
  }
  saw.afterCrest ??= sample;
  if (saw.settledFirst === null && sample.atMs - saw.crest!.atMs >= settleMs) saw.settledFirst = sample;
}

/** The content rose by the hysteresis: a run started between the lowest sample and the one after it. */
function turnUp(state: DescriptorState, setup: DescriptorSetup, sample: TankSample, sink: DescriptorSink): void {
  const { saw } = state;
  const min = saw.min!;
  const foot = saw.foot!;
  const afterFoot = saw.afterFoot ?? sample;
  if (saw.settledFirst !== null && min.atMs > saw.settledFirst.atMs) saw.fallPerMs = (saw.settledFirst.content - min.content) / (min.atMs - saw.settledFirst.atMs);
  if (saw.risePerMs === null && saw.sinceFoot >= 3) saw.risePerMs = (sample.content - afterFoot.content) / (sample.atMs - afterFoot.atMs);
  const startMs = Math.max(saw.phase === 0 ? saw.sinceMs : saw.accMs, turnMs(saw, saw.beforeFoot, foot, afterFoot, 'low'));
  remembered(saw.lows, min.content);
  const seen = saw.phase === 0 || min.atMs > saw.accMs;
  account(state, setup, 0, startMs);
  if (saw.phase === 0) endSawCycle(state, setup, startMs, min, sink);
  if (seen) sumsBy(state.quarter!, 'tank-pressure').starts += 1;
  const rested = startMs < foot.atMs && saw.beforeFoot !== null ? saw.beforeFoot : foot;
  const startKPa = seen ? rested.kPa - (saw.fallPerMs ?? 0) * (startMs - rested.atMs) : null;
  if (startKPa !== null && alone(state) && holdsAt(state, setup, startMs)) {
    addThinned(state.quarter!.cutIn, startKPa, MOST_EDGES);
    rememberEdge(state, 'start', startKPa);
  }
  Object.assign(saw, { phase: 1, sinceMs: startMs, seen, valley: min, runStartMs: startMs, runS: 0, startKPa, stopKPa: null, afterFoot, max: sample, beforeCrest: state.tank.before, crest: sample, atCrest: saw.sinceFoot, afterCrest: null, settledFirst: null });
}

/** The content fell by the hysteresis: the run stopped near the highest sample. */
function turnDown(state: DescriptorState, setup: DescriptorSetup, sample: TankSample): void {
  const { saw } = state;
  if (saw.phase === null) Object.assign(saw, { phase: 0, sinceMs: saw.accMs, seen: false });
  else {
    const stopMs = Math.max(saw.sinceMs, stopOf(saw, sample));
    account(state, setup, 1, stopMs);
    const after = saw.afterCrest ?? sample;
    const stopKPa = saw.coarse ? after.kPa + (saw.fallPerMs ?? 0) * Math.max(0, after.atMs - stopMs) : saw.crest!.kPa + (saw.risePerMs ?? 0) * Math.max(0, stopMs - saw.crest!.atMs);
    if (alone(state)) {
      endRunSamples(state, stopMs);
      if (holdsAt(state, setup, stopMs)) {
        addThinned(state.quarter!.cutOut, stopKPa, MOST_EDGES);
        rememberEdge(state, 'stop', stopKPa);
      }
    }
    Object.assign(saw, { phase: 0, runS: (stopMs - saw.runStartMs) / 1000, stopKPa, sinceMs: stopMs, seen: true });
  }
  Object.assign(saw, { min: sample, beforeFoot: state.tank.before, foot: sample, afterFoot: null, sinceFoot: 0 });
  const first = saw.settledFirst;
  if (alone(state)) state.tank.settled = first === null ? null : { content: first.content, atMs: first.atMs };
}

/** When a run stopped: where the rise meets the fall, after the highest sample or, if the tank had turned by then, before it. */
function stopOf(saw: SawTooth, sample: TankSample): number {
  const { beforeCrest, afterFoot } = saw;
  const crest = saw.crest!;
  saw.coarse = saw.atCrest < LEAST_IN_RUN;
  if (!saw.coarse && beforeCrest !== null && afterFoot !== null && beforeCrest.content > afterFoot.content) saw.risePerMs = (beforeCrest.content - afterFoot.content) / (beforeCrest.atMs - afterFoot.atMs);
  const from = saw.settledFirst ?? crest;
  if (sample.atMs > from.atMs) saw.fallPerMs = (from.content - sample.content) / (sample.atMs - from.atMs);
  remembered(saw.highs, saw.max!.content);
  return turnMs(saw, beforeCrest, crest, saw.afterCrest ?? sample, 'high');
}

function remembered(list: number[], content: number): void {
  list.push(Math.round(content * 100) / 100);
  if (list.length > EXTREMES) list.shift();
}

function endSawCycle(state: DescriptorState, setup: DescriptorSetup, atMs: number, min: TankSample, sink: DescriptorSink): void {
  const { saw } = state;
  const restS = (atMs - saw.sinceMs) / 1000;
  const complete = saw.seen && saw.runS > 0 && saw.startKPa !== null;
  if (!alone(state)) return;
  if (!saw.coarse) fallTo(state, setup, min);
  endSawFall(state, false);
  if (saw.runS <= 0) return;
  sink.cycle({ generator: setup.registered.key, startMs: saw.runStartMs, runS: saw.runS, restS, source: 'tank-pressure', cut: !complete, fallKPaPerMin: complete && saw.fallPerMs !== null ? saw.fallPerMs * 60_000 : null, riseKPaPerMin: complete && saw.risePerMs !== null ? saw.risePerMs * 60_000 : null, startKPa: saw.startKPa, stopKPa: saw.stopKPa });
  if (!complete || holdingS(state, setup, saw.runStartMs, atMs) < saw.runS + restS - 1) return;
  addCycle(state.quarter!, 'tank-pressure', saw.runS, restS);
  rememberCycle(state, saw.runS, restS);
  if (saw.valley !== null) {
    const spanMs = min.atMs - saw.valley.atMs;
    addBalance(state.quarter!.balance, min.content - saw.valley.content + (saw.fallPerMs ?? 0) * spanMs, saw.fallPerMs === null ? spanMs / 1000 : 0, saw.runS);
  }
}

/** No run state is known, so that the saw-tooth speaks for the generator. */
function alone(state: DescriptorState): boolean {
  return state.run.phase === null;
}

/** A new lowest sample of a settled rest: what the tank lost since the one before. */
function fallTo(state: DescriptorState, setup: DescriptorSetup, sample: TankSample): void {
  const { tank, saw } = state;
  if (!holdsAt(state, setup, sample.atMs)) {
    endSawFall(state, false);
    return;
  }
  if (tank.settled !== null && sample.atMs > tank.settled.atMs) {
    tank.fall += tank.settled.content - sample.content;
    tank.fallS += (sample.atMs - tank.settled.atMs) / 1000;
  }
  if (tank.settled !== null || sample.atMs - saw.sinceMs >= settlesMs(state)) tank.settled = { content: sample.content, atMs: sample.atMs };
  if (tank.fallS >= FALL_BLOCK_S) endSawFall(state, true);
}

function endSawFall(state: DescriptorState, goesOn: boolean): void {
  const { tank } = state;
  if (tank.fallS > 0) addFall(state.quarter!.falls, tank.fall, tank.fallS);
  tank.fall = tank.fallS = 0;
  if (!goesOn) tank.settled = null;
}

/** Add time in a phase to the sums of the tank's saw-tooth, from where they stand. */
function account(state: DescriptorState, setup: DescriptorSetup, phase: 0 | 1, toMs: number): void {
  const { saw } = state;
  const quarter = state.quarter!;
  const fromMs = Math.max(saw.accMs, quarter.startMs);
  if (toMs <= fromMs) return;
  const sums = sumsBy(quarter, 'tank-pressure');
  const spanS = (toMs - fromMs) / 1000;
  const heldS = holdingS(state, setup, fromMs, toMs);
  const inPhaseS = Math.max(spanS, saw.phase === phase ? (toMs - saw.sinceMs) / 1000 : 0);
  if (alone(state)) quarter.outS += spanS - heldS;
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
