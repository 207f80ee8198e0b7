// World: three invented generators that run 20 min of every hour; their elements last 100 days and load late.
import { expect, test } from 'vitest';
import { type Analysis, openAnalysis } from '../../analysis/analysis.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';
import { entrySchema } from '../../shared/entry.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { batchBuilder, type ReadingBatch } from '../../shared/reading-batch.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../shared/time.ts';

const START_MS = Date.UTC(2026, 0, 1);
const LIFE_DAYS = 100;
/** Two generators had their elements changed twice; the third was connected with new ones, 45 days ago. */
const CHANGES: Readonly<Record<string, readonly number[]>> = { 'gen-1': [0, 104, 208], 'gen-2': [0, 106, 212], 'gen-3': [215] };
const NOW_DAY = 260;

function readingsOf(generators: readonly string[]): ReadingBatch {
  const builder = batchBuilder();
  for (let hour = 0; hour < NOW_DAY * 24; hour += 1) {
    const atMs = START_MS + hour * HOUR_MS;
    for (const name of generators) {
      const since = hour / 24 - (CHANGES[name]!.findLast((day) => day <= hour / 24) ?? Infinity);
      if (since < 0) continue;
      const generator = `quay-7/${name}` as GeneratorKey;
      const drop = 8 * (70 / 8) ** ((since / LIFE_DAYS) ** 2) + 0.3 * Math.sin(hour * 1.7);
      const add = (channel: 'running' | 'discharge-pressure' | 'feed-pressure', minute: number, value: number): void => builder.add({ generator, channel }, atMs + minute * MINUTE_MS, value, 0, atMs + 30 * MINUTE_MS);
      add('running', 0, 1);
      add('discharge-pressure', 10, 640 + drop);
      add('feed-pressure', 10, 640);
      add('running', 20, 0);
    }
  }
  return builder.take();
}

async function world(generators: readonly string[]): Promise<{ readonly analysis: Analysis; readonly reopened: () => Promise<Analysis> }> {
  const [records, readings] = [openMemoryRecords(), openMemoryReadings()];
  const open = (): Promise<Analysis> => openAnalysis({ records, readings, settings: DEFAULT_ANALYSIS_SETTINGS, log: SILENT_LOG });
  const analysis = await open();
  const entries = generators.flatMap((generator) => CHANGES[generator]!.map((day) => entrySchema.parse({ id: `${generator}-${day}`, site: 'quay-7', generator, startedAt: new Date(START_MS + day * DAY_MS).toISOString(), replaced: ['coalescing-element'] })));
  for (const entry of entries.toSorted((a, b) => Date.parse(a.recordedAt) - Date.parse(b.recordedAt))) {
    await records.saveEntry(entry, 'test');
    await analysis.feed({ kind: 'entry', atMs: Date.parse(entry.recordedAt), entry });
  }
  await analysis.feed({ kind: 'readings', batch: (await readings.append(readingsOf(generators))).kept });
  await analysis.advanceTo(START_MS + NOW_DAY * DAY_MS + 6 * HOUR_MS);
  await analysis.save();
  return { analysis, reopened: open };
}

const dropDays = (analysis: Analysis): number => {
  const forecast = analysis.report().ranking.find((row) => row.generator === 'gen-3')!.forecasts.find((one) => one.limit === 'elementDropKPa')!;
  return forecast.likely === null ? Infinity : (Date.parse(forecast.likely) - START_MS) / DAY_MS - NOW_DAY;
};

test("openAnalysis() dates a generator's first elements better with what the fleet's elements showed, and the same after a restart", async () => {
  const [alone, fleet] = [await world(['gen-3']), await world(Object.keys(CHANGES))];
  // Elements of 45 days have 55 left.
  const [trend, borrowed] = [dropDays(alone.analysis), dropDays(fleet.analysis)];
  expect(Math.abs(borrowed - 55)).toBeLessThan(11);
  expect(Math.abs(borrowed - 55)).toBeLessThan(0.6 * Math.abs(trend - 55));
  expect((await fleet.reopened()).report().ranking).toEqual(fleet.analysis.report().ranking);
});
