import type { Channel } from './channels.ts';
import type { GeneratorKey } from './ids.ts';

/** Where run and rest were read from, best first: each is less sure than the one before it. */
export const CYCLE_SOURCES = ['running', 'counters', 'duty', 'tank-pressure'] as const;
export type CycleSource = (typeof CYCLE_SOURCES)[number];

/**
 * One run of the compressor and the rest after it.
 * A cycle that a gap in the data cuts has `cut: true` and no slopes: nothing is bridged.
 */
export type Cycle = {
  readonly generator: GeneratorKey;
  /** Start of the run, device time. */
  readonly startMs: number;
  readonly runS: number;
  /** 0 while the rest hasn't ended or the data don't show it. */
  readonly restS: number;
  readonly source: CycleSource;
  readonly cut: boolean;
  /** Slopes of the tank's pressure, where it is sent often enough: settled rest (falling > 0), and run from 15 to 90 % of the band. */
  readonly fallKPaPerMin: number | null;
  readonly riseKPaPerMin: number | null;
  /** Tank pressure at the start and at the end of the run, kPa gauge. */
  readonly startKPa: number | null;
  readonly stopKPa: number | null;
};

/** A value with its standard error, or null where the data can't tell. */
export type Estimate = { readonly value: number; readonly se: number } | null;

/**
 * One day (of the site's calendar) of one generator.
 * `demand` and `delivery` are NL/min (0 °C, 101.325 kPa) where the tank's litres are known and its pressure is sent
 * (`unit: 'NL/min'`), kPa/min where only the pressure is sent, else relative: cycles per minute of rest and of run
 * (`unit: 'relative'`): only ratios between days mean something then.
 */
export type DayRow = {
  readonly generator: GeneratorKey;
  /** `2026-11-24` in the site's calendar, with its bounds. */
  readonly day: string;
  readonly startMs: number;
  readonly endMs: number;
  /** Until 2 h after its end a day may still change. */
  readonly provisional: boolean;
  readonly source: CycleSource | null;
  /** Seconds of known run state, of run, of rest; covered = run + rest. */
  readonly coveredS: number;
  readonly runS: number;
  readonly restS: number;
  readonly starts: number;
  readonly dutyRatio: number | null;
  readonly unit: 'NL/min' | 'kPa/min' | 'relative';
  readonly demand: Estimate;
  readonly delivery: Estimate;
  /** Longest run and longest rest seen in the day, s, an open one included. */
  readonly longestRunS: number;
  readonly longestRestS: number;
  /** Median tank pressure at starts and stops: the band that the controller holds. */
  readonly cutInKPa: number | null;
  readonly cutOutKPa: number | null;
  /** From the last third of runs of 5 min or more. */
  readonly nitrogen: Estimate;
  /** How far nitrogen stood in the first three minutes of such a run below its last third; absent in what earlier builds saved. */
  readonly nitrogenDip?: Estimate;
  readonly dischargeKPa: Estimate;
  readonly feedKPa: Estimate;
  /** Discharge minus feed pressure, while running. */
  readonly elementDropKPa: Estimate;
  /** Time in which the pressure after the elements falls to 1/e after a stop, s; absent in rows of earlier builds. */
  readonly feedFallS?: Estimate;
  /** Where the gauges before and after the elements come down to while the compressor rests: the middle of the least of each quarter, kPa gauge; absent likewise. */
  readonly dischargeRestKPa?: number | null;
  readonly feedRestKPa?: number | null;
  /** Behind an air receiver: run of the compressor for each second in which nitrogen is made. Absent in rows of earlier builds. */
  readonly compressorRatio?: number | null;
  /** Where the compressor ran for an hour and more without a rest: what the tank rose by in an hour of that, kPa at 20 °C. Below 0 more was drawn than made; of demand no more is known then. Null where it rested, absent in rows of earlier builds. */
  readonly fullRunKPaPerHour?: number | null;
  /** How much delivery falls with the tank's pressure: β of Q(p) = Q·[1 − β·(p − p_ref)/p_ref], p absolute, the mean of what the day's rises bend by; absent in rows of earlier builds. */
  readonly bend?: number | null;
  /** Where two compressors take turns: how many times as long the runs of the slower one are; null where the last 16 runs don't alternate. Absent likewise. */
  readonly runsAlternate?: number | null;
  /** Share of demand that is drawn in bursts (regulators with a dead-band, users), 0..1; the rest is quiet. Absent likewise. */
  readonly burstShare?: number | null;
  readonly systemKPa: Estimate;
  readonly roomC: number | null;
  readonly pipeC: number | null;
  readonly humidityPercent: number | null;
  /** Share of the day in holding; the rest was filling, purging, under test or without power. */
  readonly holdingRatio: number;
  /** Readings heard per channel. */
  readonly heard: Readonly<Partial<Record<Channel, number>>>;
  /** The quarters of the day (00, 06, 12, 18 h of the site's day), added by the fold when the day closes. */
  readonly quarters?: readonly QuarterValues[];
};

/** A fall of the feed side's pressure after a stop: when the run stopped, and the time in which it falls to 1/e, s. */
export type FeedFall = readonly [stopMs: number, fallS: number];

/** What is kept of six hours: natural logarithm and its standard error, null where the data can't tell. */
export type QuarterValues = {
  readonly startMs: number;
  readonly endMs: number;
  readonly unit: DayRow['unit'];
  readonly demand: readonly [number | null, number];
  readonly delivery: readonly [number | null, number];
  readonly duty: readonly [number | null, number];
};
