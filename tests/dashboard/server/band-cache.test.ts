// Issue: "The main job, end to end": the rest bands of a fleet, small and large, follow what analysis writes. Real SQLite file.
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { createBandCache } from '../../../dashboard/server/band-cache.ts';
import type { RecordStore } from '../../../shared/store/record-store.ts';
import { openSqliteRecords } from '../../../shared/store/sqlite-records.ts';
import { daysOf, fillRecords, keyAt, NOW_MS } from './invented-fleet.ts';

let folder: string;
let records: RecordStore;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'lull-bands-'));
  records = await openSqliteRecords({ file: join(folder, 'records.sqlite') });
});
afterEach(async () => {
  await records.close();
  await rm(folder, { recursive: true, force: true });
});

const keys = (count: number) => Array.from({ length: count }, (_, index) => keyAt(index));
/** Late readings: every day of one generator is written anew with twice the run time. */
const rewrite = (index: number, days: number) => records.saveAnalysis({ tickMs: NOW_MS, replaced: [{ generator: keyAt(index), fromMs: 0 }], days: daysOf(keyAt(index), days, () => 0.4), cycles: [], findings: [], checkpoints: [], hotStates: [] });
const runS = (bands: ReturnType<typeof createBandCache>, index: number): (number | null)[] => [...bands.of(keyAt(index))].sort((a, b) => (a.day < b.day ? -1 : 1)).map((one) => (one.runS === null ? null : Math.round(one.runS / 720)));

test('createBandCache() holds 42 days of each generator and follows at once in a small fleet', async () => {
  await fillRecords(records, 3, 60);
  const bands = createBandCache(records);
  await bands.refresh(keys(3));
  expect(bands.of(keyAt(0))).toHaveLength(42);
  expect(runS(bands, 1).every((run) => run === 1)).toBe(true);
  await rewrite(1, 60);
  await bands.refresh(keys(3));
  expect(runS(bands, 1).every((run) => run === 2)).toBe(true);
  expect(bands.of('no-such/gen-1' as ReturnType<typeof keyAt>)).toEqual([]);
});

test('createBandCache() follows the newest days of a large fleet at once, and older ones within six ticks', async () => {
  await fillRecords(records, 501, 5);
  const bands = createBandCache(records);
  await bands.refresh(keys(501));
  await Promise.all([4, 5, 500].map((index) => rewrite(index, 5)));
  await bands.refresh(keys(501));
  for (const index of [4, 5, 500]) expect([index, runS(bands, index).slice(-2)]).toEqual([index, [2, 2]]);
  expect(runS(bands, 5)).toEqual([1, 1, 1, 2, 2]);
  for (let tick = 0; tick < 5; tick += 1) await bands.refresh(keys(501));
  for (const index of [4, 5, 500]) expect([index, runS(bands, index)]).toEqual([index, [2, 2, 2, 2, 2]]);
});
