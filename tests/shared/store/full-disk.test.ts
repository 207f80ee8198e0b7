// Issue: when the store is down nothing is half kept, and a repeat of the same batch completes it. A limit of file size
// stands for the full disk: the system refuses the write in the same place.
import { execFile } from 'node:child_process';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { openDuckdbReadings } from '../../../shared/store/duckdb-readings.ts';
import { openSqliteRecords } from '../../../shared/store/sqlite-records.ts';
import { cycleOf, dayOf, ROWS_PER_BATCH } from './numbered-batches.mjs';
import { tempFolder } from './temp-folder.ts';

const CHILD = fileURLToPath(new URL('./write-until-full.mjs', import.meta.url));
const whole = { generator: 'quay-7/gen-1' as GeneratorKey, fromMs: 0, toMs: Infinity } as const;

type Event = { readonly number: number; readonly failed?: string; readonly says?: string; readonly repeated?: number };

/** Run the child with files of at most `kiB`; it ends by killing itself. */
function runUntilFull(what: 'readings' | 'records', place: string, kiB: number, logMB = 16): Promise<Event[]> {
  return new Promise((resolve, reject) => {
    execFile('bash', ['-c', `trap '' XFSZ; ulimit -S -f ${kiB}; exec "$0" "$@"`, process.execPath, CHILD, what, place, String(logMB)], (error, stdout, stderr) => {
      if (error?.signal !== 'SIGKILL') reject(new Error(`the child ended early: ${stderr}`));
      else resolve(stdout.trim().split('\n').map((line) => JSON.parse(line) as Event));
    });
  });
}

// With 16 MB of log it is the log that can't grow. With 1 MB it is the file that the log is tidied away to; the engine
// then has to be opened anew, at first with the batch on disk all the same.
test.each([16, 1])('append() of DuckDB with %i MB of log refuses with a StoreError when the disk is full, and goes on when it is not', async (logMB) => {
  const folder = await tempFolder();
  try {
    const events = await runUntilFull('readings', folder.path, 3000, logMB);
    const last = events[0]!.number;
    expect(last).toBeGreaterThan(3);
    expect(events.map((event) => [event.number, event.failed, event.repeated])).toEqual([...Array.from({ length: 3 }, () => [last, 'StoreError', undefined]), [last, undefined, ROWS_PER_BATCH], [last + 1, undefined, ROWS_PER_BATCH]]);
    const store = await openDuckdbReadings({ folder: folder.path, memoryMB: 128, threads: 1, log: SILENT_LOG });
    expect((await store.byDeviceTime(whole)).atMs.length).toBe((last + 2) * ROWS_PER_BATCH);
    await store.close();
  } finally {
    await folder.remove();
  }
}, 60_000);

test('saveAnalysis() of SQLite refuses with a StoreError when the disk is full, and goes on when it is not', async () => {
  const folder = await tempFolder();
  const file = join(folder.path, 'records.sqlite');
  try {
    const events = await runUntilFull('records', file, 1000);
    const last = events[0]!.number;
    expect(last).toBeGreaterThan(3);
    expect(events.map((event) => [event.number, event.failed, event.repeated])).toEqual([...Array.from({ length: 3 }, () => [last, 'StoreError', undefined]), [last, undefined, last + 1], [last + 1, undefined, last + 2]]);
    const store = await openSqliteRecords({ file });
    expect(await store.days({ generator: whole.generator })).toEqual(Array.from({ length: last + 2 }, (_, number) => dayOf(number)));
    expect(await store.cycles(whole)).toEqual(Array.from({ length: last + 2 }, (_, number) => Array.from({ length: 50 }, (_, index) => cycleOf(number, index))).flat());
    await store.close();
  } finally {
    await folder.remove();
  }
}, 60_000);
