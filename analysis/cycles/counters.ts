import { HOUR_MS } from '../../shared/time.ts';
import { holdingS } from './holding.ts';
import { type RunSums, sumsBy } from './period-sums.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { rounded } from './thinned.ts';

/** A counter forgets nothing, so that a difference is right however far apart; beyond this the day it belongs to is unknown. */
const SPAN_MOST_MS = 26 * HOUR_MS;
/** Clocks and the meter's own step may make a difference look a little longer than the time that passed. */
const OVER_SHARE = 1.02;
const OVER_S = 400;

/**
 * A running total came: run and rest of the span since the one before go into the sums, those of the present quarter
 * alone (a span across an edge goes where it ends in the share that lies there; the rest was put there at the edge).
 * A total that falls, or rises faster than time, was set anew: that span is a gap.
 */
export function countersSent(state: DescriptorState, setup: DescriptorSetup, channel: 'run-time' | 'starts', atMs: number, value: number): void {
  const name = channel === 'run-time' ? 'runTime' : 'starts';
  const before = state[name];
  const content = channel === 'run-time' ? contentNow(state, atMs) : undefined;
  state[name] = content === undefined ? { atMs, value } : { atMs, value, content };
  // A run state tells of each cycle by itself.
  if (channel === 'starts' && state.run.phase === null && state.runTime !== null && atMs - state.runTime.atMs <= SAME_MOMENT_MS) state.starts!.ranS = state.runTime.value;
  if (before === null || atMs <= before.atMs) return;
  const spanMs = atMs - before.atMs;
  const change = value - before.value;
  if (spanMs > SPAN_MOST_MS || change < 0) {
    delete state.countedFrom;
    return;
  }
  if (channel === 'starts') {
    // More than a start every 10 s is no compressor but a counter that was set.
    if (change > spanMs / 10_000) {
      delete state.countedFrom;
      return;
    }
    if (change > 0) countCycles(state, setup, before);
    sumsBy(state.quarter!, 'counters').starts += change;
    heldSpans(state, setup, before.atMs, atMs, 'counters', (sums, _, heldS) => (sums.fills = rounded((sums.fills ?? 0) + (change * heldS * 1000) / spanMs)));
    return;
  }
  if (change > (spanMs / 1000) * OVER_SHARE + OVER_S) return;
  spread(state, setup, { fromMs: before.atMs, toMs: atMs, riseKPa: riseBetween(before.content, content) }, Math.min(1, change / (spanMs / 1000)), 'counters');
}

/** A test or a filling on the way leaves a cycle out. */
const WHOLE_SHARE = 0.98;

/**
 * From the reading before one counted start to the reading before a later one whole cycles passed, and the hour meter says how much of
 * that was run: wrong by a span of the reports at each end, however few the cycles of a day are. They belong to the quarter in which the last ended.
 */
function countCycles(state: DescriptorState, setup: DescriptorSetup, { atMs, value, ranS }: NonNullable<DescriptorState['starts']>): void {
  const from = state.countedFrom;
  // A meter of coarse steps says of some cycles that nothing was run: they are told with the next.
  if (from !== undefined && ranS !== undefined && ranS === from.ranS) return;
  if (ranS === undefined) delete state.countedFrom;
  else state.countedFrom = { atMs, starts: value, ranS };
  if (from === undefined || ranS === undefined) return;
  const cycles = value - from.starts;
  const elapsedS = Math.round((atMs - from.atMs) / 1000);
  const runS = Math.round(ranS - from.ranS);
  const restS = elapsedS - runS;
  if (cycles < 1 || runS < 0 || restS <= 0 || holdingS(state, setup, from.atMs, atMs) < WHOLE_SHARE * elapsedS) return;
  const sums = sumsBy(state.quarter!, 'counters');
  sums.cycles += cycles;
  sums.cycleRunS += runS;
  sums.cycleRestS += restS;
  sums.cycleRunSquared += Math.round(runS ** 2 / cycles);
  sums.cycleRestSquared += Math.round(restS ** 2 / cycles);
}

/** A sample of the tank is as old as this at most to stand for what is in it when a counter or a duty ratio speaks. */
const SAME_MOMENT_MS = 30_000;

/** What is in the tank as a counter or a duty ratio speaks, kPa at 20 °C; `undefined` where that isn't known, or a run state tells more. */
export function contentNow(state: DescriptorState, atMs: number): number | undefined {
  const { last } = state.tank;
  return last === null || atMs - last.atMs > SAME_MOMENT_MS || state.run.phase !== null ? undefined : last.content;
}

export function riseBetween(before: number | undefined, now: number | undefined): number | undefined {
  return before === undefined || now === undefined ? undefined : now - before;
}

/** A span that a counter or a duty ratio speaks for, and what the tank's content rose by in it, where that is known. */
type ToldSpan = { readonly fromMs: number; readonly toMs: number; readonly riseKPa: number | undefined };

/** Put a span with a known share of running into the quarters that it touches; what the content rose by goes with the time, as the run does. */
export function spread(state: DescriptorState, setup: DescriptorSetup, { fromMs, toMs, riseKPa }: ToldSpan, share: number, source: 'counters' | 'duty'): void {
  heldSpans(state, setup, fromMs, toMs, source, (sums, spanS, heldS) => {
    if (riseKPa !== undefined) {
      sums.riseKPa = rounded((sums.riseKPa ?? 0) + (riseKPa * heldS * 1000) / (toMs - fromMs));
      sums.riseS = rounded((sums.riseS ?? 0) + heldS);
    }
    sums.runS = rounded(sums.runS + share * spanS);
    sums.restS = rounded(sums.restS + (1 - share) * spanS);
    sums.holdRunS = rounded(sums.holdRunS + share * heldS);
    sums.holdRestS = rounded(sums.holdRestS + (1 - share) * heldS);
  });
}

/** The parts of a span in the quarters that it touches: their length and how much of it was holding, s. */
function heldSpans(state: DescriptorState, setup: DescriptorSetup, fromMs: number, toMs: number, source: 'counters' | 'duty', add: (sums: RunSums, spanS: number, heldS: number) => void): void {
  for (const quarter of [...state.quarters, state.quarter!]) {
    const beginMs = Math.max(fromMs, quarter.startMs);
    const endMs = Math.min(toMs, quarter.endMs);
    if (endMs > beginMs) add(sumsBy(quarter, source), (endMs - beginMs) / 1000, holdingS(state, setup, beginMs, endMs));
  }
}
