import type { CycleSource } from '../../shared/cycle.ts';
import type { BalanceBlocks, FallBlocks } from './blocks.ts';
import { startThinned, type Thinned } from './thinned.ts';

/** Run and rest of a period as one source saw them, s. `hold…` leave out what was out of holding; `cycle…` are of complete cycles in holding. `fills`: counted starts in holding, shared out as their run time is where a span crosses an edge; absent in what earlier builds saved. `riseKPa`, `riseS`: what the tank's content rose by in the time that counters or duty ratios speak for, kPa at 20 °C, and for how much of it that is known; absent where it never was. */
export type RunSums = { runS: number; restS: number; starts: number; longestRunS: number; longestRestS: number; holdRunS: number; holdRestS: number; cycles: number; cycleRunS: number; cycleRestS: number; cycleRunSquared: number; cycleRestSquared: number; fills?: number; riseKPa?: number; riseS?: number };

/** Number, sum and sum of squares. */
export type Mean = { n: number; sum: number; squares: number };

/** All that a quarter of a day adds up; a day is its quarters added. */
export type PeriodSums = {
  startMs: number;
  endMs: number;
  day: string;
  hour: number;
  /** Only the sources that said something. */
  by: Partial<Record<CycleSource, RunSums>>;
  falls: FallBlocks;
  balance: BalanceBlocks;
  /** Lowest and highest tank pressure in holding, kPa gauge; absent in what earlier builds saved. */
  tankSpan?: [lowKPa: number, highKPa: number];
  /** How long the runs of complete cycles in holding were by the run state, s; absent in what earlier builds saved. */
  runLengths?: Thinned;
  /** How far nitrogen dips as the last runs of each quarter begin, and how fast the feed side empties after its last stops, s; absent in what earlier builds saved. */
  dips?: number[];
  feedFalls?: number[];
  /** Least pressure before and after the elements in each quarter, kPa gauge; absent likewise. */
  dischargeLeast?: number[];
  feedLeast?: number[];
  /** Run of the compressor behind an air receiver, and the time that it is known for, s, by when that was told; absent where `producing` doesn't lead. */
  compressor?: { runS: number; knownS: number };
  /** What the tank's content rose by in runs of an hour and more that no rest breaks, kPa at 20 °C, and how long they were; absent where there were none. */
  fullRun?: { riseKPa: number; runS: number };
  /** How rises bend: number and sum of β of Q(p), one a run; absent likewise. */
  bends?: { n: number; sum: number };
  /** What settled rests lost by slopes, and how much of it in bursts, kPa at 20 °C; absent likewise. */
  slopeKPa?: number;
  burstKPa?: number;
  cutIn: Thinned;
  cutOut: Thinned;
  nitrogen: Thinned;
  discharge: Thinned;
  feed: Thinned;
  drop: Thinned;
  system: Mean;
  room: Mean;
  pipe: Mean;
  humidity: Mean;
  heard: Record<string, number>;
};

export const SOURCES = ['running', 'counters', 'duty', 'tank-pressure'] as const satisfies readonly CycleSource[];

function startRunSums(): RunSums {
  return { runS: 0, restS: 0, starts: 0, longestRunS: 0, longestRestS: 0, holdRunS: 0, holdRestS: 0, cycles: 0, cycleRunS: 0, cycleRestS: 0, cycleRunSquared: 0, cycleRestSquared: 0, fills: 0 };
}

/** The sums of a source in a period, begun when it first speaks. */
export function sumsBy(period: PeriodSums, source: CycleSource): RunSums {
  return (period.by[source] ??= startRunSums());
}

function startMean(): Mean {
  return { n: 0, sum: 0, squares: 0 };
}

export function startPeriod(day: string, hour: number, startMs: number, endMs: number): PeriodSums {
  return {
    startMs,
    endMs,
    day,
    hour,
    by: {},
    falls: { fall: [], restS: [] },
    balance: { made: [], openS: [], runS: [] },
    runLengths: startThinned(),
    dips: [],
    feedFalls: [],
    dischargeLeast: [],
    feedLeast: [],
    bends: { n: 0, sum: 0 },
    slopeKPa: 0,
    burstKPa: 0,
    cutIn: startThinned(),
    cutOut: startThinned(),
    nitrogen: startThinned(),
    discharge: startThinned(),
    feed: startThinned(),
    drop: startThinned(),
    system: startMean(),
    room: startMean(),
    pipe: startMean(),
    humidity: startMean(),
    heard: {},
  };
}
