import type { DayRow } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { Finding } from '../shared/finding.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { Job } from '../shared/job.ts';
import type { LeavingCheck } from '../shared/leaving-check.ts';
import type { Log } from '../shared/log.ts';
import type { ReadingBatch } from '../shared/reading-batch.ts';
import { generatorsOf, type RegisteredGenerator, unclaimedGenerator } from '../shared/registry.ts';
import type { ReadingStore } from '../shared/store/reading-store.ts';
import type { RecordStore } from '../shared/store/record-store.ts';
import { DAY_MS, HOUR_MS } from '../shared/time.ts';
import { isSetPoint } from './causes/mends.ts';
import { leavingCheck } from './verify/leaving-check.ts';
import { leavingNormal } from './verify/leaving-normal.ts';

export type JobStores = { readonly records: RecordStore; readonly readings: Pick<ReadingStore, 'byDeviceTime'>; readonly log: Log };

/** Days from which normal is learned: the newest good ones, as many as hold enough windows and are still of one season. */
const NORMAL_DAYS = 21;
/** A present rest may have begun so long ago. */
const RECENT_MS = 3 * DAY_MS;

/**
 * Answer every job that waits in the record store. It reads the stores alone and not the fold's state, so that it need not wait
 * for a long fold. A job that can't be answered is answered with a problem, so that nobody waits for ever.
 * @throws {StoreError} if the records can't be read; the jobs wait then.
 */
export async function answerJobs(stores: JobStores, nowMs: number): Promise<number> {
  const open = await stores.records.openJobs();
  for (const job of open) {
    try {
      await stores.records.answerJob(job.id, { atMs: nowMs, answer: await checkOf(stores, job) });
    } catch (error) {
      stores.log.error('a check before leaving failed', { generator: job.generator, error: error instanceof Error ? error.message : String(error) });
      await stores.records.answerJob(job.id, { atMs: nowMs, problem: 'The check failed; the program’s log says why. Ask again.' });
    }
  }
  return open.length;
}

/** The check of a job, as of the moment when it was asked for. */
async function checkOf({ records, readings }: JobStores, job: Job): Promise<LeavingCheck> {
  const { generator, postedAtMs: nowMs } = job;
  const [registered, days, findings, entries] = await Promise.all([registeredOf(records, generator), records.days({ generator }), records.findings({ generator }), records.entries({ generator })]);
  const good = goodDays(days, findings, entries, nowMs);
  const channels = ['running', 'producing', 'tank-pressure', 'feed-pressure', 'system-pressure', ...registered.generator.risers.map((riser) => `system-pressure.${riser.id}` as const)] as const;
  const batches: ReadingBatch[] = [];
  for (const span of together(good)) batches.push(await readings.byDeviceTime({ generator, ...span, channels }));
  const recent = await readings.byDeviceTime({ generator, fromMs: nowMs - RECENT_MS, toMs: nowMs + 1 });
  return leavingCheck({ registered, nowMs, recent, normal: leavingNormal(batches, good) });
}

async function registeredOf(records: RecordStore, generator: GeneratorKey): Promise<RegisteredGenerator> {
  let found: RegisteredGenerator | undefined;
  for (const change of await records.registryChanges()) found = generatorsOf({ sites: [change.site] }).find((one) => one.key === generator) ?? found;
  return found ?? unclaimedGenerator(generator);
}

/**
 * The newest good days: known and spent holding, without an open finding, without anybody's entry, since the last set point.
 * What a finding says has been wrong since its earliest onset is no normal to measure by.
 */
export function goodDays(days: readonly DayRow[], findings: readonly Finding[], entries: readonly Entry[], nowMs: number): DayRow[] {
  const bad = [
    ...findings.map((finding) => [Date.parse(finding.onset.earliest ?? finding.onset.likely ?? finding.openedAt), finding.closedAt === null ? Infinity : Date.parse(finding.closedAt)] as const),
    ...entries.map((entry) => [Date.parse(entry.startedAt), Date.parse(entry.finishedAt ?? entry.startedAt) + HOUR_MS] as const),
  ];
  const setPointMs = Math.max(0, ...entries.filter(isSetPoint).map((entry) => Date.parse(entry.startedAt)));
  const good = days.filter((day) => day.endMs <= nowMs - 6 * HOUR_MS && day.startMs >= setPointMs && day.holdingRatio >= 0.9 && day.coveredS >= 0.5 * ((day.endMs - day.startMs) / 1000));
  return good.filter((day) => !bad.some(([fromMs, toMs]) => day.startMs < toMs && day.endMs > fromMs)).slice(-NORMAL_DAYS);
}

/** Days that follow each other as one span each. */
function together(days: readonly DayRow[]): { readonly fromMs: number; readonly toMs: number }[] {
  const spans: { fromMs: number; toMs: number }[] = [];
  for (const day of days) {
    const last = spans.at(-1);
    if (last !== undefined && last.toMs === day.startMs) last.toMs = day.endMs;
    else spans.push({ fromMs: day.startMs, toMs: day.endMs });
  }
  return spans;
}
