import type { BaseChannel } from '../../shared/channels.ts';
import { seesOf } from '../../shared/distinguish.ts';
import type { Cause, Evidence, Finding, RankingReport } from '../../shared/finding.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { Fit } from './fit.ts';
import { type FaultOutcome, type FindingOutcome, judgeGenerator, type JudgedFault, type JudgedFinding, thereFromMs } from './judge-generator.ts';
import { type ChannelClass, channelClassOf } from './channel-class.ts';
import { effectOn, largestEffect, type RunTimes } from './run-time.ts';
import type { Said } from './said.ts';
import { type FaultBars, faultBars } from './fault-bars.ts';
import { type ForecastCase, forecastCases } from './score-forecasts.ts';
import { type RankingCase, rankingCase } from './score-ranking.ts';
import type { StatedChange } from './stated-changes.ts';
import { scatterOf, type TrueDays } from './true-days.ts';
import type { Truth } from './truth.ts';

/** A generator that was watched, with the channels that it sent. */
export type WatchedGenerator = { readonly site: string; readonly generator: string; readonly channels: readonly BaseChannel[]; readonly fromMs: number; readonly untilMs: number; readonly runTimes?: RunTimes; /** What it stated that it can show, in order of time. */ readonly stated?: readonly StatedChange[]; /** Its own days, from the simulator. */ readonly days?: TrueDays };

/** All that is needed to score a world: what was, what was found, and what was foreseen at each time of branching. */
export type WorldOutcome = {
  readonly truth: Truth;
  readonly watched: readonly WatchedGenerator[];
  readonly findings: readonly Finding[];
  readonly reports: readonly RankingReport[];
};

export type FaultRow = {
  readonly site: string;
  readonly generator: string;
  readonly cause: Cause;
  readonly severity: string;
  readonly shape: string;
  readonly onset: string;
  readonly end: string | null;
  readonly outcome: FaultOutcome;
  readonly fit: Fit | null;
  /** How the finding that found it fitted when it opened, and at the end. */
  readonly fitAtOpening: Fit | null;
  readonly fitAtEnd: Fit | null;
  readonly said: Said | null;
  readonly delayH: number | null;
  /** Change of run time, |ln|: the largest of any week, and in the week before it was found. */
  readonly effect: number | null;
  readonly effectAtFinding: number | null;
  readonly sends: ChannelClass;
  readonly bars: FaultBars;
};

/** A generator for which nothing was the matter: how long, how often something was found all the same, and how its days really scattered, |ln|. */
export type GoodOrderRow = { readonly years: number; readonly falseFindings: number; readonly demandScatter: number | null; readonly deliveryScatter: number | null };

export type FindingRow = {
  readonly site: string;
  readonly generator: string;
  readonly openedAt: string;
  readonly closedAt: string | null;
  readonly outcome: FindingOutcome;
  readonly duringFault: boolean;
  readonly truth: Cause | null;
  readonly atOpening: Said;
  readonly judged: Said;
  readonly atEnd: Said;
  readonly fitAtEnd: Fit | null;
  readonly evidence: readonly Evidence[];
};

/** A world's score as rows, small enough to keep; sums are made from these alone. */
export type WorldScore = {
  readonly generators: number;
  readonly generatorYears: number;
  /** Without the spans in which something was the matter. */
  readonly healthyYears: number;
  readonly goodOrder: readonly GoodOrderRow[];
  readonly faults: readonly FaultRow[];
  readonly findings: readonly FindingRow[];
  readonly forecasts: readonly ForecastCase[];
  readonly rankings: readonly RankingCase[];
};

const YEAR_MS = 365.25 * DAY_MS;
const WEEK_MS = 7 * DAY_MS;

