// World: one simulated generator with its stores in memory; a job is left in them as a page leaves it.
import { expect, test } from 'vitest';
import { openAnalysis } from '../../analysis/analysis.ts';
import { answerJobs, goodDays } from '../../analysis/answer-jobs.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import type { DayRow } from '../../shared/cycle.ts';
import { type Entry, entrySchema } from '../../shared/entry.ts';
import { StoreError } from '../../shared/errors.ts';
import type { Finding } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { Job } from '../../shared/job.ts';
import type { LeavingCheck } from '../../shared/leaving-check.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { DAY_MS, HOUR_MS, isoFromMs, MINUTE_MS } from '../../shared/time.ts';
import type { FaultScenario, VisitScenario } from '../../simulator/scenario.ts';
import { KEY, liveWorld, oneGenerator, START_MS } from '../simulator/one-generator.ts';

const VISIT: VisitScenario = { id: 'visit-1', atDay: 18.4, hours: 1, replaced: [] };
const DONE_MS = START_MS + (VISIT.atDay + VISIT.hours / 24) * DAY_MS;

/** 20 days of one generator; a visit on the 18th leaves behind what is said; half an hour after it somebody asks. */
async function asked(fault: Pick<FaultScenario, 'cause' | 'variant' | 'severity'> | null): Promise<{ check: LeavingCheck; answeredAtMs: number }> {
  const faults: FaultScenario[] = fault === null ? [] : [{ ...fault, shape: 'step', fromDay: VISIT.atDay + VISIT.hours / 24 }];
  const { batch } = liveWorld(oneGenerator({ visits: [VISIT], faults }), 19);
  const records = openMemoryRecords();
  const readings = openMemoryReadings();
  await readings.append(batch);
  const askedMs = Math.round(DONE_MS + 32 * MINUTE_MS);
  const analysis = await openAnalysis({ records, readings, settings: DEFAULT_ANALYSIS_SETTINGS, log: SILENT_LOG, untilMs: askedMs });
  await analysis.advanceTo(askedMs);
  const job: Job = { id: 'check-1', kind: 'leaving-check', generator: KEY, postedAtMs: askedMs, answeredAtMs: null, answer: null, problem: null };
  await records.postJob(job);
  expect(await answerJobs({ records, readings, log: SILENT_LOG }, askedMs + 900)).toBe(1);
  expect(await answerJobs({ records, readings, log: SILENT_LOG }, askedMs + 1900)).toBe(0);
  const answered = (await records.job('check-1'))!;
  return { check: answered.answer as LeavingCheck, answeredAtMs: answered.answeredAtMs! - askedMs };
}

test('answerJobs() answers from the stores: quiet when all was put back', async () => {
  const { check, answeredAtMs } = await asked(null);
  expect(answeredAtMs).toBe(900);
  expect(check).toMatchObject({ site: 'test-site', generator: 'gen-1', verdict: 'nothing unlike usual seen', suspect: null });
  expect(check.items.find((item) => item.part === 'rest')?.says).toMatch(/^Over \d+ min of rest the tank fell by [\d.]+ kPa\/min; usual here [\d.]+ to [\d.]+ kPa\/min\.$/);
  expect(check.care).toContain('no proof');
  expect(check.notSeen.length).toBeGreaterThan(0);
});

test('answerJobs() sees a supply that was left shut, and a bleed left open at the tank', async () => {
  expect((await asked({ cause: 'valve-left-shut', variant: 'supply', severity: 'urgent' })).check).toMatchObject({ verdict: 'unlike usual', suspect: 'supply-shut', says: expect.stringContaining('Is each valve as you found it?') });
  expect((await asked({ cause: 'bleed-left-open', variant: 'tank', severity: 'urgent' })).check).toMatchObject({ verdict: 'unlike usual', suspect: 'bleed-open' });
});

test('answerJobs() answers for a generator that was never heard, and says that nothing was', async () => {
  const [records, readings] = [openMemoryRecords(), openMemoryReadings()];
  await records.postJob({ id: 'c', kind: 'leaving-check', generator: 'nowhere/gen-1' as GeneratorKey, postedAtMs: START_MS, answeredAtMs: null, answer: null, problem: null });
  await answerJobs({ records, readings, log: SILENT_LOG }, START_MS);
  expect((await records.job('c'))!.answer).toMatchObject({ verdict: 'too little seen', says: 'Nothing was ever heard, so nothing can be said.' });
});

test('answerJobs() leaves nobody waiting when the readings can’t be read', async () => {
  const records = openMemoryRecords();
  await records.postJob({ id: 'c', kind: 'leaving-check', generator: KEY, postedAtMs: START_MS, answeredAtMs: null, answer: null, problem: null });
  await answerJobs({ records, readings: { byDeviceTime: () => Promise.reject(new StoreError('the readings are down')) }, log: SILENT_LOG }, START_MS + 5);
  expect(await records.job('c')).toMatchObject({ answeredAtMs: START_MS + 5, answer: null, problem: expect.stringContaining('Ask again') });
});

const day = (index: number, change: Partial<DayRow> = {}): DayRow => ({ startMs: index * DAY_MS, endMs: (index + 1) * DAY_MS, holdingRatio: 1, coveredS: 86_400, ...change }) as DayRow;
const finding = (fromDay: number, toDay: number | null): Finding => ({ onset: { earliest: isoFromMs(fromDay * DAY_MS), likely: null, latest: null }, openedAt: isoFromMs(fromDay * DAY_MS), closedAt: toDay === null ? null : isoFromMs(toDay * DAY_MS) }) as Finding;
const entry = (fromDay: number, kind: Entry['kind']): Entry => entrySchema.parse({ id: `e${fromDay}`, site: 's', generator: 'g', kind, startedAt: isoFromMs(fromDay * DAY_MS + 9 * HOUR_MS), finishedAt: isoFromMs(fromDay * DAY_MS + 11 * HOUR_MS) });

test('goodDays() leaves out what was wrong, visited, filled or before a new set point', () => {
  const days = Array.from({ length: 40 }, (_, index) => day(index, index === 30 ? { holdingRatio: 0.4 } : index === 31 ? { coveredS: 10_000 } : {}));
  const indexes = (rows: readonly DayRow[]) => rows.map((row) => row.startMs / DAY_MS);
  expect(indexes(goodDays(days, [], [], 40 * DAY_MS))).toEqual([...Array.from({ length: 14 }, (_, index) => 16 + index), 32, 33, 34, 35, 36, 37, 38]);
  expect(indexes(goodDays(days, [finding(34.5, null), finding(10, 25)], [entry(33, 'service')], 40 * DAY_MS))).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 25, 26, 27, 28, 29, 32]);
  expect(indexes(goodDays(days, [], [entry(36, 'set-point')], 41 * DAY_MS))).toEqual([37, 38, 39]);
});
