import { openAnalysis } from '../../analysis/analysis.ts';
import { type FaultRow, type FindingRow, scoreWorld, type WatchedGenerator, type WorldScore } from '../../analysis/scoring/score-world.ts';
import { scoreTable } from '../../analysis/scoring/score-table.ts';
import type { Truth } from '../../analysis/scoring/truth.ts';
import { type AnalysisSettings, hashOfSettings } from '../../shared/analysis-settings.ts';
import { baseChannel } from '../../shared/channels.ts';
import { splitGeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import type { ReplayedFault, ReplayedFinding, ReplayedGenerator, ReplayResult } from '../../shared/world-replay.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';
import { bandDaysOf } from '../views/band-days.ts';
import { otherEvents, truthForScoring } from './score-run.ts';

/** Plain JSON, so that it can be handed to a thread. */
export type WorldReplayJob = { readonly id: string; readonly scenario: Scenario; readonly seed: number; readonly startMs: number; readonly days: number; readonly settings: AnalysisSettings };

/** Readings older than this can't be asked for again: the analysis keeps 35 checkpoints of a day. */
const KEEP_MS = 40 * DAY_MS;
const EXPIRE_EVERY_DAYS = 5;

/**
 * Live through a world, fold it, and hold what was found against what was: all in memory. Readings are handed over as decoded
 * ones, as `lull score` does; forecasts and ranking, which need branches of the world, are left to that command.
 */
export async function replayWorld(job: WorldReplayJob, told: (ratio: number) => void): Promise<ReplayResult> {
  const { scenario, seed, startMs, days } = job;
  const untilMs = startMs + days * DAY_MS;
  const world = startWorld({ scenario, seed, startMs });
  const readings = openMemoryReadings();
  const records = openMemoryRecords();
  const analysis = await openAnalysis({ records, readings, settings: job.settings, log: SILENT_LOG });
  const others = otherEvents(world, untilMs);
  let count = 0;
  let next = 0;
  const stepTo = async (toMs: number): Promise<void> => {
    if (toMs <= world.nowMs) return;
    const batch = stepWorld(world, toMs);
    if (batch.atMs.length === 0) return;
    const { kept } = await readings.append(batch);
    await analysis.feed({ kind: 'readings', batch: kept });
    count += kept.atMs.length;
  };
  for (let day = 1; day <= days; day += 1) {
    const dayEndMs = Math.min(untilMs, startMs + day * DAY_MS);
    for (let other = others[next]; other !== undefined && other.atMs < dayEndMs; other = others[next]) {
      await stepTo(other.atMs);
      await analysis.feed(other.event);
      next += 1;
    }
    await stepTo(dayEndMs);
    if (day % EXPIRE_EVERY_DAYS === 0) await readings.expire(dayEndMs - KEEP_MS);
    told(day / days);
  }
  await analysis.advanceTo(untilMs);
  await analysis.save();
  const truth = truthForScoring(worldTruth(world));
  const watched = scenario.generators.map((one): WatchedGenerator => ({ ...splitGeneratorKey(one.key), channels: one.channels.map(baseChannel), fromMs: startMs, untilMs }));
  const score = scoreWorld({ truth, watched, findings: analysis.report().findings, reports: [] });
  return { id: job.id, name: scenario.name, seed, days, fromAt: isoFromMs(startMs), untilAt: isoFromMs(untilMs), readings: count, settings: hashOfSettings(job.settings), summary: summaryOf(score), generators: await generatorsOf(scenario, truth, score, records) };
}

function summaryOf(score: WorldScore): ReplayResult['summary'] {
  const { all, falseFindings, generatorYears } = scoreTable([score]);
  return {
    generatorYears, faults: all.faults, found: all.found, missed: all.missed, apart: all.apart, causeRight: all.named, delayMedianH: all.delayMedianH,
    falseFindings: falseFindings.count, falsePerYear: { value: falseFindings.perYear, low: falseFindings.low, high: falseFindings.high },
  };
}

async function generatorsOf(scenario: Scenario, truth: Truth, score: WorldScore, records: RecordStore): Promise<ReplayedGenerator[]> {
  const generators: ReplayedGenerator[] = [];
  for (const one of scenario.generators) {
    const { site, generator } = splitGeneratorKey(one.key);
    const own = <T extends { readonly site: string; readonly generator: string }>(items: readonly T[]): T[] => items.filter((item) => item.site === site && item.generator === generator);
    const record = scenario.registry.sites.find((known) => known.id === site);
    generators.push({
      site, generator, zone: record?.timeZone ?? 'UTC', channels: one.channels,
      days: bandDaysOf(await records.days({ generator: one.key })),
      faults: own(score.faults).map(faultOf),
      // A visit is shown as one; that it looks like a stop is a rule of the scoring.
      upsets: own(truth.upsets).filter((upset) => upset.kind !== 'visit').map(({ kind, from, to }) => ({ kind, from, to })),
      visits: own(truth.upsets).filter((upset) => upset.kind === 'visit').map(({ from }) => from),
      findings: own(score.findings).map(findingOf),
    });
  }
  return generators;
}

function faultOf(row: FaultRow): ReplayedFault {
  return { cause: row.cause, severity: row.severity, onset: row.onset, end: row.end, outcome: row.outcome, causeRight: row.fit === null ? null : row.fit === 'right', said: row.said?.cause ?? null, delayH: row.delayH };
}

function findingOf(row: FindingRow): ReplayedFinding {
  const { cause, among, probability } = row.judged;
  return { openedAt: row.openedAt, closedAt: row.closedAt, cause, among, probability, outcome: row.outcome, because: row.evidence.map((one) => `${one.weight < 0 ? 'against' : 'for'}: ${one.says}`) };
}
