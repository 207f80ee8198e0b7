// Issue: a kill -9 in mid-ingest loses no acknowledged reading, and the store opens again.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { readingBatch, readingsOf } from '../../../shared/reading-batch.ts';
import { openDuckdbReadings } from '../../../shared/store/duckdb-readings.ts';
import { openSqliteRecords } from '../../../shared/store/sqlite-records.ts';
import { cycleOf, dayOf, readingsOfBatch, ROWS_PER_BATCH } from './numbered-batches.mjs';
import { tempFolder } from './temp-folder.ts';

const CHILD = fileURLToPath(new URL('./append-until-killed.mjs', import.meta.url));
const QUAY = 'quay-7/gen-1' as GeneratorKey;
const whole = { generator: QUAY, fromMs: 0, toMs: Infinity } as const;

/** mulberry32: the same kills in every run of the tests, as far as a machine's pace allows. */
function dice(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** Let a child keep batches from `first` on and kill it `afterMs` after its first acknowledgement. Gives the last number that it printed. */
async function killInMidWork(what: 'readings' | 'records', place: string, first: number, afterMs: number): Promise<number> {
  const child = spawn(process.execPath, [CHILD, what, place, String(first)], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = once(child, 'close');
  let last = -1;
  for await (const line of createInterface({ input: child.stdout })) {
    if (last === -1) setTimeout(() => child.kill('SIGKILL'), afterMs);
    last = Number(line);
  }
  const [, signal] = (await ended) as [number | null, string | null];
  expect(signal).toBe('SIGKILL');
  return last;
}

test('openDuckdbReadings() says which process has the file open', async () => {
  const folder = await tempFolder();
  const child = spawn(process.execPath, [CHILD, 'readings', folder.path, '0'], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = once(child, 'close');
  try {
    await once(child.stdout, 'data');
    await expect(openDuckdbReadings({ folder: folder.path, memoryMB: 128, threads: 1, log: SILENT_LOG })).rejects.toThrow(new RegExp(`another process \\(${child.pid}\\) has them open`));
  } finally {
    child.kill('SIGKILL');
    await ended;
    await folder.remove();
  }
}, 60_000);

test('append() of DuckDB has every acknowledged reading after each of 20 kills, and none twice', async () => {
  const folder = await tempFolder();
  const random = dice(20_261_124);
  let acknowledged = -1;
  try {
    for (let kill = 0; kill < 20; kill += 1) {
      // Each child begins with the last batch that was acknowledged, as a broker sends again what it has no word of.
      acknowledged = await killInMidWork('readings', folder.path, Math.max(0, acknowledged), 20 + random() * 400);
      const store = await openDuckdbReadings({ folder: folder.path, memoryMB: 256, threads: 2, log: SILENT_LOG });
      const rows = (await store.byDeviceTime(whole)).atMs.length;
      // The batch in flight is there as a whole or not at all.
      expect([0, 1].map((more) => (acknowledged + 1 + more) * ROWS_PER_BATCH)).toContain(rows);
      const again = await store.append(readingBatch([...readingsOfBatch(acknowledged), ...readingsOfBatch(acknowledged + 1)]));
      expect(again.conflicts).toEqual([]);
      expect(again.doubled + again.kept.atMs.length).toBe(2 * ROWS_PER_BATCH);
      expect((await store.series()).reduce((sum, one) => sum + one.count, 0)).toBe((acknowledged + 2) * ROWS_PER_BATCH);
      await store.close();
    }
    const store = await openDuckdbReadings({ folder: folder.path, memoryMB: 256, threads: 2, log: SILENT_LOG });
    const found = [...readingsOf(await store.byDeviceTime(whole))].map((one) => `${one.atMs} ${one.channel} ${one.value} ${one.receivedMs}`).sort();
    const wanted = Array.from({ length: acknowledged + 2 }, (_, number) => readingsOfBatch(number)).flat().map((one) => `${one.atMs} ${one.channel} ${one.value} ${one.receivedMs}`).sort();
    expect(found.length).toBe(wanted.length);
    expect(found.every((line, index) => line === wanted[index])).toBe(true);
    // The kills hit real work: else the test would prove nothing.
    expect(acknowledged).toBeGreaterThan(100);
    await store.close();
  } finally {
    await folder.remove();
  }
}, 240_000);

test('saveAnalysis() of SQLite has every acknowledged result after each of 8 kills, and none in part', async () => {
  const folder = await tempFolder();
  const file = join(folder.path, 'records.sqlite');
  const random = dice(7);
  let acknowledged = -1;
  try {
    for (let kill = 0; kill < 8; kill += 1) {
      acknowledged = await killInMidWork('records', file, Math.max(0, acknowledged), 20 + random() * 300);
      const store = await openSqliteRecords({ file });
      const days = await store.days({ generator: QUAY });
      const cycles = await store.cycles(whole);
      expect([acknowledged + 1, acknowledged + 2]).toContain(days.length);
      expect(days).toEqual(days.map((_, number) => dayOf(number)));
      expect(cycles).toEqual(days.flatMap((_, number) => Array.from({ length: 50 }, (_, index) => cycleOf(number, index))));
      expect((await store.dirty()).length).toBe(1);
      expect(await store.lastTickMs()).toBe(days.length - 1);
      await store.close();
    }
    expect(acknowledged).toBeGreaterThan(50);
  } finally {
    await folder.remove();
  }
}, 120_000);
