import type { Channel } from '../shared/channels.ts';
import type { Cycle, DayRow, QuarterValues } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { RegisteredGenerator } from '../shared/registry.ts';
import { calendarOf, MINUTE_MS } from '../shared/time.ts';
import { endsMs } from './data-state.ts';
import { type CounterName, type CounterWatch, noteCounter } from './causes/counter-reset.ts';
import { type ChannelSpan, type Frozen, frozenNow, type SpanDay, surelyInRun, widenSpan } from './causes/data-faults.ts';
import { quarterValues } from './causes/day-series.ts';
import { type MotorRuns, noteMotor, noteProducing, startMotorRuns } from './causes/motor-trips.ts';
import { type RecentCycles, rememberCycle, startRecentCycles } from './causes/recent-cycles.ts';
import { type RisersOff, risersOff } from './causes/riser-gauges.ts';
import { noteShare, startTold, type ToldByMeter } from './causes/told-by-meter.ts';
import { DAY_WAITS_MS, type DescriptorSetup, type DescriptorState, passTo, presentOf, startDescriptors, stepDescriptors } from './cycles/descriptors.ts';
import { reportEveryS } from './cycles/normal.ts';
import { REPORTS_IN_REST } from './cycles/times-alone.ts';

/** Readings younger than this wait: swapped ones of one gateway come in order then (design, section 4.3). */
export const FRONTIER_LAG_MS = 120_000;
const HISTORY_DAYS = 400;
/** A state of `running` is not believed longer than this without being repeated (design, section 5). */
export const STATE_HOLDS_MS = 75 * MINUTE_MS;
const SPAN_DAYS = 8;

/** A tank that rose by so much from its lowest was filled; by less it is noise, or gas that warms. Common practice, no source. */
const FILLED_KPA = 4;
/** Over a longer silence a whole cycle may have passed. */
const CREST_HOLDS_MS = 40 * MINUTE_MS;

function nextCrest(crest: FoldState['crest'], before: Sample | null, [kPa, atMs]: Sample): FoldState['crest'] {
  if (crest === null || before === null || kPa > crest[2] + FILLED_KPA || atMs - before[1] > CREST_HOLDS_MS) return [kPa, atMs, kPa];
  return kPa < crest[2] ? [crest[0], crest[1], kPa] : crest;
}

/** State of a channel that is on or off: [value, since, last heard, times said, when that was counted last]. */
type OnOff = [value: number, sinceMs: number, heardMs: number, times: number, countedMs: number];
type Sample = [value: number, atMs: number];

/** All that the fold of one generator remembers beside its closed days; plain JSON. */
export type FoldState = {
  frontierMs: number;
  descriptors: DescriptorState;
  cycles: RecentCycles;
  openQuarters: QuarterValues[];
  running: OnOff | null;
  producing: OnOff | null;
  power: OnOff | null;
  tank: Sample | null;
  /** Where the tank began to rest: its value when it was last seen to be filled, and the lowest since. */
  crest: [kPa: number, atMs: number, lowKPa: number] | null;
  /** The hour meter: [value, when it was first heard so, when it was last heard so]. */
  meter: [value: number, sinceMs: number, heardMs: number] | null;
  /** What the hour meter or the duty ratio tells of runs and rests; absent where neither is sent, and in what earlier builds saved. */
  told?: ToldByMeter;
  /** The compressor's own runs behind an air receiver; absent without one, and in what earlier builds saved. */
  motor?: MotorRuns;
  /** Hour meter and start counter, for steps that no running explains. */
  counters: Partial<Record<CounterName, CounterWatch>>;
  /** Newest piping pressure of each riser. */
  systems: Partial<Record<Channel, Sample>>;
  spans: Partial<Record<Channel, ChannelSpan>>;
  spanDays: SpanDay[];
  frozen: Frozen;
  risersOff: RisersOff;
};

export function startFold(): FoldState {
  return { frontierMs: 0, descriptors: startDescriptors(), cycles: startRecentCycles(), openQuarters: [], running: null, producing: null, power: null, tank: null, crest: null, meter: null, counters: {}, systems: {}, spans: {}, spanDays: [], frozen: {}, risersOff: {} };
}

