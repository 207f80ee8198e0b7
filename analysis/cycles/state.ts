import type { Channel } from '../../shared/channels.ts';
import type { Cycle, DayRow, FeedFall } from '../../shared/cycle.ts';
import type { EntryKind } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import type { CalendarDay } from '../../shared/time.ts';
import type { CompressorState } from './compressor.ts';
import type { Emptying } from './feed-fall.ts';
import type { PeriodSums } from './period-sums.ts';
import { startThinned, type Thinned } from './thinned.ts';

/** What the folding of one generator's readings needs to know beside them. */
export type DescriptorSetup = {
  readonly registered: RegisteredGenerator;
  readonly calendar: (ms: number) => CalendarDay;
  /** Spans out of holding known from entries: tests, purges, services, impairments. */
  readonly outages: readonly { readonly fromMs: number; readonly toMs: number; readonly kind: EntryKind }[];
  /** Set points that people logged, in order; from then on they stand for the registry's. */
  readonly setPoints?: readonly { readonly fromMs: number; readonly cutInKPa?: number; readonly cutOutKPa?: number }[];
};

export type DescriptorSink = {
  cycle(cycle: Cycle): void;
  /** A finished day; provisional false. */
  day(row: DayRow): void;
  /** A finished 6 hours (from 00, 06, 12, 18 of the site's day); its field `day` reads `2026-11-24T06`. */
  quarter(row: DayRow): void;
};

/** A pressure sample and its content in kPa at 20 °C. */
export type TankSample = { atMs: number; kPa: number; content: number };

/** The run state machine; times before `accMs` are in the sums. `phase` 1 runs, 0 rests, null unknown. */
export type RunState = {
  phase: 0 | 1 | null;
  channel: 'running' | 'producing' | null;
  sinceMs: number;
  /** The change into this phase was seen, so its length is known. */
  seen: boolean;
  /** When the state was last repeated. */
  heardMs: number;
  accMs: number;
  /** Run seconds since the start of the state, for differences. */
  totalRunS: number;
  /** When each of the two channels was last heard, to know which leads. */
  runningHeardMs: number;
  producingHeardMs: number;
  /** The run under way is a filling: out of holding. */
  filling: boolean;
  /** What this run has put into the holding sums of the present quarter, to take back when it turns out a filling. */
  addedS: number;
  /** Highest tank sample of the run under way, lowest of the rest. */
  extreme: TankSample | null;
  /** Longest run of the quarter before the present one. */
  longestBeforeS: number;
  /** Share of the last starts at which the tank had risen already; absent before the first that it could be seen at. */
  lateShare?: number;
};

/** The cycle that is going on: the run's start and what is known of it. */
export type OpenCycle = { startMs: number; seen: boolean; runS: number; startKPa: number | null; stopKPa: number | null; fallFirst: TankSample | null; fallLast: TankSample | null; riseFirst: TankSample | null; /** Where the rise passed the middle of the band; absent in what earlier builds saved. */ riseMid?: [atMs: number, content: number] | null; riseLast: TankSample | null; held: boolean; /** A burst started the run, and may go on in it; absent in what earlier builds saved. */ hasty?: boolean; /** The tank or the piping stood well below its usual in this run. */ wasLow: boolean };

export type TankState = {
  last: TankSample | null;
  before: TankSample | null;
  /** Chain of the balance: the last sample in it and the run seconds at it. */
  chain: { content: number; atMs: number; runS: number } | null;
  /** Chain of a settled rest. */
  settled: { content: number; atMs: number } | null;
  fall: number;
  fallS: number;
  rise: number;
  spanS: number;
  runS: number;
  /** Fall in the settled rest of the cycle under way. */
  /** Share of the last runs that a burst started. */
  hastyShare: number;
  cycleFall: number;
  cycleFallS: number;
  /** How far the fall of the cycle had come when the slope under way began, and what falls quietly; null before the first slope. */
  slopeFromS: number;
  slopeFromKPa: number;
  quietKPaPerHour: number | null;
  /** Smallest step between two samples that differ, kPa: what the sensor resolves. */
  stepKPa: number;
};

