import { openAnalysis } from '../../analysis/analysis.ts';
import { compareScores } from '../../analysis/scoring/compare-scores.ts';
import { saidOf } from '../../analysis/scoring/said.ts';
import { type FaultRow, type FindingRow, scoreWorld, type WatchedGenerator, type WorldScore } from '../../analysis/scoring/score-world.ts';
import { scoreTable } from '../../analysis/scoring/score-table.ts';
import type { Truth } from '../../analysis/scoring/truth.ts';
import { importRecording } from '../../ingest/import-recording.ts';
import { type AnalysisSettings, hashOfSettings } from '../../shared/analysis-settings.ts';
import { baseChannel } from '../../shared/channels.ts';
import type { Finding } from '../../shared/finding.ts';
import { type GeneratorKey, splitGeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { DAY_MS, HOUR_MS, isoFromMs } from '../../shared/time.ts';
import type { ReplayedFault, ReplayedFinding, ReplayedGenerator, ReplayResult, ReplayRun, ReplaySettings, ReplaySide, ReplaySummary } from '../../shared/world-replay.ts';
import { bandDaysOf } from '../views/band-days.ts';
import { forgetsReadings } from './forget-readings.ts';
import { keepEvent } from './keep-event.ts';
import { type ReplaySource, type ReplayWork, type Written, writeInput } from './replay-input.ts';

/** What a run's thread is given. `settings`: one, or two to compare; `folder` is empty, and its own. */
export type WorldReplayJob = { readonly id: string; readonly name: string; readonly work: ReplayWork; readonly settings: readonly [AnalysisSettings, AnalysisSettings?]; readonly folder: string; readonly nowMs: number };
export type ReplayTold = { readonly doing: ReplayRun['doing']; readonly ratio: number };

/** About how the work is shared between writing the input and folding it once. */
const WRITING_SHARE = 0.4;

/**
 * Write the input as a recording into a scratch folder, read it through ingest's decoder, and fold it in memory once for each of
 * the settings. Of an invented world what was found is held against what was true; forecasts and ranking, which need branches
 * of the world, are left to `lull score`. History has no truth, and what is rebuilt from it is never scored.
 */
export async function replayInput(job: WorldReplayJob, source: ReplaySource, told: (told: ReplayTold) => void): Promise<ReplayResult> {
  const settings = job.settings.filter((one) => one !== undefined);
  const foldShare = (1 - WRITING_SHARE) / settings.length;
  const written = await writeInput(job.work, job.folder, source, (ratio) => told({ doing: 'writing', ratio: WRITING_SHARE * ratio }));
  const folds: Fold[] = [];
  for (const [index, one] of settings.entries()) {
    const doing = index === 0 ? 'folding' : 'folding-other';
    folds.push(await foldRecording(job, one, written, (ratio) => told({ doing, ratio: WRITING_SHARE + foldShare * (index + Math.min(1, ratio)) })));
  }
  const scores = folds.map((fold) => (written.truth === null ? undefined : scoreWorld({ truth: written.truth, watched: watchedOf(written), findings: fold.findings, reports: [] })));
  const sides = folds.map((fold, index): ReplaySide => sideOf(fold, scores[index], written));
  const [a, b] = scores;
  const { kind } = job.work;
  return {
    id: job.id, kind, name: job.name, seed: kind === 'simulated' ? job.work.seed : null, days: (written.untilMs - written.fromMs) / DAY_MS, fromAt: isoFromMs(written.fromMs), untilAt: isoFromMs(written.untilMs),
    readings: folds[0]!.readings, refused: folds[0]!.refused, first: sides[0]!, other: sides[1] ?? null,
    measures: a === undefined || b === undefined ? [] : compareScores(scoreTable([a]), scoreTable([b])).filter((one) => one.a !== null || one.b !== null),
  };
}

type Fold = { readonly settings: AnalysisSettings; readonly findings: readonly Finding[]; readonly days: ReadonlyMap<GeneratorKey, ReplayedGenerator['days']>; readonly readings: number; readonly refused: number };

async function foldRecording({ folder, nowMs }: WorldReplayJob, settings: AnalysisSettings, written: Written, told: (ratio: number) => void): Promise<Fold> {
  const readings = openMemoryReadings();
  const records = openMemoryRecords();
  const analysis = await openAnalysis({ records, readings, settings, log: SILENT_LOG });
  const forget = forgetsReadings(readings, analysis);
  const recording = importRecording({ folder, nowMs });
  let count = 0;
  for await (const event of recording.events) {
    const kept = await keepEvent(event, readings, records);
    await analysis.feed(kept);
    if (kept.kind !== 'readings') continue;
    count += kept.batch.atMs.length;
    told(count / Math.max(1, written.readings));
    await forget();
  }
  await analysis.advanceTo(written.untilMs);
  await analysis.save();
  const days = new Map<GeneratorKey, ReplayedGenerator['days']>();
  for (const { key } of written.generators) days.set(key, bandDaysOf(await records.days({ generator: key })));
  return { settings, findings: analysis.report().findings, days, readings: count, refused: [...recording.counts.refused.values()].reduce((sum, one) => sum + one, 0) };
}

function watchedOf({ generators, fromMs, untilMs }: Written): WatchedGenerator[] {
  return generators.map(({ key, channels }) => ({ ...splitGeneratorKey(key), channels: channels.map(baseChannel), fromMs, untilMs }));
}

function sideOf(fold: Fold, score: WorldScore | undefined, written: Written): ReplaySide {
  const { falseFindingsPerYear, baselineDays, smallestChange, horizonDays } = fold.settings;
  const settings: ReplaySettings = { falseFindingsPerYear, baselineDays, smallestChange, horizonDays };
  return { settings, hash: hashOfSettings(fold.settings), summary: score === undefined ? null : summaryOf(score), generators: written.generators.map((one) => generatorOf(one, fold, score, written)) };
}

function summaryOf(score: WorldScore): ReplaySummary {
  const { all, falseFindings, generatorYears } = scoreTable([score]);
  return {
    generatorYears, faults: all.faults, found: all.found, missed: all.missed, apart: all.apart, causeRight: all.named, delayMedianH: all.delayMedianH,
    falseFindings: falseFindings.count, falsePerYear: { value: falseFindings.perYear, low: falseFindings.low, high: falseFindings.high },
  };
}

function generatorOf({ key, channels, zone, visits }: Written['generators'][number], fold: Fold, score: WorldScore | undefined, written: Written): ReplayedGenerator {
  const { site, generator } = splitGeneratorKey(key);
  const own = <T extends { readonly site: string; readonly generator: string }>(items: readonly T[]): T[] => items.filter((item) => item.site === site && item.generator === generator);
  const findings = own(fold.findings).toSorted((a, b) => Date.parse(a.openedAt) - Date.parse(b.openedAt));
  return {
    site, generator, zone, channels, days: fold.days.get(key) ?? [], visits,
    faults: score === undefined ? own(written.laidOver).map((fault) => laidOver(fault, findings)) : own(score.faults).map(faultOf),
    // A visit is shown as one; that it looks like a stop is a rule of the scoring.
    upsets: own(written.truth?.upsets ?? []).filter((upset) => upset.kind !== 'visit').map(({ kind, from, to }) => ({ kind, from, to })),
    findings: score === undefined ? findings.map(unjudged) : own(score.findings).map(findingOf),
  };
}

export function faultOf(row: FaultRow): ReplayedFault {
  return { cause: row.cause, severity: row.severity, onset: row.onset, end: row.end, outcome: row.outcome, causeRight: row.fit === null ? null : row.fit === 'right', said: row.said?.cause ?? null, delayH: row.delayH };
}

/** What was said first after a fault that was laid over history; whether that is right nobody can know. */
function laidOver(fault: Truth['faults'][number], findings: readonly Finding[]): ReplayedFault {
  const onsetMs = Date.parse(fault.onset);
  const first = findings.find((one) => Date.parse(one.openedAt) >= onsetMs);
  return { cause: fault.cause, severity: fault.severity, onset: fault.onset, end: fault.end, outcome: 'laid-over', causeRight: null, said: first === undefined ? null : saidOf(first).judged.cause, delayH: first === undefined ? null : (Date.parse(first.openedAt) - onsetMs) / HOUR_MS };
}

export function findingOf(row: FindingRow): ReplayedFinding {
  const { cause, among, probability } = row.judged;
  return { openedAt: row.openedAt, closedAt: row.closedAt, cause, among, probability, outcome: row.outcome, because: evidenceWords(row.evidence) };
}

function unjudged(finding: Finding): ReplayedFinding {
  const { cause, among, probability } = saidOf(finding).judged;
  return { openedAt: finding.openedAt, closedAt: finding.closedAt, cause, among, probability, outcome: 'unjudged', because: evidenceWords(finding.evidence) };
}

function evidenceWords(evidence: Finding['evidence']): string[] {
  return evidence.map((one) => `${one.weight < 0 ? 'against' : 'for'}: ${one.says}`);
}
