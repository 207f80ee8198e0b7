import type { Cycle } from '../../shared/cycle.ts';
import { MINUTE_MS } from '../../shared/time.ts';
import { noteBend } from './bend.ts';
import { addBalance, addFall } from './blocks.ts';
import { startsByBurst } from './bursts.ts';
import { compressorSent } from './compressor.ts';
import { noteStop } from './feed-fall.ts';
import { holdingS, isFilling } from './holding.ts';
import { fillsOwnTank, learnWarmShare, rememberCycle, rememberEdge } from './normal.ts';
import { type PeriodSums, sumsBy } from './period-sums.ts';
import { endRunSamples } from './run-samples.ts';
import type { DescriptorSetup, DescriptorSink, DescriptorState, TankSample } from './state.ts';
import { addThinned, medianOf, rounded, startThinned } from './thinned.ts';
import { drawnUnseen, LEAST_REST_S } from './unseen-rest.ts';

/** A run state holds this long without being repeated; a gateway repeats it at least hourly (design, section 5). */
export const STATE_HOLDS_MS = 75 * MINUTE_MS;
/** Of a rest that was seen settled for so much of its time it is known what it lost. */
const MOSTLY_SEEN = 0.6;
/** Pressures at starts and stops a quarter of a day keeps. */
const MOST_EDGES = 8;
/** A pressure at a start or stop is carried from a sample no further than this along the slope of its phase. */
const CARRY_MS = 6 * MINUTE_MS;

/** Bring the sums of the run state up to a moment; past the time that a state holds, the state is lost and the rest is a gap. */
export function advanceRun(state: DescriptorState, setup: DescriptorSetup, toMs: number, sink: DescriptorSink): void {
  const run = state.run;
  if (run.phase === null || toMs <= run.accMs) return;
  const knownToMs = Math.min(toMs, run.heardMs + STATE_HOLDS_MS);
  if (knownToMs > run.accMs) addSpan(state, setup, run.accMs, knownToMs);
  run.accMs = Math.max(run.accMs, knownToMs);
  if (knownToMs < toMs) loseRun(state, setup, sink);
}

function addSpan(state: DescriptorState, setup: DescriptorSetup, fromMs: number, toMs: number): void {
  const { run } = state;
  const sums = sumsBy(state.quarter!, 'running');
  const spanS = (toMs - fromMs) / 1000;
  const heldS = holdingS(state, setup, fromMs, toMs);
  const inPhaseS = (toMs - run.sinceMs) / 1000;
  if (run.phase === 1) {
    sums.runS += spanS;
    sums.holdRunS += heldS;
    run.totalRunS = rounded(run.totalRunS + spanS);
    run.addedS += heldS;
    if (inPhaseS > sums.longestRunS) sums.longestRunS = inPhaseS;
    if (state.open !== null) state.open.runS = inPhaseS;
    const fills = isFilling(state, setup, toMs);
    if (fills && !run.filling) takeBackFilling(state);
    run.filling = fills;
  } else {
    sums.restS += spanS;
    sums.holdRestS += heldS;
    if (inPhaseS > sums.longestRestS) sums.longestRestS = inPhaseS;
  }
  if (heldS < spanS && state.open !== null) state.open.held = false;
}

/** The run under way is a filling: what it has put into the holding sums of this quarter comes out again. */
function takeBackFilling(state: DescriptorState): void {
  const { run, tank } = state;
  const quarter = state.quarter!;
  run.filling = true;
  const sums = sumsBy(quarter, 'running');
  const backS = Math.min(run.addedS, sums.holdRunS);
  sums.holdRunS -= backS;
  if (state.open !== null) state.open.held = false;
  tank.chain = null;
  tank.rise = tank.spanS = tank.runS = tank.cycleFall = tank.cycleFallS = 0;
}

