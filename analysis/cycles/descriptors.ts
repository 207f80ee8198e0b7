import type { Channel } from '../../shared/channels.ts';
import { type CalendarDay, HOUR_MS } from '../../shared/time.ts';
import { applyReading, compareChannels } from './apply-reading.ts';
import { saidLate } from './late-start.ts';
import { learnGap, reportEveryS, settleGap } from './normal.ts';
import { startPeriod } from './period-sums.ts';
import { addedUp, joinedPast } from './periods.ts';
import { rowOf } from './rows.ts';
import { endRunSamples } from './run-samples.ts';
import { advanceRun, endBalance, endFall, loseRun } from './run-state.ts';
import { cutSawTooth, passSawTooth } from './saw-sums.ts';
import type { DescriptorSetup, DescriptorSink, DescriptorState } from './state.ts';

export { presentOf } from './present.ts';
export { startDescriptors, type DescriptorSetup, type DescriptorSink, type DescriptorState } from './state.ts';

/** A day's row waits this long after the day's end (design, section 4.5). */
export const DAY_WAITS_MS = 2 * HOUR_MS;
/** A silence is longer than this many usual gaps. */
const SILENCE_TIMES = 3;
/** After a silence of more than this the days in between are not written one by one. */
const MOST_EMPTY_DAYS = 400;

/** Fold one reading in. Readings come in order of device time; within an instant their order doesn't matter. */
export function stepDescriptors(state: DescriptorState, setup: DescriptorSetup, channel: Channel, atMs: number, value: number, sink: DescriptorSink): void {
  if (atMs > state.pendingMs && state.pending.length > 0) applyPending(state, setup, sink);
  state.pendingMs = atMs;
  wait(state.pending, { channel, value });
}

/** Put a reading where it belongs among those of its instant. They are few: to sort them together costs an array for each instant. */
function wait(pending: DescriptorState['pending'], one: DescriptorState['pending'][number]): void {
  let at = pending.length;
  pending.push(one);
  for (; at > 0 && compareChannels(pending[at - 1]!.channel, one.channel) > 0; at -= 1) pending[at] = pending[at - 1]!;
  pending[at] = one;
}

/** Device time has come to `frontierMs`: what waits is folded, quarters that ended are closed, days that ended 2 h ago are handed over. */
export function passTo(state: DescriptorState, setup: DescriptorSetup, frontierMs: number, sink: DescriptorSink): void {
  if (state.pending.length > 0 && state.pendingMs <= frontierMs) applyPending(state, setup, sink);
  if (state.quarter === null) return;
  if (isSilent(state, setup, frontierMs)) fallSilent(state, setup, sink);
  passEdges(state, setup, frontierMs, sink);
}

function applyPending(state: DescriptorState, setup: DescriptorSetup, sink: DescriptorSink): void {
  const atMs = state.pendingMs;
  if (state.quarter === null) openQuarter(state, setup, atMs);
  else {
    if (isSilent(state, setup, atMs)) fallSilent(state, setup, sink);
    if (atMs >= state.nextEdgeMs) passEdges(state, setup, atMs, sink);
    learnGap(state, (atMs - state.lastAnyMs) / 1000);
  }
  const { pending } = state;
  const late = saidLate(state, setup, pending);
  if (late !== null) applyReading(state, setup, late, atMs, 1, sink);
  for (const one of pending) if (one.channel !== late) applyReading(state, setup, one.channel, atMs, one.value, sink);
  pending.length = 0;
  state.lastAnyMs = atMs;
}

function isSilent(state: DescriptorState, setup: DescriptorSetup, atMs: number): boolean {
  return atMs - state.lastAnyMs > SILENCE_TIMES * 1000 * reportEveryS(state, setup);
}

/** Nothing was heard for too long: what was going on ends, cut, with the last reading. */
function fallSilent(state: DescriptorState, setup: DescriptorSetup, sink: DescriptorSink): void {
  advanceRun(state, setup, state.lastAnyMs, sink);
  cutSawTooth(state, setup, sink);
  loseRun(state, setup, sink);
  state.tank.last = state.tank.before = null;
}

function openQuarter(state: DescriptorState, setup: DescriptorSetup, atMs: number): void {
  const day = setup.calendar(atMs);
  const { hour, startMs, endMs } = quarterOf(day, atMs);
  state.quarter = startPeriod(day.day, hour, startMs, endMs);
  state.nextEdgeMs = Math.min(endMs, nextRelease(state));
}

/** Quarters go by the clock on the wall: on the day when clocks change, the first is an hour longer or shorter. */
function quarterOf(day: CalendarDay, atMs: number): { readonly hour: number; readonly startMs: number; readonly endMs: number } {
  for (const hour of [18, 12, 6]) {
    const startMs = day.endMs - (24 - hour) * HOUR_MS;
    if (atMs >= startMs) return { hour, startMs, endMs: startMs + 6 * HOUR_MS };
  }
  return { hour: 0, startMs: day.startMs, endMs: day.endMs - 18 * HOUR_MS };
}

function nextRelease(state: DescriptorState): number {
  const first = state.waiting[0];
  return first === undefined ? Infinity : first.endMs + DAY_WAITS_MS;
}

/** Close what ended by `toMs`, in order of time. */
function passEdges(state: DescriptorState, setup: DescriptorSetup, toMs: number, sink: DescriptorSink): void {
  while (toMs >= state.nextEdgeMs) {
    const first = state.waiting[0];
    if (first !== undefined && nextRelease(state) <= state.quarter!.endMs) {
      state.waiting.shift();
      sink.day(Object.assign(first, { provisional: false }));
    } else closeQuarter(state, setup, toMs, sink);
    state.nextEdgeMs = Math.min(state.quarter!.endMs, nextRelease(state));
  }
}

function closeQuarter(state: DescriptorState, setup: DescriptorSetup, toMs: number, sink: DescriptorSink): void {
  const quarter = state.quarter!;
  const { endMs } = quarter;
  advanceRun(state, setup, endMs, sink);
  passSawTooth(state, setup, endMs, sink);
  if (state.run.phase === 1 || state.head !== undefined) endRunSamples(state, endMs);
  const { settled } = state.tank;
  endFall(state);
  state.tank.settled = settled;
  endBalance(state);
  state.run.addedS = 0;
  state.run.longestBeforeS = 0;
  settleGap(state);
  sink.quarter(rowOf(quarter, `${quarter.day}T${String(quarter.hour).padStart(2, '0')}`, false, state, setup));
  state.quarters = [joinedPast([...state.quarters, quarter])];
  const day = setup.calendar(quarter.startMs);
  if (endMs >= day.endMs) {
    state.waiting.push(rowOf(addedUp(state.quarters, day.day, day.startMs, day.endMs), day.day, true, state, setup));
    state.quarters = [];
  }
  const emptyFromMs = toMs - MOST_EMPTY_DAYS * 24 * HOUR_MS;
  openQuarter(state, setup, Math.max(endMs, emptyFromMs));
}