/** Readings that wait to be folded, as columns. */
export type Waiting = { atMs: number[]; channel: Channel[]; value: number[] };

/** What the fold put out since it was last asked. */
export type FoldOutput = { days: DayRow[]; cycles: Cycle[]; quarterClosed: boolean; dayClosed: boolean };

/**
 * The readings of one generator, folded in order of device time: descriptors, closed days, recent cycles.
 * A pure machine: the same readings and the same setup give the same state, bit for bit.
 */
export class GeneratorFold {
  state: FoldState;
  /** Closed days, oldest first; at most 400. */
  readonly history: DayRow[];
  #setup: DescriptorSetup;
  #output: FoldOutput = { days: [], cycles: [], quarterClosed: false, dayClosed: false };

  constructor(registered: RegisteredGenerator, entries: readonly Entry[], state: FoldState = startFold(), history: readonly DayRow[] = []) {
    this.state = state;
    this.history = [...history].slice(-HISTORY_DAYS);
    this.#setup = setupOf(registered, entries);
  }

  /** What is known beside the readings changed: tank, limits, tests. Acts on what is folded from now on. */
  know(registered: RegisteredGenerator, entries: readonly Entry[]): void {
    this.#setup = setupOf(registered, entries);
  }

  /** Go back to a state of the past; days that were not yet handed over then are forgotten. */
  goBack(state: FoldState): void {
    this.state = state;
    const kept = this.history.findIndex((row) => row.endMs + DAY_WAITS_MS > state.frontierMs);
    if (kept >= 0) this.history.length = kept;
  }

  /** What is usual in a cycle is learned anew: another one speaks. */
  forgetCycles(): void {
    this.state.cycles = startRecentCycles();
  }