/** Readings of the run under way, for its medians. */
export type RunSamples = { nitrogen: { atS: number; value: number }[]; nitrogenEvery: number; nitrogenSeen: number; /** Least in the first minutes; null before the first. */ nitrogenLeast: number | null; discharge: Thinned; feed: Thinned; drop: Thinned };

/**
 * The saw-tooth of the tank alone. A turn is known when the content has moved back by the hysteresis; the extremes and
 * what stands beside them are kept to say when it was.
 */
export type SawTooth = {
  phase: 0 | 1 | null;
  sinceMs: number;
  seen: boolean;
  accMs: number;
  min: TankSample | null;
  max: TankSample | null;
  /** Foot of the rise: the last sample that stands at the lowest but for noise, and its neighbours. */
  beforeFoot: TankSample | null;
  foot: TankSample | null;
  afterFoot: TankSample | null;
  /** Crest: the first sample that stands at the highest but for noise, and its neighbours. */
  beforeCrest: TankSample | null;
  crest: TankSample | null;
  afterCrest: TankSample | null;
  /** Samples since the foot, and how many of them there were at the crest. */
  sinceFoot: number;
  atCrest: number;
  /** First sample that is settled after `max`. */
  settledFirst: TankSample | null;
  /** Run and valley of the cycle under way. */
  valley: TankSample | null;
  runStartMs: number;
  runS: number;
  startKPa: number | null;
  stopKPa: number | null;
  fallPerMs: number | null;
  risePerMs: number | null;
  /** The last run had so few samples that its slope can't be read from it. */
  coarse: boolean;
  /** Lowest and highest content of the last cycles, kPa at 20 °C. */
  lows: number[];
  highs: number[];
  /** How often the tank's pressure comes, s. */
  usualS: number;
};

/** A running total of the controller: the hour meter or the start counter. */
export type Counter = { atMs: number; value: number; /** What was in the tank then, kPa at 20 °C; absent where that isn't known. */ content?: number; /** Beside starts: what the hour meter said at that moment, s; absent where it said nothing. */ ranS?: number } | null;

/** Plain JSON; `stepDescriptors` changes it in place. */
export type DescriptorState = {
  version: 1;
  /** Readings of the newest instant, held until a later one comes, so that the order within an instant doesn't matter. */
  pendingMs: number;
  pending: { channel: Channel; value: number }[];
  lastAnyMs: number;
  lastAtMs: Partial<Record<Channel, number>>;
  /** Next moment at which a quarter or a held day ends. */
  nextEdgeMs: number;
  quarter: PeriodSums | null;
  /** The ended quarters of the present day, joined into one; none before the first has ended. */
  quarters: PeriodSums[];
  /** Rows of ended days that wait for 2 h to pass. */
  waiting: DayRow[];
  run: RunState;
  /** Behind an air receiver, where both states are sent. */
  compressor?: CompressorState;
  open: OpenCycle | null;
  tank: TankState;
  saw: SawTooth;
  runTime: Counter;
  starts: Counter;
  /** The reading before a counted start from which whole cycles are told; absent before the first, and where the meter doesn't speak beside it. */
  countedFrom?: { atMs: number; starts: number; ranS: number };
  duty: { atMs: number; usualS: number; /** As of a counter. */ content?: number } | null;
  samples: RunSamples;
  /** Latest pressures, to pair them. */
  discharge: { atMs: number; value: number } | null;
  /** How far the head is let down in rests, and pushed up in runs, kPa; absent where it isn't sent, and in what earlier builds saved. */
  head?: [restKPa: number, topKPa: number];
  feed: { atMs: number; value: number } | null;
  /** The feed side empties since a stop, from that pressure; and how fast it did after the last stops. */
  emptying: Emptying | null;
  feedFalls: FeedFall[];
  systemKPa: number | null;
  systemAtMs: number | null;
  /** What each riser usually holds, kPa gauge. */
  usualSystemKPa: Record<string, number>;
  power: boolean | null;
  powerAtMs: number;
  roomC: number | null;
  roomAtMs: number;
  tankC: number | null;
  tankCAtMs: number;
  /** Where the temperature of the tank's gas comes from now; a change of it breaks the chains. */
  celsiusFrom: 'tank' | 'room' | 'none';
  /** Lengths of recent complete cycles in holding, s, and pressures at their starts and stops. */
  recentRunS: number[];
  recentRestS: number[];
  /** Median of the recent rests; 0 before the first. */
  usualRestS: number;
  /** Rests are an hour long or less, as they have usually been; absent in what earlier builds saved. */
  shortRests?: boolean;
  /** Runs fill the band that is set, of which rare reports miss the ends; absent where they don't. */
  fillsSet?: true;
  /** What of the band is warmth alone when a run stops, per mille; negative while it is being found, absent before the first rest that shows it. */
  warmPerMille?: number;
  recentStartKPa: number[];
  recentStopKPa: number[];
  /** The band that they show; `null` before three of each. */
  band: { lowKPa: number; highKPa: number } | null;
  /** How often the generator reports: seconds of time by length of gap, and the gap that 90 % of the time is within. */
  gapS: number[];
  usualS: number;
  heardS: number;
};

