import type { BandDay } from './api.ts';
import type { Cause } from './finding.ts';

/*
 * A replay of an invented world, for the engineer's page: what really was, beside what analysis found of it. Plain JSON.
 * Nothing of it is ever kept in a store.
 *
 * GET /api/v1/replays/scenarios → ReplayChoices
 * POST /api/v1/replays with ReplayAsked → 202 ReplayRun
 * GET /api/v1/replays/current → { run: ReplayRun | null }
 * GET /api/v1/replays/current/result → ReplayResult
 * POST /api/v1/replays/cancel { id } → ReplayRun
 */

/** One run has at most so many generators, days, and readings by its periods of reporting: what a core does in minutes, and what memory holds. */
export const MOST_REPLAY_GENERATORS = 40;
export const MOST_REPLAY_DAYS = 200;
export const MOST_REPLAY_READINGS = 80e6;
/** Longest scenario that may be pasted, characters. */
export const MOST_SCENARIO_TEXT = 100_000;

/** A scenario file that comes with the program, or one that was pasted, or random generators. */
export type ReplayAsked =
  | { readonly scenario: string; readonly seed?: number | undefined }
  | { readonly text: string; readonly seed?: number | undefined }
  | { readonly seed: number; readonly generators: number; readonly days: number };

export type ScenarioChoice = { readonly file: string; readonly name: string; readonly generators: number; readonly days: number; readonly text: string };

/** What can be replayed, and the limits for who asks. */
export type ReplayChoices = { readonly scenarios: readonly ScenarioChoice[]; readonly most: { readonly generators: number; readonly days: number; readonly textLength: number } };

export type ReplayRun = {
  readonly id: string;
  readonly name: string;
  readonly generators: number;
  readonly days: number;
  readonly seed: number;
  readonly state: 'running' | 'done' | 'failed' | 'cancelled';
  /** Share of its days that are lived through, 0..1. */
  readonly ratio: number;
  readonly startedAt: string;
  readonly endedAt: string | null;
  /** Why it failed, for people. */
  readonly problem: string | null;
};

/** What became of a true fault, and of a finding; the words of the scoring (analysis/scoring). */
export type ReplayedFault = {
  readonly cause: Cause;
  readonly severity: string;
  readonly onset: string;
  /** Null: still there at the end. */
  readonly end: string | null;
  readonly outcome: 'found' | 'missed' | 'unknowable' | 'young' | 'behind-another';
  /** Of a found one: was the cause itself named, or only its family? */
  readonly causeRight: boolean | null;
  readonly said: Cause | null;
  readonly delayH: number | null;
};
export type ReplayedFinding = {
  readonly openedAt: string;
  readonly closedAt: string | null;
  /** As judged, 24 h after it opened. */
  readonly cause: Cause;
  readonly among: readonly Cause[] | null;
  readonly probability: number;
  readonly outcome: 'right' | 'family' | 'excused' | 'late' | 'false';
  /** Sentences for and against, of false findings only: why was it said? */
  readonly because: readonly string[];
};
export type ReplayedGenerator = {
  readonly site: string;
  readonly generator: string;
  readonly zone: string;
  readonly channels: readonly string[];
  readonly days: readonly BandDay[];
  readonly faults: readonly ReplayedFault[];
  readonly upsets: readonly { readonly kind: string; readonly from: string; readonly to: string }[];
  readonly visits: readonly string[];
  readonly findings: readonly ReplayedFinding[];
};

export type ReplayResult = {
  readonly id: string;
  readonly name: string;
  readonly seed: number;
  readonly days: number;
  readonly fromAt: string;
  readonly untilAt: string;
  readonly readings: number;
  /** Hash of the analysis settings it was folded with. */
  readonly settings: string;
  readonly summary: {
    readonly generatorYears: number;
    readonly faults: number;
    readonly found: number;
    readonly missed: number;
    /** Neither: too young, never to be known, or behind another of its family. */
    readonly apart: number;
    readonly causeRight: number;
    readonly delayMedianH: number | null;
    readonly falseFindings: number;
    readonly falsePerYear: { readonly low: number; readonly high: number; readonly value: number };
  };
  readonly generators: readonly ReplayedGenerator[];
};
