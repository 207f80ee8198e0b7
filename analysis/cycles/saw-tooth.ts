import { MINUTE_MS } from '../../shared/time.ts';
import { addBalance } from './blocks.ts';
import { nextUsual } from './duty.ts';
import { holdingS, holdsAt } from './holding.ts';
import { learnWarmShare, rememberCycle, rememberEdge, reportEveryS } from './normal.ts';
import { sumsBy } from './period-sums.ts';
import { endRunSamples } from './run-samples.ts';
import { addCycle } from './run-state.ts';
import { account, alone, cutSawTooth, endSawFall, hysteresisOf, SILENCE_TIMES } from './saw-sums.ts';
import { turnMs } from './saw-turn.ts';
import { settlesMs } from './settling.ts';
import type { DescriptorSetup, DescriptorSink, DescriptorState, SawTooth, TankSample } from './state.ts';
import { addThinned } from './thinned.ts';

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
  const startMs = Math.max(saw.phase === 0 ? saw.sinceMs : saw.accMs, Math.round(turnMs(saw, saw.beforeFoot, foot, afterFoot, 'low')));
  remembered(saw.lows, min.content);
  const seen = saw.phase === 0 || min.atMs > saw.accMs;
  account(state, setup, 0, startMs);
  if (saw.phase === 0) endSawCycle(state, setup, startMs, min, sink);
  if (seen) sumsBy(state.quarter!, 'tank-pressure').starts += 1;
  const rested = startMs < foot.atMs && saw.beforeFoot !== null ? saw.beforeFoot : foot;
  const startKPa = seen ? rested.kPa - (saw.fallPerMs ?? 0) * (startMs - rested.atMs) : null;
  if (startKPa !== null && alone(state) && holdsAt(state, setup, startMs)) {
    addThinned(state.quarter!.cutIn, startKPa, MOST_EDGES);
    rememberEdge(state, setup, 'start', startKPa);
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
        rememberEdge(state, setup, 'stop', stopKPa);
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
  return Math.round(turnMs(saw, beforeCrest, crest, saw.afterCrest ?? sample, 'high'));
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
  if (!saw.coarse && saw.fallPerMs !== null) learnWarmShare(state, setup, saw.fallPerMs * restS * 1000);
  if (saw.valley !== null) {
    const spanMs = min.atMs - saw.valley.atMs;
    addBalance(state.quarter!.balance, min.content - saw.valley.content + (saw.fallPerMs ?? 0) * spanMs, saw.fallPerMs === null ? spanMs / 1000 : 0, saw.runS);
  }
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