/** A state was sent: the same as before (it holds on), or a change. */
export function stateSent(state: DescriptorState, setup: DescriptorSetup, atMs: number, phase: 0 | 1, channel: 'running' | 'producing', sink: DescriptorSink): void {
  const run = state.run;
  if (channel === 'running') run.runningHeardMs = atMs;
  else run.producingHeardMs = atMs;
  if (channel !== leadingChannel(state, setup, atMs)) {
    if (channel === 'running') compressorSent(state, atMs, phase, STATE_HOLDS_MS);
    return;
  }
  advanceRun(state, setup, atMs, sink);
  if (run.channel !== channel && run.phase !== null) loseRun(state, setup, sink);
  run.channel = channel;
  run.heardMs = atMs;
  if (run.phase === null) beginUnknown(state, atMs, phase);
  else if (run.phase === phase) run.extreme = null;  else {
    if (phase === 1) beginRun(state, setup, atMs, sink);
    else beginRest(state, setup, atMs);
  }
}

/** With an air receiver `producing` counts, as the compressor also fills the receiver; else `running`. The other stands in where it alone is sent. */
function leadingChannel(state: DescriptorState, setup: DescriptorSetup, atMs: number): 'running' | 'producing' {
  const { run } = state;
  const receiver = setup.registered.generator.layout === 'air-receiver';
  const mine = receiver ? run.producingHeardMs : run.runningHeardMs;
  const fresh = mine > 0 && atMs - mine <= STATE_HOLDS_MS;
  return fresh === receiver ? 'producing' : 'running';
}

function beginUnknown(state: DescriptorState, atMs: number, phase: 0 | 1): void {
  const { run } = state;
  Object.assign(run, { phase, sinceMs: atMs, accMs: atMs, seen: false, filling: false, addedS: 0, extreme: null, longestBeforeS: 0 });
  state.open = { startMs: atMs, seen: false, runS: 0, startKPa: null, stopKPa: null, fallFirst: null, fallLast: null, riseFirst: null, riseMid: null, riseLast: null, held: true, hasty: false, wasLow: false };
  breakChains(state);
}

/** @param turn where the tank turned, if that is what tells of the start: it is the pressure there. */
export function beginRun(state: DescriptorState, setup: DescriptorSetup, atMs: number, sink: DescriptorSink, turn?: TankSample): void {
  const { run, open } = state;
  // No compressor starts without mains: the power channel is stale or wrong, and isn't believed until it speaks again.
  if (state.power === false) state.power = null;
  // Behind an air receiver the compressor starts and stops by the receiver, wherever the tank is.
  const own = fillsOwnTank(state, setup);
  const startKPa = !own ? null : turn?.kPa ?? carried(within(state.tank.last, run.sinceMs), open?.fallFirst ?? null, open?.fallLast ?? null, atMs);
  const hasty = run.phase === 0 && startsByBurst(state);
  state.tank.hastyShare = rounded(state.tank.hastyShare + HASTY_FOLLOWS * (Number(hasty) - state.tank.hastyShare));
  const unseenKPa = drawnUnseen(state, setup, startKPa);
  const restS = (atMs - run.sinceMs) / 1000;
  if (own && run.phase === 0 && run.seen && !hasty && open?.held === true && state.tank.cycleFallS >= MOSTLY_SEEN * restS) learnWarmShare(state, setup, (state.tank.cycleFall / state.tank.cycleFallS) * restS);
  if (unseenKPa !== null) Object.assign(state.tank, { fall: unseenKPa, fallS: restS, cycleFall: unseenKPa, cycleFallS: restS });
  if (open !== null) endCycle(state, setup, atMs, sink);
  endFall(state);
  endBalance(state, hasty);
  Object.assign(run, { phase: 1, sinceMs: atMs, accMs: atMs, seen: true, filling: false, addedS: 0, extreme: null, longestBeforeS: sumsBy(state.quarter!, 'running').longestRunS });
  state.open = { startMs: atMs, seen: true, runS: 0, startKPa, stopKPa: null, fallFirst: null, fallLast: null, riseFirst: null, riseMid: null, riseLast: null, held: holdingS(state, setup, atMs - 1000, atMs) > 0, hasty, wasLow: false };
  const quarter = state.quarter!;
  sumsBy(quarter, 'running').starts += 1;
  if (startKPa !== null && state.open.held) {
    addThinned(quarter.cutIn, startKPa, MOST_EDGES);
    rememberEdge(state, setup, 'start', startKPa);
  }
}

