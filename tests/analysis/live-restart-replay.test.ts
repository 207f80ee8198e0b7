// World: part of the demo's invented fleet, 68 days, with losses, doubles and a late burst; handed over as it was received.
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Analysis, openAnalysis } from '../../analysis/analysis.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { type ReadingBatch, selectRows } from '../../shared/reading-batch.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../shared/time.ts';
import { demoFleet } from '../../simulator/demo-fleet.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { worldEntries } from '../../simulator/story-times.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

/** Days of the demo's story in which a drain sticks and is mended by a visit, a test is done, and a gateway sends late. */
const FROM_DAY = 50;
const DAYS = 68;
const START_MS = Date.UTC(2026, 6, 1);
const FIRST_MS = START_MS + FROM_DAY * DAY_MS;
const END_MS = FIRST_MS + DAYS * DAY_MS;
const KEYS = ['quay-7/gen-2', 'tin-whistle/gen-1', 'quay-9/gen-1', 'mill-lane/gen-2'];

let log: ReadingBatch;
let entries: readonly Entry[];

beforeAll(() => {
  const whole = demoFleet(START_MS);
  const scenario: Scenario = { ...whole, generators: whole.generators.filter((one) => KEYS.includes(one.key)) };
  const world = startWorld({ scenario, seed: 7, startMs: START_MS });
  stepWorld(world, FIRST_MS);
  log = stepWorld(world, END_MS);
  entries = worldEntries(world, FIRST_MS).toSorted((a, b) => Date.parse(a.recordedAt) - Date.parse(b.recordedAt));
});

/** The first row received at or after `ms`. */
function firstRowAt(ms: number): number {
  let low = 0;
  let high = log.receivedMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (log.receivedMs[middle]! < ms) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** The rows received in [fromMs, toMs). */
function received(fromMs: number, toMs: number): ReadingBatch {
  const first = firstRowAt(fromMs);
  return selectRows(log, Array.from({ length: firstRowAt(toMs) - first }, (_, index) => first + index));
}

type House = { readonly records: RecordStore; readonly readings: ReadingStore };

function openHouse(): House {
  return { records: openMemoryRecords(), readings: openMemoryReadings() };
}

function open({ records, readings }: House): Promise<Analysis> {
  return openAnalysis({ records, readings, settings: DEFAULT_ANALYSIS_SETTINGS, log: SILENT_LOG });
}

/** Hand over everything received in [fromMs, toMs), in steps of `stepMs`, entries in their turn; `live` lets the clock pass after each. */
async function handOver(house: House, analysis: Analysis, fromMs: number, toMs: number, stepMs: number): Promise<void> {
  for (let atMs = fromMs; atMs < toMs; atMs += stepMs) {
    const untilMs = Math.min(toMs, atMs + stepMs);
    const marks = [...entries.filter((entry) => Date.parse(entry.recordedAt) >= atMs && Date.parse(entry.recordedAt) < untilMs).map((entry) => ({ atMs: Date.parse(entry.recordedAt), entry })), { atMs: untilMs, entry: undefined }];
    let sinceMs = atMs;
    for (const mark of marks) {
      const batch = (await house.readings.append(received(sinceMs, mark.atMs))).kept;
      await analysis.feed({ kind: 'readings', batch });
      if (mark.entry !== undefined) {
        await house.records.saveEntry(mark.entry, 'test');
        await analysis.feed({ kind: 'entry', atMs: mark.atMs, entry: mark.entry });
      }
      sinceMs = mark.atMs;
    }
    await analysis.advanceTo(untilMs);
  }
}

let replayed: RankingReport;
let replayHouse: House;

beforeAll(async () => {
  replayHouse = openHouse();
  const analysis = await open(replayHouse);
  await handOver(replayHouse, analysis, FIRST_MS, END_MS, END_MS - FIRST_MS);
  replayed = analysis.report();
});

afterAll(async () => {
  await replayHouse.readings.close();
  await replayHouse.records.close();
});

test('openAnalysis() finds something in this world, or the other tests would prove nothing', () => {
  const causes = new Set(replayed.findings.map((finding) => finding.cause));
  expect(replayed.findings.length).toBeGreaterThanOrEqual(3);
  expect(causes.size).toBeGreaterThanOrEqual(3);
  expect(replayed.findings.some((finding) => finding.state === 'closed')).toBe(true);
});

test('openAnalysis() live, in steps of 20 minutes, gives what the replay gives', async () => {
  const house = openHouse();
  const analysis = await open(house);
  await handOver(house, analysis, FIRST_MS, END_MS, 20 * MINUTE_MS);
  expect(analysis.report()).toEqual(replayed);
  for (const generator of KEYS) expect(await house.records.days({ generator: generator as never })).toEqual(await replayHouse.records.days({ generator: generator as never }));
});

test('openAnalysis() after restarts, with and without a last save, gives what the replay gives', async () => {
  const house = openHouse();
  let analysis = await open(house);
  let atMs = FIRST_MS;
  for (const [index, hours] of [7, 100, 3, 250.3, 411, 33].entries()) {
    await handOver(house, analysis, atMs, atMs + hours * HOUR_MS, 6 * HOUR_MS);
    atMs += hours * HOUR_MS;
    if (index % 2 === 0) await analysis.save();
    analysis = await open(house);
  }
  await handOver(house, analysis, atMs, END_MS, 12 * HOUR_MS);
  expect(analysis.report()).toEqual(replayed);
  for (const generator of KEYS) expect(await house.records.days({ generator: generator as never })).toEqual(await replayHouse.records.days({ generator: generator as never }));
});

test('openAnalysis() takes up a generator that was first heard after the others were saved, though the end came without a save', async () => {
  const house = openHouse();
  const analysis = await open(house);
  const lateKey = KEYS[3]!;
  // The fourth generator is silent for the first three days: when the others' states are saved it has none.
  for (let atMs = FIRST_MS; atMs < FIRST_MS + 3.5 * DAY_MS; atMs += 2 * HOUR_MS) {
    const whole = received(atMs, atMs + 2 * HOUR_MS);
    const rows = Array.from(whole.atMs.keys()).filter((row) => atMs >= FIRST_MS + 3 * DAY_MS || whole.series[whole.seriesIndex[row]!]!.generator !== lateKey);
    const batch = selectRows(whole, rows);
    const heard = new Set(rows.map((row) => whole.series[whole.seriesIndex[row]!]!.generator));
    await house.records.markDirty([...heard], batch.receivedMs[0]!);
    await analysis.feed({ kind: 'readings', batch: (await house.readings.append(batch)).kept });
    await analysis.advanceTo(atMs + 2 * HOUR_MS);
  }
  const again = await open(house);
  expect(again.report()).toEqual(analysis.report());
  await again.advanceTo(FIRST_MS + 4 * DAY_MS);
  await analysis.advanceTo(FIRST_MS + 4 * DAY_MS);
  const late = (report: RankingReport) => report.ranking.find((row) => `${row.site}/${row.generator}` === lateKey);
  expect(late(again.report())).toEqual(late(analysis.report()));
  expect((await house.records.days({ generator: lateKey as never })).length).toBeGreaterThan(0);
});
