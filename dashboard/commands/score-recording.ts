import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { openAnalysis } from '../../analysis/analysis.ts';
import { scoreWorld, type WatchedGenerator, type WorldScore } from '../../analysis/scoring/score-world.ts';
import { type StatedChange, statedChange } from '../../analysis/scoring/stated-changes.ts';
import { parseTruth, type Truth } from '../../analysis/scoring/truth.ts';
import { importRecording } from '../../ingest/import-recording.ts';
import type { Problems } from '../../shared/recording/lines.ts';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import { type BaseChannel, baseChannel } from '../../shared/channels.ts';
import { ConfigError } from '../../shared/errors.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { splitGeneratorKey } from '../../shared/ids.ts';
import type { Log } from '../../shared/log.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import type { Series } from '../../shared/reading-batch.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { isoFromMs } from '../../shared/time.ts';
import { keepEvent } from './keep-event.ts';

/**
 * Fold a recording with a `truth.json` in memory, through the same decoder as live, and score it.
 * What change of run time a fault made can't be known from readings, so the curve stays empty.
 * @throws {ConfigError} if the folder has no truth, or one that can't be read.
 */
export async function scoreRecording(folder: string, settings: AnalysisSettings, params: { readonly nowMs: number; readonly log: Log; readonly stopping: AbortSignal; told(readings: number): void; refused(problems: Problems): void }): Promise<WorldScore> {
  const truth = readTruth(folder);
  const readings = openMemoryReadings();
  const records = openMemoryRecords();
  const analysis = await openAnalysis({ records, readings, settings, log: params.log });
  const branchTimes = [...new Set(truth.branches.map((branch) => branch.at))].sort();
  const reports: RankingReport[] = [];
  const stated = new Map<string, StatedChange[]>();
  let count = 0;
  let lastMs = 0;
  const reportUntil = async (receivedMs: number): Promise<void> => {
    for (let at = branchTimes[0]; at !== undefined && Date.parse(at) <= receivedMs; at = branchTimes[0]) {
      await analysis.advanceTo(Date.parse(at));
      reports.push({ ...analysis.report(), at });
      await noteStated(at, await readings.series(), records, stated);
      branchTimes.shift();
    }
  };
  const recording = importRecording({ folder, nowMs: params.nowMs });
  for await (const event of recording.events) {
    if (params.stopping.aborted) throw new Error('stopped; nothing of a recording is kept, the same command begins it anew');
    const kept = await keepEvent(event, readings, records);
    if (kept.kind === 'readings' && kept.batch.atMs.length > 0) {
      await reportUntil(kept.batch.receivedMs[0]!);
      count += kept.batch.atMs.length;
      lastMs = kept.batch.receivedMs.at(-1)!;
      params.told(count);
    }
    await analysis.feed(kept);
  }
  if (recording.problems.count > 0) params.refused(recording.problems);
  await analysis.advanceTo(lastMs);
  await noteStated(isoFromMs(lastMs), await readings.series(), records, stated);
  const watched = (await watchedIn(readings, lastMs)).map((one) => ({ ...one, stated: stated.get(`${one.site}/${one.generator}`) ?? [] }));
  return scoreWorld({ truth, watched, findings: analysis.report().findings, reports });
}

/** What each generator that was heard states at this moment that it can show. */
async function noteStated(at: string, series: readonly Pick<Series, 'generator'>[], records: RecordStore, stated: Map<string, StatedChange[]>): Promise<void> {
  for (const generator of new Set(series.map((one) => one.generator))) stated.set(generator, [...(stated.get(generator) ?? []), statedChange(at, (await records.review(generator))?.canShow)]);
}

function readTruth(folder: string): Truth {
  const file = join(folder, 'truth.json');
  if (!existsSync(file)) throw new ConfigError(`${folder} has no truth.json: only a simulated recording can be scored`);
  let value: unknown;
  try {
    value = JSON.parse(readFileSync(file, 'utf8'));
  } catch (error) {
    throw new ConfigError(`${file} is no JSON: ${error instanceof Error ? error.message : String(error)}`);
  }
  const parsed = parseTruth(value);
  if ('problems' in parsed) throw new ConfigError([`${file} can't be read:`, ...parsed.problems.slice(0, 10).map((problem) => `  ${problem.where}: ${problem.says}`)].join('\n'));
  return parsed.truth;
}

/** Who was heard, with what, and since when. */
async function watchedIn(readings: ReturnType<typeof openMemoryReadings>, untilMs: number): Promise<WatchedGenerator[]> {
  const found = new Map<string, { channels: Set<BaseChannel>; fromMs: number }>();
  for (const one of await readings.series()) {
    const known = found.get(one.generator) ?? { channels: new Set<BaseChannel>(), fromMs: Infinity };
    known.channels.add(baseChannel(one.channel));
    known.fromMs = Math.min(known.fromMs, one.firstAtMs);
    found.set(one.generator, known);
  }
  return [...found].map(([key, { channels, fromMs }]) => ({ ...splitGeneratorKey(key as Parameters<typeof splitGeneratorKey>[0]), channels: [...channels], fromMs, untilMs }));
}
