import { heedFeedFall } from './feed-fall.ts';
import { type BaseChannel, CHANNELS, type Channel } from '../../shared/channels.ts';
import { DAY_MS, MINUTE_MS } from '../../shared/time.ts';
import { countersSent } from './counters.ts';
import { dutySent } from './duty.ts';
import { heedPiping, holdsAt } from './holding.ts';
import { reportEveryS } from './normal.ts';
import { addRunNitrogen, MOST_IN_RUN } from './run-samples.ts';
import { advanceRun, stateSent } from './run-state.ts';
import { sawToothSent } from './saw-tooth.ts';
import type { Mean } from './period-sums.ts';
import type { DescriptorSetup, DescriptorSink, DescriptorState } from './state.ts';
import { RUN_SETTLES_MS, tankSent } from './tank.ts';
import { addThinned, outOfStep, rounded } from './thinned.ts';
import { heedNewStart } from './unsaid-turn.ts';

/** Order within an instant: mains and temperatures first, as they judge the rest; a change of run state last, so that a sample at the change still ends the phase before it. */
const ORDER: readonly BaseChannel[] = ['power', 'tank-temperature', 'room-temperature', 'pipe-temperature', 'outdoor-temperature', 'discharge-temperature', 'humidity', 'motor-current', 'tank-pressure', 'system-pressure', 'discharge-pressure', 'feed-pressure', 'nitrogen', 'oxygen', 'run-time', 'starts', 'duty', 'producing', 'running'];
const RANKS: Readonly<Record<string, number>> = Object.fromEntries(ORDER.map((channel, index) => [channel, index]));
if (ORDER.length !== Object.keys(CHANNELS).length) throw new RangeError(`Cannot order channels as all ${Object.keys(CHANNELS).length} must be named: current value is ${ORDER.length}`);

/** Order of two channels within an instant. */
export function compareChannels(a: Channel, b: Channel): number {
  return (RANKS[a] ?? RANKS['system-pressure']!) - (RANKS[b] ?? RANKS['system-pressure']!) || (a < b ? -1 : a > b ? 1 : 0);
}

/** A room's air swings faster than the gas in a steel tank that stands in it; a lag of this size is common practice, no source. */
const TANK_FOLLOWS_ROOM_MS = 30 * MINUTE_MS;
/** Nitrogen values of a quarter where the sensor stands at the tank or the piping and not in the product of a run. */
const MOST_STANDING = 8;

/** One reading into the sums it belongs to. All readings of an instant come through here in the order of `RANK`. */
export function applyReading(state: DescriptorState, setup: DescriptorSetup, channel: Channel, atMs: number, value: number, sink: DescriptorSink): void {
  const quarter = state.quarter!;
  quarter.heard[channel] = (quarter.heard[channel] ?? 0) + 1;
  const lastMs = state.lastAtMs[channel] ?? atMs;
  state.lastAtMs[channel] = atMs;
  switch (channel) {
    case 'tank-pressure': {
      const sample = tankSent(state, setup, atMs, value, sink);
      sawToothSent(state, setup, sample, sink);
      break;
    }
    case 'running':
    case 'producing':
      if (value >= 0.5) heedNewStart(state, setup, channel, atMs);
      stateSent(state, setup, atMs, value >= 0.5 ? 1 : 0, channel, sink);
      break;
    case 'discharge-pressure':
      heedHead(state, atMs, value);
      state.discharge = { atMs, value };
      noteLeast((quarter.dischargeLeast ??= []), value);
      pressureInRun(state, setup, 'discharge', atMs, value);
      break;
    case 'feed-pressure':
      state.feed = { atMs, value };
      noteLeast((quarter.feedLeast ??= []), value);
      pressureInRun(state, setup, 'feed', atMs, value);
      heedFeedFall(state, atMs, value);
      break;
    case 'nitrogen':
      nitrogenSent(state, setup, atMs, value);
      break;
    case 'oxygen':
      // Argon (0.9 % of air) is counted as nitrogen, as the trade does.
      if (state.lastAtMs.nitrogen === undefined) nitrogenSent(state, setup, atMs, 1 - value);
      break;
    case 'run-time':
    case 'starts':
      countersSent(state, setup, channel, atMs, value);
      break;
    case 'duty':
      dutySent(state, setup, atMs, value);
      break;
    case 'power':
      powerSent(state, setup, atMs, value >= 0.5, sink);
      break;
    case 'room-temperature':
      roomSent(state, atMs, value);
      addToMean(quarter.room, value);
      break;
    case 'tank-temperature':
      state.tankC = value;
      state.tankCAtMs = atMs;
      break;
    case 'pipe-temperature':
      addToMean(quarter.pipe, value);
      break;
    case 'humidity':
      addToMean(quarter.humidity, value);
      break;
    case 'outdoor-temperature':
    case 'discharge-temperature':
    case 'motor-current':
      break;
    default:
      state.systemKPa = value;
      state.systemAtMs = atMs;
      addToMean(quarter.system, value);
      heedPiping(state, channel, value, atMs - lastMs);
  }
}

