// Source: MetroPT-3 (UCI 791, CC BY 4.0), windows of a real compressor with the maintenance log's air leaks; see the head of
// data/metropt3-duty-windows.csv. The record's windows are shuffled, so draws of them keep the real spread, not its order.
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { openAnalysis } from '../../analysis/analysis.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import type { Finding } from '../../shared/finding.ts';
import { parseGeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { batchBuilder } from '../../shared/reading-batch.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { seeded } from './change/world.ts';

const KEY = parseGeneratorKey('train-line/gen-1')!;
const START_MS = Date.UTC(2026, 0, 1);
const windows = readFileSync(new URL('./data/metropt3-duty-windows.csv', import.meta.url), 'utf8').trim().split('\n').filter((line) => !line.startsWith('#')).slice(1).map((line) => line.split(',').map(Number));
const healthy = windows.filter(([, leaking]) => leaking === 0).map(([duty]) => duty!);
const leaking = windows.filter(([, isLeaking]) => isLeaking === 1).map(([duty]) => duty!);

/** 90 days of one duty value an hour (a window is about 63 min), drawn from healthy windows and from `leakFromHour` on from leaking ones. */
async function findingsOf(seed: number, leakFromHour: number): Promise<readonly Finding[]> {
  const random = seeded(seed);
  const pick = (values: readonly number[]): number => values[Math.floor(random() * values.length)]!;
  const readings = openMemoryReadings();
  const builder = batchBuilder();
  for (let hour = 0; hour < 90 * 24; hour += 1) builder.add({ generator: KEY, channel: 'duty' }, START_MS + hour * HOUR_MS, hour < leakFromHour ? pick(healthy) : pick(leaking), 0, START_MS + hour * HOUR_MS + 1000);
  const batch = builder.take();
  await readings.append(batch);
  const analysis = await openAnalysis({ records: openMemoryRecords(), readings, settings: DEFAULT_ANALYSIS_SETTINGS, log: SILENT_LOG });
  await analysis.feed({ kind: 'readings', batch });
  await analysis.advanceTo(START_MS + 90 * DAY_MS);
  return analysis.report().findings;
}

test('openAnalysis() opens at most 3 findings in 100 draws of 90 healthy days of a real compressor', async () => {
  let opened = 0;
  for (let seed = 1; seed <= 100; seed += 1) opened += (await findingsOf(seed, Infinity)).length;
  expect(opened).toBeLessThanOrEqual(3);
});

test('openAnalysis() opens a finding within two days when a real compressor leaks', async () => {
  for (let seed = 101; seed <= 120; seed += 1) {
    const leakFromHour = 60 * 24 + (seed % 24);
    const findings = await findingsOf(seed, leakFromHour);
    const leakMs = START_MS + leakFromHour * HOUR_MS;
    const found = findings.filter((finding) => Date.parse(finding.openedAt) >= leakMs).at(-1);
    expect(found, `seed ${seed}`).toBeDefined();
    expect(Date.parse(found!.openedAt) - leakMs).toBeLessThanOrEqual(2 * DAY_MS);
    // Duty alone can't tell more demand from less delivery: the group is named, and the leak is in it.
    expect([found!.cause, ...(found!.among ?? [])]).toContain('leak');
  }
});
