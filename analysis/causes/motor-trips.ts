import type { Entry } from '../../shared/entry.ts';
import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { minutes } from './clock-view.ts';
import { type Condition, mixedCondition } from './condition.ts';
import { HABIT, isWorkedOn } from './stops-short.ts';

/*
 * Behind an air receiver the tank doesn't show that a run of the compressor was cut short: it is filled from the receiver all the same.
 * The compressor's own runs do: one that trips cools for minutes and goes on though nothing was drawn meanwhile. A receiver that is full
 * calls it only when it is drawn from, or after the long rest in which it leaks empty.
 */

/** A run of the compressor with the rest after it, s, and whether nothing was drawn from its receiver in that rest. */
export type MotorRun = readonly [startMs: number, runS: number, restS: number, undrawn: boolean];
/** What is remembered; plain JSON. */
export type MotorRuns = {
  /** The newest, oldest first. */
  newest: MotorRun[];
  /** Those before, which say what is usual: without those that were cut short by what was usual then, and those that only went on from one. */
  before: MotorRun[];
  /** The last that left the newest was cut short. */
  wasCut: boolean;
  /** Share of those that left the newest which were cut short, of late. */
  cutShare: number;
  /** The run under way, or that whose rest is. */
  open: { startMs: number; stopMs: number | null } | null;
};

const NEWEST = 6;
const BEFORE_KEPT = 40;
const LEAST_BEFORE = 12;
/** Shorter than the middle run, by so much; and a pause that is a fraction of the middle rest. Common practice, no source. */
const RUN_SHARE = 0.75;
const REST_SHARE = 0.35;
const LEAST_COOLS_S = 120;
/** A receiver that is full in the end rests for this share of the middle rest. Common practice, no source. */
const RESTS_SHARE = 0.7;
/** One run may be cut by the mains, and several by whoever works on it, who logs it later. */
const LEAST_TRIPS = 3;
const APART_MS = 2 * HOUR_MS;
/** What is drawn calls the compressor at once, and is told within so long of it. Common practice, no source. */
const CALLS_MS = 2 * MINUTE_MS;

export function startMotorRuns(): MotorRuns {
  return { newest: [], before: [], wasCut: false, cutShare: 0, open: null };
}

/** Whether nitrogen is made, and since when, as it was said last. */
type Producing = readonly [value: number, sinceMs: number, ...rest: readonly number[]];

/** The compressor's state was said: `fresh` where what was said before is too old to go on from. */
export function noteMotor(runs: MotorRuns, atMs: number, on: boolean, fresh: boolean, producing: Producing): void {
  if (fresh) runs.open = null;
  const { open } = runs;
  if (on && open?.stopMs === null) return;
  if (!on) {
    if (open !== null) open.stopMs ??= atMs;
    return;
  }
  if (open?.stopMs) keep(runs, [open.startMs, Math.round((open.stopMs - open.startMs) / 1000), Math.round((atMs - open.stopMs) / 1000), producing[0] === 0 && producing[1] <= open.stopMs + CALLS_MS]);
  // A run that was under way when it was first heard has no known beginning.
  runs.open = fresh ? null : { startMs: atMs, stopMs: null };
}

/** Nitrogen began to be made: what called the compressor just before. */
export function noteProducing({ newest, open }: MotorRuns, atMs: number): void {
  const last = newest.at(-1);
  if (last !== undefined && open !== null && open.stopMs === null && atMs - open.startMs <= CALLS_MS) newest[newest.length - 1] = [last[0], last[1], last[2], false];
}

function keep(runs: MotorRuns, run: MotorRun): void {
  const { newest, before, wasCut } = runs;
  newest.push(run);
  if (newest.length <= NEWEST) return;
  const left = newest.shift()!;
  runs.wasCut = isCut(left, before);
  runs.cutShare += (Number(runs.wasCut) - runs.cutShare) / BEFORE_KEPT;
  if (runs.wasCut || wasCut) return;
  before.push(left);
  if (before.length > BEFORE_KEPT) before.shift();
}

function isCut([, runS, restS, undrawn]: MotorRun, before: readonly MotorRun[]): boolean {
  if (!undrawn || before.length < LEAST_BEFORE || restS < LEAST_COOLS_S) return false;
  return runS < RUN_SHARE * median(before.map((run) => run[1]))! && restS < REST_SHARE * median(before.map((run) => run[2]))!;
}

/** Whether the compressor's last runs were cut short. `told`: that was said, and goes on. */
export function motorTrips({ newest, before, cutShare }: MotorRuns, entries: readonly Entry[], told: boolean): Condition[] {
  if (!told && cutShare > HABIT) return [];
  const trips = newest.filter((run) => isCut(run, before) && !isWorkedOn(entries, run[0], run[0] + 1000 * (run[1] + run[2])));
  // A receiver that loses air by itself is topped up in short runs too, and never rests as it did.
  const restS = median(before.map((run) => run[2]));
  if (restS === undefined || !newest.some((run) => run[2] >= RESTS_SHARE * restS)) return [];
  if (trips.length < LEAST_TRIPS || trips.at(-1)![0] - trips[0]![0] < APART_MS) return [];
  const middle = (of: 1 | 2, runs: readonly MotorRun[]): string => minutes(1000 * median(runs.map((run) => run[of]))!);
  const says = `Of the compressor's last ${NEWEST} runs ${trips.length} stopped after ${middle(1, trips)} and went on ${middle(2, trips)} later, though nothing was drawn from its receiver; it usually runs for ${middle(1, before)} and rests for ${middle(2, before)}.`;
  return [mixedCondition('running', [['stops-short', 0.9], ['set-point-changed', 0.1]], trips[0]![0], [{ says, for: 'stops-short', weight: 2 }])];
}
