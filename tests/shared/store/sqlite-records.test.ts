// Issue: the main job. SQLite is held to the list of every record store, and to what is its own: migrations, one transaction, waiting for the other connection.
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'libsql';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { DayRow } from '../../../shared/cycle.ts';
import { StoreError } from '../../../shared/errors.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { openSqliteRecords } from '../../../shared/store/sqlite-records.ts';
import { MIGRATIONS } from '../../../shared/store/sqlite-migrations.ts';
import { cycle, dayRow, recordStoreContract, result } from './record-store.contract.ts';
import { tempFolder } from './temp-folder.ts';

recordStoreContract('SQLite', async (quarantineRoom) => {
  const folder = await tempFolder();
  const file = join(folder.path, 'records.sqlite');
  const another = () => openSqliteRecords({ file, quarantineRoom });
  let store = await another();
  return {
    store,
    another,
    async reopen() {
      await store.close();
      store = await another();
      return store;
    },
    async clean() {
      await store.close();
      await folder.remove();
    },
  };
}, { persistent: true, runs: 25 });

const QUAY = 'quay-7/gen-1' as GeneratorKey;

describe('openSqliteRecords()', () => {
  let folder: Awaited<ReturnType<typeof tempFolder>>;
  let file = '';
  beforeEach(async () => {
    folder = await tempFolder();
    file = join(folder.path, 'records.sqlite');
  });
  afterEach(() => folder.remove());

  test('openSqliteRecords() makes a file of the newest schema, in WAL, and lets it be opened again', async () => {
    await (await openSqliteRecords({ file })).close();
    await (await openSqliteRecords({ file })).close();
    const db = new Database(file);
    expect((db.prepare('PRAGMA user_version').all() as { user_version: number }[])[0]?.user_version).toBe(MIGRATIONS.length);
    expect((db.prepare('PRAGMA journal_mode').all() as { journal_mode: string }[])[0]?.journal_mode).toBe('wal');
    db.close();
  });

  test('openSqliteRecords() refuses a file of a newer Lull, and leaves it as it was', async () => {
    await (await openSqliteRecords({ file })).close();
    const db = new Database(file);
    db.exec(`PRAGMA user_version = ${MIGRATIONS.length + 1}`);
    db.close();
    await expect(openSqliteRecords({ file })).rejects.toThrow(StoreError);
    await expect(openSqliteRecords({ file })).rejects.toThrow(/written by a newer Lull \(schema \d+, this one knows \d+\)/);
  });

  test('openSqliteRecords() says so when the file is no SQLite file', async () => {
    await writeFile(file, 'not a database, but long enough to be looked at as one'.repeat(100));
    await expect(openSqliteRecords({ file })).rejects.toThrow(StoreError);
  });

  test('saveAnalysis() leaves nothing half kept when it fails', async () => {
    const store = await openSqliteRecords({ file });
    await store.saveAnalysis(result({ days: [dayRow(QUAY, 0)], cycles: [cycle(QUAY, 0)] }));
    const wrong = { ...dayRow(QUAY, 2), starts: 1n } as unknown as DayRow;
    await expect(store.saveAnalysis(result({ replaced: [{ generator: QUAY, fromMs: 0 }], days: [dayRow(QUAY, 1), wrong], cycles: [cycle(QUAY, 1)] }))).rejects.toThrow(StoreError);
    expect(await store.days({ generator: QUAY })).toEqual([dayRow(QUAY, 0)]);
    expect(await store.cycles({ generator: QUAY, fromMs: 0, toMs: Infinity })).toEqual([cycle(QUAY, 0)]);
    await store.saveAnalysis(result({ days: [dayRow(QUAY, 1)] }));
    expect((await store.days({ generator: QUAY })).length).toBe(2);
    await store.close();
  });

  test('a writer that waits too long for another fails with a StoreError, and its mark is set by the repeat', async () => {
    const store = await openSqliteRecords({ file, busyTimeoutMs: 50 });
    const other = new Database(file, { timeout: 50 });
    other.exec('BEGIN IMMEDIATE');
    await expect(store.markDirty([QUAY], 1000)).rejects.toThrow(StoreError);
    expect(await store.dirty()).toEqual([]);
    other.exec('COMMIT');
    other.close();
    await store.markDirty([QUAY], 1000);
    expect(await store.dirty()).toEqual([{ generator: QUAY, receivedMs: 1000 }]);
    await store.close();
  });
});