/** The least of the quarter, as a list of one: those of a day are joined. */
function noteLeast(least: number[], value: number): void {
  if (least.length === 0 || value < least[0]!) least[0] = value;
}

function addToMean(mean: Mean, value: number): void {
  mean.n += 1;
  mean.sum += value;
  mean.squares += value * value;
}

function roomSent(state: DescriptorState, atMs: number, celsius: number): void {
  const share = state.roomC === null ? 1 : 1 - Math.exp(-(atMs - state.roomAtMs) / TANK_FOLLOWS_ROOM_MS);
  state.roomC = (state.roomC ?? celsius) + share * (celsius - (state.roomC ?? celsius));
  state.roomAtMs = atMs;
}

function powerSent(state: DescriptorState, setup: DescriptorSetup, atMs: number, present: boolean, sink: DescriptorSink): void {
  if (present === state.power) return;
  advanceRun(state, setup, atMs, sink);
  if (state.power !== null) state.powerAtMs = atMs;
  state.power = present;
}

/** Whether the compressor delivers now: by its state, else as the tank's newest sample is the highest of a rise. */
function runsSinceMs(state: DescriptorState): number | null {
  const { run, saw, tank } = state;
  if (run.phase !== null) return run.phase === 1 ? run.sinceMs : null;
  return saw.phase === 1 && saw.max !== null && saw.max.atMs === tank.last?.atMs ? saw.sinceMs : null;
}

/** How high the head is pushed and how far it is let down follows within so long; a head that is let down by less tells no run, and one that is up by this share of it does. Common practice, no source. */
const HEAD_FOLLOWS_MS = 14 * DAY_MS;
const LEAST_HEAD_KPA = 150;
const HEAD_UP_SHARE = 0.7;
/** Two pressures of one look at the gauges. */
const TOGETHER_MS = 5_000;

/** Learn between which pressures the head goes up and down, where no run state is sent. */
function heedHead(state: DescriptorState, atMs: number, kPa: number): void {
  if (state.run.phase !== null) {
    delete state.head;
    return;
  }
  const [restKPa, topKPa] = state.head ?? [kPa, kPa];
  const share = Math.min(1, (atMs - (state.discharge?.atMs ?? atMs)) / HEAD_FOLLOWS_MS);
  const follow = (was: number): number => rounded(was + share * (kPa - was));
  state.head = [Math.min(kPa, follow(restKPa)), Math.max(kPa, follow(topKPa))];
}

/** Whether the head was pushed up then; `undefined` where it isn't known how far it is let down. */
function isHeadUp({ head }: DescriptorState, kPa: number): boolean | undefined {
  if (head === undefined || head[1] - head[0] < LEAST_HEAD_KPA) return undefined;
  return kPa > head[0] + HEAD_UP_SHARE * (head[1] - head[0]);
}

/** Where no run state is sent the head itself tells a run: pressures of one look at both gauges, while it is up. */
function pressureByHead(state: DescriptorState, name: 'discharge' | 'feed', atMs: number, kPa: number): void {
  const { discharge, samples } = state;
  if (discharge === null || atMs - discharge.atMs > TOGETHER_MS || isHeadUp(state, discharge.value) !== true) return;
  addThinned(samples[name], kPa, MOST_IN_RUN);
  if (name === 'feed') addThinned(samples.drop, discharge.value - kPa, MOST_IN_RUN);
}

/** Medians while running, after the first minute; the drop over the elements from pairs, where flow is normal. */
function pressureInRun(state: DescriptorState, setup: DescriptorSetup, name: 'discharge' | 'feed', atMs: number, value: number): void {
  if (state.run.phase === null && state.discharge !== null && isHeadUp(state, state.discharge.value) !== undefined) {
    if (holdsAt(state, setup, atMs)) pressureByHead(state, name, atMs, value);
    return;
  }
  const sinceMs = runsSinceMs(state);
  if (sinceMs === null || atMs - sinceMs < RUN_SETTLES_MS || !holdsAt(state, setup, atMs)) return;
  addThinned(state.samples[name], value, MOST_IN_RUN);
  if (name === 'discharge' || state.discharge === null) return;
  const before = state.discharge;
  const pairedMs = 1000 * Math.max(30, Math.min(300, reportEveryS(state, setup)));
  if (atMs - before.atMs > pairedMs || before.atMs - sinceMs < RUN_SETTLES_MS) return;
  addThinned(state.samples.drop, before.value - value, MOST_IN_RUN);
}

function nitrogenSent(state: DescriptorState, setup: DescriptorSetup, atMs: number, value: number): void {
  if (!holdsAt(state, setup, atMs)) return;
  // Where no run state is sent a run isn't seen for long enough: between runs the analyser stands at what the last one made.
  if (setup.registered.generator.nitrogenAt !== 'product' || (state.run.runningHeardMs === 0 && state.run.producingHeardMs === 0)) {
    addThinned(state.quarter!.nitrogen, value, MOST_STANDING, outOfStep);
    return;
  }
  const sinceMs = runsSinceMs(state);
  if (sinceMs !== null) addRunNitrogen(state, (atMs - sinceMs) / 1000, value);
}