  /** Fold the readings with index in `order`, which puts them in order of device time and channel, then let time pass to the frontier. */
  fold(waiting: Waiting, order: readonly number[], frontierMs: number): void {
    for (const index of order) this.#step(waiting.channel[index]!, waiting.atMs[index]!, waiting.value[index]!);
    this.state.frontierMs = Math.max(this.state.frontierMs, frontierMs);
    passTo(this.state.descriptors, this.#setup, this.state.frontierMs, this.#sink);
  }

  /** Days that aren't handed over yet: the one that ended less than 2 h ago, and the present one so far. */
  openDays(): DayRow[] {
    const { descriptors, frontierMs } = this.state;
    const { today } = presentOf(descriptors, this.#setup, frontierMs);
    return [...descriptors.waiting, ...(today === null ? [] : [today])].map((row) => ({ ...row, provisional: true }));
  }

  /** Take what was put out. */
  take(): FoldOutput {
    const output = this.#output;
    this.#output = { days: [], cycles: [], quarterClosed: false, dayClosed: false };
    return output;
  }

  #step(channel: Channel, atMs: number, value: number): void {
    const { state } = this;
    stepDescriptors(state.descriptors, this.#setup, channel, atMs, value, this.#sink);
    // Behind an air receiver the motor has its own runs.
    const inRun = channel === 'motor-current' && state.producing !== null ? state.running?.[0] === 1 : surelyInRun(state.descriptors.run, state.cycles.usual, atMs);
    widenSpan(state.spans, channel, value, inRun);
    if (channel === 'tank-pressure') {
      state.crest = nextCrest(state.crest, state.tank, [value, atMs]);
      state.tank = [value, atMs];
    }
    if (channel === 'run-time' && state.meter !== null) noteShare((state.told ??= startTold(state.meter[2])), atMs, (1000 * (value - state.meter[0])) / (atMs - state.meter[2]));
    else if (channel === 'duty' && state.meter === null) noteShare((state.told ??= startTold(atMs)), atMs, value);
    if (channel === 'run-time' || channel === 'starts') state.counters[channel] = noteCounter(channel, state.counters[channel], value, atMs);
    if (channel === 'run-time') state.meter = state.meter !== null && state.meter[0] === value ? [value, state.meter[1], atMs] : [value, atMs, atMs];
    else if (channel === 'running' || channel === 'producing' || channel === 'power') {
      // A run state that nobody repeated is not believed over a gap: what comes after it is a new beginning.
      const before = channel !== 'power' && state[channel] !== null && atMs - state[channel][2] > STATE_HOLDS_MS ? null : state[channel];
      state[channel] = switched(before, value, atMs);
      if (channel === 'running' && state.producing !== null) noteMotor((state.motor ??= startMotorRuns()), atMs, value === 1, before === null, state.producing);
      if (channel === 'producing' && value === 1 && before?.[0] === 0 && state.motor !== undefined) noteProducing(state.motor, atMs);
    }
    if (channel.startsWith('system-pressure')) state.systems[channel] = [value, atMs];
  }

  readonly #sink = {
    cycle: (cycle: Cycle): void => {
      this.#output.cycles.push(cycle);
      // A cycle that the tank's gauge tells by two or three samples is no measure of what is usual.
      const isTold = cycle.source === 'running' || cycle.restS >= REPORTS_IN_REST * reportEveryS(this.state.descriptors, this.#setup);
      // Nor is a rest in which it was out of service.
      const endMs = cycle.startMs + 1000 * (cycle.runS + cycle.restS);
      const wasOff = this.#setup.outages.some((outage) => outage.kind === 'impairment' && outage.fromMs < endMs && outage.toMs > cycle.startMs);
      if (isTold && !wasOff) rememberCycle(this.state.cycles, cycle);
    },
    quarter: (row: DayRow): void => {
      this.state.openQuarters.push(quarterValues(row));
      this.#output.quarterClosed = true;
    },
    day: (row: DayRow): void => {
      const { state } = this;
      // The row is ours now. A copy by spread would give each row a hidden class of its own, and every look through 400 of them would take three times as long.
      const withQuarters: DayRow = Object.assign(row, { quarters: state.openQuarters.filter((quarter) => quarter.startMs >= row.startMs && quarter.startMs < row.endMs) });
      state.openQuarters = state.openQuarters.filter((quarter) => quarter.startMs >= row.endMs);
      this.history.push(withQuarters);
      if (this.history.length > HISTORY_DAYS) this.history.shift();
      state.spanDays = [...state.spanDays, { startMs: row.startMs, starts: row.starts, spans: state.spans }].slice(-SPAN_DAYS);
      state.frozen = frozenNow(state.spanDays, state.frozen, state.descriptors.tank.stepKPa);
      state.risersOff = risersOff(state.spanDays, state.risersOff);
      state.spans = {};
      this.#output.days.push(withQuarters);
      this.#output.dayClosed = true;
    },
  };
}

/** What is said twice within this, as each channel of a start brings the other's state along, is said once. */
const SAID_ONCE_MS = 10 * MINUTE_MS;

function switched(before: OnOff | null, value: number, atMs: number): OnOff {
  if (before === null || before[0] !== value) return [value, atMs, atMs, 1, atMs];
  const [, sinceMs, , times, countedMs] = before;
  return atMs - countedMs < SAID_ONCE_MS ? [value, sinceMs, atMs, times, countedMs] : [value, sinceMs, atMs, times + 1, atMs];
}

/** What people logged: spans out of holding, and set points. */
function setupOf(registered: RegisteredGenerator, entries: readonly Entry[]): DescriptorSetup {
  const outages = entries
    .filter((entry) => entry.kind !== 'set-point')
    .map((entry) => ({ fromMs: Date.parse(entry.startedAt), toMs: endsMs(entry), kind: entry.kind }));
  const setPoints = entries.flatMap(({ startedAt, finishedAt, adjusted: { cutInKPa, cutOutKPa } }) => {
    const set = { ...(typeof cutInKPa === 'number' ? { cutInKPa } : {}), ...(typeof cutOutKPa === 'number' ? { cutOutKPa } : {}) };
    return Object.keys(set).length === 0 ? [] : [{ fromMs: Date.parse(finishedAt ?? startedAt), ...set }];
  });
  return { registered, calendar: calendarOf(registered.site.timeZone), outages, setPoints };
}