/** @param turn where the tank turned, if that is what tells of the stop. */
export function beginRest(state: DescriptorState, setup: DescriptorSetup, atMs: number, turn?: TankSample): void {
  const { run, open, tank } = state;
  const stopKPa = !fillsOwnTank(state, setup) ? null : turn?.kPa ?? carried(within(tank.last, run.sinceMs), within(tank.before, run.sinceMs), tank.last, atMs);
  if (open !== null) {
    open.stopKPa = stopKPa;
    open.runS = (atMs - run.sinceMs) / 1000;
  }
  endRunSamples(state, atMs);
  noteStop(state, setup, atMs);
  if (stopKPa !== null && holdingS(state, setup, atMs - 1000, atMs) > 0) {
    addThinned(state.quarter!.cutOut, stopKPa, MOST_EDGES);
    rememberEdge(state, setup, 'stop', stopKPa);
  }
  Object.assign(run, { phase: 0, sinceMs: atMs, accMs: atMs, seen: true, filling: false, addedS: 0, extreme: null });
  tank.settled = null;
}

function within(sample: TankSample | null, sinceMs: number): TankSample | null {
  return sample !== null && sample.atMs >= sinceMs ? sample : null;
}

/** The pressure at a moment: the last sample, carried along the slope between two samples of its phase. */
function carried(last: TankSample | null, from: TankSample | null, to: TankSample | null, atMs: number): number | null {
  if (last === null || atMs - last.atMs > CARRY_MS) return null;
  if (last.atMs === atMs) return last.kPa;
  // A slope that was seen over seconds is none to carry over minutes.
  if (from !== null && to !== null && to.atMs > from.atMs && atMs - last.atMs <= 2 * (to.atMs - from.atMs)) return last.kPa + ((to.kPa - from.kPa) / (to.atMs - from.atMs)) * (atMs - last.atMs);
  return atMs - last.atMs <= MINUTE_MS ? last.kPa : null;
}

/** A cycle ends where the next run starts. */
function endCycle(state: DescriptorState, setup: DescriptorSetup, atMs: number, sink: DescriptorSink): void {
  const { run, open } = state;
  if (open === null || open.runS === 0) return;
  const complete = open.seen && run.seen && run.phase === 0;
  const restS = run.phase === 0 ? (atMs - run.sinceMs) / 1000 : 0;
  sink.cycle(cycleOf(setup, open, restS, !complete, 'running'));
  if (!complete || !open.held) return;
  addCycle(state.quarter!, 'running', open.runS, restS);
  if (!isLonger(state, open.runS, UNSAID_TIMES)) addThinned((state.quarter!.runLengths ??= startThinned()), open.runS, MOST_EDGES);
  noteBend(state, setup, open);
  rememberCycle(state, open.runS, restS);
}

/** Count a complete cycle in holding. */
export function addCycle(quarter: PeriodSums, source: 'running' | 'tank-pressure', runS: number, restS: number): void {
  const sums = sumsBy(quarter, source);
  sums.cycles += 1;
  sums.cycleRunS += runS;
  sums.cycleRestS += restS;
  sums.cycleRunSquared += runS * runS;
  sums.cycleRestSquared += restS * restS;
}

export function cycleOf(setup: DescriptorSetup, open: NonNullable<DescriptorState['open']>, restS: number, cut: boolean, source: Cycle['source']): Cycle {
  return {
    generator: setup.registered.key,
    startMs: open.startMs,
    runS: open.runS,
    restS,
    source,
    cut,
    fallKPaPerMin: cut ? null : slope(open.fallFirst, open.fallLast, -1),
    riseKPaPerMin: cut ? null : slope(open.riseFirst, open.riseLast, 1),
    startKPa: open.startKPa,
    stopKPa: open.stopKPa,
  };
}

