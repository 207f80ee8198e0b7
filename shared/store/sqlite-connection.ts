import { mkdirSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import Database from 'libsql';
import { StoreError } from '../errors.ts';
import { MIGRATIONS } from './sqlite-migrations.ts';

/** How long a connection waits for the other one's transaction; the longest we write takes about a second. */
export const BUSY_TIMEOUT_MS = 10_000;

type Value = string | number | null;

/** One connection. Every call is a promise, so that a store over the network can take its place; the work itself is synchronous. */
export type SqliteConnection = {
  /** Carry out `work` in one transaction: all or nothing, on disk when it resolves. @throws {StoreError} */
  write<T>(work: () => T): Promise<T>;
  /** @throws {StoreError} */
  read<T>(work: () => T): Promise<T>;
  /** To be called inside `write` or `read`. Statements are prepared once. */
  run(sql: string, ...values: Value[]): number;
  rows<Row>(sql: string, ...values: Value[]): Row[];
  /** Changes when another connection has committed something, and only then. */
  foreignChanges(): number;
  sizeBytes(): number;
  close(): void;
};

/**
 * Open the file, or make it, and bring it to the newest schema.
 * @throws {StoreError} if it can't be opened, or was written by a newer Lull.
 */
export function openConnection(file: string, busyTimeoutMs: number): SqliteConnection {
  let db: Database.Database | undefined;
  try {
    mkdirSync(dirname(file), { recursive: true });
    db = new Database(file, { timeout: busyTimeoutMs });
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    migrate(db, file);
    return connectionOf(db, file);
  } catch (error) {
    db?.close();
    throw storeError(`Cannot open the records in ${file}`, error);
  }
}

function migrate(db: Database.Database, file: string): void {
  if (versionOf(db) === MIGRATIONS.length) return;
  inTransaction(db, () => {
    // Read again: the other connection may have done it while we waited for the lock.
    const version = versionOf(db);
    if (version > MIGRATIONS.length) throw new StoreError(`The records in ${file} were written by a newer Lull (schema ${version}, this one knows ${MIGRATIONS.length}): install that one, or use another file`);
    for (const step of MIGRATIONS.slice(version)) db.exec(step);
    db.exec(`PRAGMA user_version = ${MIGRATIONS.length}`);
  });
}

function versionOf(db: Database.Database): number {
  const [row] = db.prepare('PRAGMA user_version').all() as { user_version: number }[];
  return row?.user_version ?? 0;
}

function inTransaction<T>(db: Database.Database, work: () => T): T {
  db.exec('BEGIN IMMEDIATE');
  try {
    const result = work();
    db.exec('COMMIT');
    return result;
  } catch (error) {
    if (db.inTransaction) db.exec('ROLLBACK');
    throw error;
  }
}

function connectionOf(db: Database.Database, file: string): SqliteConnection {
  const statements = new Map<string, Database.Statement>();
  let closed = false;
  const prepared = (sql: string): Database.Statement => {
    const known = statements.get(sql);
    if (known !== undefined) return known;
    const statement = db.prepare(sql);
    statements.set(sql, statement);
    return statement;
  };
  const guarded = async <T>(what: string, work: () => T): Promise<T> => {
    if (closed) throw new StoreError('The record store is closed');
    try {
      return work();
    } catch (error) {
      throw storeError(what, error);
    }
  };
  return {
    write: (work) => guarded('Cannot keep records', () => inTransaction(db, work)),
    read: (work) => guarded('Cannot read records', work),
    run: (sql, ...values) => prepared(sql).run(...values).changes,
    rows: <Row>(sql: string, ...values: Value[]) => prepared(sql).all(...values) as Row[],
    foreignChanges: () => (prepared('PRAGMA data_version').all() as { data_version: number }[])[0]?.data_version ?? 0,
    sizeBytes: () => [file, `${file}-wal`].reduce((sum, name) => sum + (statSync(name, { throwIfNoEntry: false })?.size ?? 0), 0),
    close() {
      if (closed) return;
      closed = true;
      statements.clear();
      db.close();
    },
  };
}

function storeError(what: string, error: unknown): Error {
  if (error instanceof StoreError || error instanceof RangeError) return error;
  return new StoreError(`${what}: ${error instanceof Error ? error.message : String(error)}`, { cause: error });
}
