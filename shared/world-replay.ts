import type { BandDay } from './api.ts';
import type { Cause } from './finding.ts';

/*
 * Replays for the engineer's page: of an invented world, what really was beside what analysis found of it; of a stretch of
 * real history, what other settings would have found; of that stretch rebuilt with a fault laid over it, how the fault would
 * have shown. Plain JSON. Nothing of it is ever kept in a store.
 *
 * GET /api/v1/replays/scenarios → ReplayChoices
 * POST /api/v1/replays with ReplayAsked → 202 ReplayRun
 * GET /api/v1/replays/current → { run: ReplayRun | null }
 * GET /api/v1/replays/current/result → ReplayResult
 * POST /api/v1/replays/cancel { id } → ReplayRun
 * GET /api/v1/replays/campaigns → { campaigns: KeptCampaign[] }
 */

/** One run has at most so many generators, days, and readings by its periods of reporting: what a core does in minutes, and what memory holds. */
export const MOST_REPLAY_GENERATORS = 40;
export const MOST_REPLAY_DAYS = 200;
export const MOST_REPLAY_READINGS = 80e6;
/** Longest scenario that may be pasted, characters. */
export const MOST_SCENARIO_TEXT = 100_000;

/** Those of `analysis-settings.ts` that change what is found, written out because pages can't read that file. */
export type ReplaySettings = { readonly falseFindingsPerYear: number; readonly baselineDays: number; readonly smallestChange: number; readonly horizonDays: number };
/** A stretch of what was received: of which generators, [from, to) by receipt. */
export type HistoryAsked = { readonly generators: readonly string[]; readonly fromAt: string; readonly toAt: string };
/** A fault to be laid over each generator of a stretch that is rebuilt; `growDays` with the shape `ramp`. */
export type FaultAsked = { readonly cause: Cause; readonly variant?: string | undefined; readonly severity: 'barely' | 'plain' | 'marked' | 'urgent'; readonly onsetAt: string; readonly shape: 'step' | 'ramp' | 'comes-and-goes'; readonly growDays?: number | undefined; readonly channel?: string | undefined };

/** What is folded: a scenario file that comes with the program, or one that was pasted, or random generators, or history as it was or rebuilt with a fault. */
export type ReplayInput =
  | { readonly scenario: string; readonly seed?: number | undefined }
  | { readonly text: string; readonly seed?: number | undefined }
  | { readonly seed: number; readonly generators: number; readonly days: number }
  | { readonly history: HistoryAsked; readonly fault?: FaultAsked | undefined };
/** With which settings, those of the program when left out; `other`: the same input once more, to compare. */
export type ReplayAsked = ReplayInput & { readonly settings?: ReplaySettings | undefined; readonly other?: ReplaySettings | undefined };

/** Where an input comes from: invented throughout; what was received; history simulated again from its stored days. */
export type ReplayKind = 'simulated' | 'history' | 'rebuilt';

export type ScenarioChoice = { readonly file: string; readonly name: string; readonly generators: number; readonly days: number; readonly text: string };
/** A generator that has a history here. */
export type HistoryChoice = { readonly site: string; readonly siteName: string; readonly generator: string; readonly generatorName: string; readonly zone: string; readonly firstAt: string; readonly lastAt: string };
/** A fault of the simulator, with what its severities mean. */
export type FaultChoice = { readonly cause: Cause; readonly variants: readonly { readonly name: string; readonly measure: string; readonly severities: readonly { readonly severity: FaultAsked['severity']; readonly says: string }[] }[] };

/** What can be replayed, with what, and the limits for who asks. */
export type ReplayChoices = {
  readonly scenarios: readonly ScenarioChoice[];
  readonly history: readonly HistoryChoice[];
  readonly faults: readonly FaultChoice[];
  /** Those that the program runs with, and their hash. */
  readonly settings: ReplaySettings;
  readonly settingsHash: string;
  readonly most: { readonly generators: number; readonly days: number; readonly textLength: number };
};

export type ReplayRun = {
  readonly id: string;
  readonly kind: ReplayKind;
  readonly name: string;
  readonly generators: number;
  readonly days: number;
  /** Null where no dice are thrown. */
  readonly seed: number | null;
  readonly state: 'running' | 'done' | 'failed' | 'cancelled';
  /** What is done now: input is written, or folded with the first or the other settings. */
  readonly doing: 'writing' | 'folding' | 'folding-other';
  /** Share of its work that is done, 0..1. */
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
  /** `laid-over`: over a rebuilt stretch, which is never scored; `said` and `delayH` are then of the first finding that opened after it. */
  readonly outcome: 'found' | 'missed' | 'unknowable' | 'young' | 'behind-another' | 'laid-over';
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
  /** `unjudged`: of history nobody knows the truth. */
  readonly outcome: 'right' | 'family' | 'excused' | 'late' | 'false' | 'unjudged';
  /** Sentences for and against, of false and unjudged findings: why was it said? */
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

/** What was added up where the truth is known. */
export type ReplaySummary = {
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
/** What one choice of settings made of the input. */
export type ReplaySide = {
  readonly settings: ReplaySettings;
  readonly hash: string;
  /** Null for history and what is rebuilt from it: never scored. */
  readonly summary: ReplaySummary | null;
  readonly generators: readonly ReplayedGenerator[];
};
/** One measure under both settings; `better` is the side that does better, null where they are equal or one has no figure. */
export type ReplayMeasure = { readonly measure: string; readonly a: number | null; readonly b: number | null; readonly better: 'a' | 'b' | null };

export type ReplayResult = {
  readonly id: string;
  readonly kind: ReplayKind;
  readonly name: string;
  readonly seed: number | null;
  readonly days: number;
  readonly fromAt: string;
  readonly untilAt: string;
  readonly readings: number;
  /** Readings that the decoder refused. */
  readonly refused: number;
  readonly first: ReplaySide;
  readonly other: ReplaySide | null;
  /** Empty without other settings, and where the truth isn't known. */
  readonly measures: readonly ReplayMeasure[];
};

/** What one choice of settings did over a campaign of random worlds. */
export type CampaignPoint = {
  readonly settings: ReplaySettings;
  readonly hash: string;
  readonly generatorYears: number;
  readonly faults: number;
  readonly found: number;
  readonly missed: number;
  readonly causeRight: number;
  readonly delayMedianH: number | null;
  readonly falseFindings: number;
  /** Findings a generator-year, with the 95 % limits of so few. */
  readonly falsePerYear: { readonly low: number; readonly high: number; readonly value: number };
  readonly bySeverity: readonly { readonly severity: string; readonly faults: number; readonly found: number; readonly missed: number }[];
};
/** A campaign of `lull score --campaign`, kept with its sums. */
export type KeptCampaign = {
  readonly id: string;
  readonly says: string;
  readonly purpose: 'tuning' | 'reporting';
  readonly at: string;
  readonly version: string;
  readonly generators: number;
  readonly days: number;
  readonly points: readonly CampaignPoint[];
};
