// World: two invented generators, 75 days; one has a day that comes three weeks late, and sends a day of long ago a second time.
import { beforeAll, expect, test } from 'vitest';
import { openAnalysis } from '../../analysis/analysis.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import type { DayRow } from '../../shared/cycle.ts';
import type { RankingReport } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { type ReadingBatch, type Reading, readingBatch, readingsOf } from '../../shared/reading-batch.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { DAY_MS } from '../../shared/time.ts';
import { parseScenarioFile } from '../../simulator/scenario-file.ts';
import { scenarioOfFile } from '../../simulator/scenario-of-file.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

const START_MS = Date.UTC(2026, 2, 2);
const DAYS = 75;
const LATE_DAY = 40;
const COMES_ON_DAY = 61;
const OLD_DAY = 5;
const LATE = 'pier/gen-1' as GeneratorKey;
const FILE = `name: late
days: ${DAYS}
sites:
  - id: pier
    generators:
      - { id: gen-1, channels: slim, reportEveryS: 600, faults: [{ cause: leak, severity: plain, from: 38 }] }
      - { id: gen-2, channels: slim, reportEveryS: 600 }
`;

const days: ReadingBatch[] = [];

beforeAll(() => {
  const parsed = parseScenarioFile(FILE);
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  const world = startWorld({ scenario: scenarioOfFile(parsed.file, START_MS), seed: 11, startMs: START_MS });
  const sent = Array.from({ length: DAYS }, (_, day) => [...readingsOf(stepWorld(world, START_MS + (day + 1) * DAY_MS))]);
  const ofLate = (reading: Reading): boolean => reading.generator === LATE;
  const burst = [...sent[OLD_DAY]!.filter(ofLate), ...sent[LATE_DAY]!.filter(ofLate)].map((reading) => ({ ...reading, receivedMs: START_MS + COMES_ON_DAY * DAY_MS }));
  sent[LATE_DAY] = sent[LATE_DAY]!.filter((reading) => !ofLate(reading));
  sent[COMES_ON_DAY] = [...burst, ...sent[COMES_ON_DAY]!];
  days.push(...sent.map((one) => readingBatch(one.toSorted((a, b) => a.receivedMs - b.receivedMs))));
});

type Folded = { readonly report: RankingReport; readonly rows: readonly DayRow[]; readonly mostBytes: number; readonly warnings: number };

async function fold(forgets: boolean): Promise<Folded> {
  const [readings, records] = [openMemoryReadings(), openMemoryRecords()];
  let [mostBytes, warnings] = [0, 0];
  const analysis = await openAnalysis({ records, readings, settings: DEFAULT_ANALYSIS_SETTINGS, log: { ...SILENT_LOG, warn: () => (warnings += 1) } });
  for (const batch of days) {
    await analysis.feed({ kind: 'readings', batch: (await readings.append(batch)).kept });
    if (forgets) readings.forget(await analysis.doneWith());
    mostBytes = Math.max(mostBytes, await readings.sizeBytes());
  }
  await analysis.save();
  return { report: analysis.report(), rows: await records.days({ generator: LATE }), mostBytes, warnings };
}

test('doneWith() lets readings be forgotten that no fold asks for again: what comes weeks late changes all that it did', async () => {
  const [whole, forgetful] = [await fold(false), await fold(true)];
  const lateRow = forgetful.rows.find((row) => row.startMs === START_MS + LATE_DAY * DAY_MS)!;
  expect(lateRow.coveredS).toBeGreaterThan(86_000);
  expect(forgetful.rows).toEqual(whole.rows);
  expect(forgetful.report).toEqual(whole.report);
  expect(whole.report.findings.map((finding) => finding.cause)).toContain('leak');
  expect([whole.warnings, forgetful.warnings]).toEqual([0, 0]);
  // 35 checkpoints of a day are kept; folding again left one for the 21 days that it went back. So of 75 days 37 of one generator and 57 of the other.
  expect(forgetful.mostBytes / whole.mostBytes).toBeLessThan(0.65);
});

test('doneWith() names no generator that may still be folded from its beginning', async () => {
  const [readings, records] = [openMemoryReadings(), openMemoryRecords()];
  const analysis = await openAnalysis({ records, readings, settings: DEFAULT_ANALYSIS_SETTINGS, log: SILENT_LOG });
  const named: number[] = [];
  for (const batch of days.slice(0, 36)) {
    await analysis.feed({ kind: 'readings', batch: (await readings.append(batch)).kept });
    named.push((await analysis.doneWith()).size);
  }
  expect(named.slice(0, 30)).toEqual(Array.from({ length: 30 }, () => 0));
  expect(named.at(-1)).toBe(2);
});