export function startRunSamples(): RunSamples {
  return { nitrogen: [], nitrogenEvery: 1, nitrogenSeen: 0, nitrogenLeast: null, discharge: startThinned(), feed: startThinned(), drop: startThinned() };
}

export function startSawTooth(): SawTooth {
  return { phase: null, sinceMs: 0, seen: false, accMs: 0, min: null, max: null, beforeFoot: null, foot: null, afterFoot: null, beforeCrest: null, crest: null, afterCrest: null, sinceFoot: 0, atCrest: 0, settledFirst: null, valley: null, runStartMs: 0, runS: 0, startKPa: null, stopKPa: null, fallPerMs: null, risePerMs: null, coarse: false, lows: [], highs: [], usualS: 0 };
}

/** A generator of which nothing was heard yet. */
export function startDescriptors(): DescriptorState {
  return {
    version: 1,
    pendingMs: 0,
    pending: [],
    lastAnyMs: 0,
    lastAtMs: {},
    nextEdgeMs: 0,
    quarter: null,
    quarters: [],
    waiting: [],
    run: { phase: null, channel: null, sinceMs: 0, seen: false, heardMs: 0, accMs: 0, totalRunS: 0, runningHeardMs: 0, producingHeardMs: 0, filling: false, addedS: 0, extreme: null, longestBeforeS: 0 },
    open: null,
    tank: { last: null, before: null, chain: null, settled: null, fall: 0, fallS: 0, rise: 0, spanS: 0, runS: 0, hastyShare: 0, cycleFall: 0, cycleFallS: 0, slopeFromS: 0, slopeFromKPa: 0, quietKPaPerHour: null, stepKPa: 0 },
    saw: startSawTooth(),
    runTime: null,
    starts: null,
    duty: null,
    samples: startRunSamples(),
    discharge: null,
    feed: null,
    emptying: null,
    feedFalls: [],
    systemKPa: null,
    systemAtMs: null,
    usualSystemKPa: {},
    power: null,
    powerAtMs: 0,
    roomC: null,
    roomAtMs: 0,
    tankC: null,
    tankCAtMs: 0,
    celsiusFrom: 'none',
    recentRunS: [],
    recentRestS: [],
    usualRestS: 0,
    recentStartKPa: [],
    recentStopKPa: [],
    band: null,
    gapS: [],
    usualS: 0,
    heardS: 0,
  };
}