function slope(first: TankSample | null, last: TankSample | null, sign: 1 | -1): number | null {
  return first === null || last === null || last.atMs <= first.atMs ? null : (sign * (last.content - first.content) * 60_000) / (last.atMs - first.atMs);
}

/** The state is unknown from `accMs` on: the open cycle is handed over as cut, and nothing is bridged. */
export function loseRun(state: DescriptorState, setup: DescriptorSetup, sink: DescriptorSink): void {
  const { run, open } = state;
  if (run.phase === null) return;
  if (run.phase === 1) endRunSamples(state, run.accMs);
  if (open !== null && open.runS > 0) sink.cycle(cycleOf(setup, open, run.phase === 0 ? (run.accMs - run.sinceMs) / 1000 : 0, true, 'running'));
  state.open = null;
  endFall(state);
  endBalance(state);
  breakChains(state);
  Object.assign(run, { phase: null, seen: false, filling: false, addedS: 0, extreme: null });
}

/** Close the block of the settled rest under way. */
export function endFall(state: DescriptorState): void {
  const { tank } = state;
  if (tank.fallS > 0) addFall(state.quarter!.falls, tank.fall, tank.fallS);
  tank.fall = tank.fallS = 0;
  tank.settled = null;
}

/** Close the block of the balance; the chain goes on. `intoBurst`: a burst ended its rest. */
export function endBalance(state: DescriptorState, intoBurst = false): void {
  const { tank } = state;
  if (tank.runS >= LEAST_FULL_S && tank.runS >= FULL_SHARE * tank.spanS) {
    const full = (state.quarter!.fullRun ??= { riseKPa: 0, runS: 0 });
    full.riseKPa += tank.rise;
    full.runS += tank.runS;
  }
  if (tank.spanS > 0 && !isOddRun(state, intoBurst)) {
    const known = tank.cycleFallS >= LEAST_REST_S;
    const drawn = known ? (tank.cycleFall / tank.cycleFallS) * tank.spanS : 0;
    addBalance(state.quarter!.balance, tank.rise + drawn, known ? 0 : tank.spanS, tank.runS);
  }
  tank.rise = tank.spanS = tank.runS = tank.cycleFall = tank.cycleFallS = 0;
}

/** A run so many times as long as the middle one of late: something is drawn in it that its rest doesn't know of. Common practice, no source. */
const ODD_TIMES = 3;
/** So is a run that a burst started, and one whose rest a burst ended, unless half of the last ten or so are, or bursts are so much of what settled rests draw: then this piping draws so, and its rests know of it. */
const MOST_HASTY = 0.5;
const KNOWN_BURSTS = 0.4;
const HASTY_FOLLOWS = 0.1;
const LEAST_RUNS = 4;
/** The message of a stop that got lost makes a run so much longer; what is really longer is believed once half of the last runs are. */
const UNSAID_TIMES = 1.8;

function isLonger({ recentRunS }: DescriptorState, runS: number, times: number): boolean {
  return recentRunS.length >= LEAST_RUNS && runS > times * medianOf(recentRunS)!;
}

function isOddRun(state: DescriptorState, intoBurst: boolean): boolean {
  const { open, quarter, tank } = state;
  return open !== null && (isLonger(state, open.runS, ODD_TIMES) || ((open.hasty === true || intoBurst) && tank.hastyShare < MOST_HASTY && (quarter!.burstKPa ?? 0) <= KNOWN_BURSTS * (quarter!.slopeKPa ?? 0)));
}

/** A run of an hour and more without a rest since the balance began: demand isn't seen in it, only whether the tank rises or falls. */
const LEAST_FULL_S = 3600;
const FULL_SHARE = 0.97;

export function breakChains(state: DescriptorState): void {
  state.tank.chain = null;
  state.tank.settled = null;
}