export function scoreWorld(outcome: WorldOutcome): WorldScore {
  const judged = outcome.watched.map((watched) => ({ watched, ...judgeOne(watched, outcome) }));
  const years = (ms: (watched: WatchedGenerator) => number): number => outcome.watched.reduce((sum, one) => sum + ms(one), 0) / YEAR_MS;
  const matched = outcome.reports.map((report) => ({ report, branches: outcome.truth.branches.filter((branch) => branch.at === report.at) }));
  return {
    generators: outcome.watched.length,
    generatorYears: years((one) => one.untilMs - one.fromMs),
    healthyYears: years((one) => one.untilMs - one.fromMs - faultyMs(one, outcome.truth)),
    goodOrder: judged.flatMap(({ watched, faults, findings }) => (faults.length > 0 ? [] : [goodOrderRow(watched, findings)])),
    faults: judged.flatMap(({ watched, faults, findings }) => faults.map((fault) => faultRow(fault, findings, watched))),
    findings: judged.flatMap(({ faults, findings }) => findings.map((finding) => findingRow(finding, faults))),
    forecasts: matched.flatMap(({ report, branches }) => branches.flatMap((branch) => forecastCases(branch, report))),
    rankings: matched.flatMap(({ report, branches }) => rankingCase(branches, report) ?? []),
  };
}

function judgeOne(watched: WatchedGenerator, { truth, findings }: WorldOutcome): ReturnType<typeof judgeGenerator> {
  const own = <T extends { readonly site: string; readonly generator: string }>(items: readonly T[]): T[] => items.filter((item) => item.site === watched.site && item.generator === watched.generator);
  return judgeGenerator({ faults: own(truth.faults), upsets: own(truth.upsets), sees: seesOf(new Set(watched.channels)), untilMs: watched.untilMs, stated: watched.stated ?? [] }, own(findings));
}

/** Time in which at least one fault was there. */
function faultyMs(watched: WatchedGenerator, truth: Truth): number {
  const spans = truth.faults
    .filter((fault) => fault.site === watched.site && fault.generator === watched.generator)
    .map((fault): [number, number] => [Math.max(watched.fromMs, thereFromMs(fault)), Math.min(watched.untilMs, fault.end === null ? Infinity : Date.parse(fault.end))])
    .sort((a, b) => a[0] - b[0]);
  let sum = 0;
  let coveredMs = watched.fromMs;
  for (const [fromMs, toMs] of spans) {
    sum += Math.max(0, toMs - Math.max(fromMs, coveredMs));
    coveredMs = Math.max(coveredMs, toMs);
  }
  return sum;
}

function goodOrderRow({ fromMs, untilMs, days }: WatchedGenerator, findings: readonly JudgedFinding[]): GoodOrderRow {
  return { years: (untilMs - fromMs) / YEAR_MS, falseFindings: findings.filter((one) => one.outcome === 'false').length, demandScatter: scatterOf(days?.was.demandNLPerMin ?? []) ?? null, deliveryScatter: scatterOf(days?.was.deliveryNLPerMin ?? []) ?? null };
}

function faultRow(judged: JudgedFault, findings: readonly JudgedFinding[], watched: WatchedGenerator): FaultRow {
  const { runTimes, untilMs } = watched;
  const sees = seesOf(new Set(watched.channels));
  const { fault, outcome, fit, delayH, foundMs } = judged;
  const by = findings.find((one) => one.finding.id === judged.finding);
  const onsetMs = Date.parse(fault.onset);
  const endMs = fault.end === null ? untilMs : Date.parse(fault.end);
  return {
    site: fault.site, generator: fault.generator, cause: fault.cause, severity: fault.severity, shape: fault.shape, onset: fault.onset, end: fault.end,
    outcome, fit, fitAtOpening: by?.fitAtOpening ?? null, fitAtEnd: by?.fitAtEnd ?? null, said: by?.said.judged ?? null, delayH,
    effect: (runTimes && largestEffect(runTimes, onsetMs, endMs)) ?? null,
    effectAtFinding: (runTimes && foundMs !== null ? effectOn(runTimes, Math.max(onsetMs, foundMs - WEEK_MS), foundMs) : undefined) ?? null,
    sends: channelClassOf(watched.channels), bars: faultBars(judged, { sees, untilMs, stated: watched.stated ?? [], days: watched.days }),
  };
}

function findingRow({ finding, said, outcome, duringFault, fault, fitAtEnd }: JudgedFinding, faults: readonly JudgedFault[]): FindingRow {
  return { site: finding.site, generator: finding.generator, openedAt: finding.openedAt, closedAt: finding.closedAt, outcome, duringFault, truth: fault === null ? null : faults[fault]!.fault.cause, atOpening: said.atOpening, judged: said.judged, atEnd: said.atEnd, fitAtEnd, evidence: outcome === 'false' ? finding.evidence : [] };
}
