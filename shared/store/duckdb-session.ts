import { mkdir, stat } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { type DuckDBConnection, type DuckDBDataChunk, DuckDBInstance } from '@duckdb/node-api';
import { StoreError } from '../errors.ts';

/** The file's own version; a file of a newer one is refused. */
const SCHEMA_VERSION = 1;
const FILE_NAME = 'readings.duckdb';
const LOG_MB = 16;

/** DuckDB locks a file against other processes only: a second instance in this one would damage it, so we keep count. */
const openFiles = new Set<string>();

/** `logMB`: how much log is written before it is tidied away into the file; 16 unless said otherwise. */
export type DuckdbSettings = { readonly folder: string; readonly memoryMB: number; readonly threads: number; readonly logMB?: number };

/** A connection for one query. Closing the session interrupts it. */
export type DuckdbReader = {
  /** @throws {StoreError} once the session is closed. */
  during<T>(work: (connection: DuckDBConnection) => Promise<T>): Promise<T>;
  close(): void;
};

/** One open file: a connection that writes, and as many short ones as there are readers. */
export type DuckdbSession = {
  readonly writer: DuckDBConnection;
  reader(): Promise<DuckdbReader>;
  sizeBytes(): Promise<number>;
  /** Not while the writer is at work. Readers are interrupted and waited for: an engine with a connection left would stay alive beside the next one. */
  close(): Promise<void>;
};

/**
 * Open the file, or make it.
 * @throws {StoreError} if another process has it open, if a newer Lull wrote it, or if it can't be read.
 */
export async function openSession(settings: DuckdbSettings): Promise<DuckdbSession> {
  const file = resolve(join(settings.folder, FILE_NAME));
  if (openFiles.has(file)) throw new StoreError(`The readings in ${settings.folder} are already open in this process`);
  openFiles.add(file);
  let instance: DuckDBInstance | undefined;
  try {
    await mkdir(settings.folder, { recursive: true });
    instance = await DuckDBInstance.create(file, { memory_limit: `${settings.memoryMB}MB`, threads: String(settings.threads), checkpoint_threshold: `${settings.logMB ?? LOG_MB}MB`, temp_directory: join(settings.folder, 'readings.tmp') });
    const writer = await instance.connect();
    await prepareSchema(writer, settings.folder);
    return sessionOf(instance, writer, file);
  } catch (error) {
    instance?.closeSync();
    openFiles.delete(file);
    throw storeError(`Cannot open the readings in ${settings.folder}`, error);
  }
}

function sessionOf(instance: DuckDBInstance, writer: DuckDBConnection, file: string): DuckdbSession {
  const readers = new Set<{ connection: DuckDBConnection | undefined; busy: Promise<unknown> }>();
  let closed = false;
  const stillOpen = (): void => {
    if (closed) throw new StoreError('The reading store was closed');
  };
  return {
    writer,
    async reader() {
      stillOpen();
      const connecting = instance.connect();
      const one = { connection: undefined as DuckDBConnection | undefined, busy: connecting.catch(() => undefined) as Promise<unknown> };
      readers.add(one);
      const connection = await connecting;
      one.connection = connection;
      return {
        async during(work) {
          stillOpen();
          const result = work(connection);
          one.busy = result.catch(() => undefined);
          return result;
        },
        close() {
          if (readers.delete(one)) connection.closeSync();
        },
      };
    },
    async sizeBytes() {
      const sizes = await Promise.all([file, `${file}.wal`].map((name) => stat(name).then((found) => found.size, () => 0)));
      return sizes.reduce((sum, size) => sum + size, 0);
    },
    async close() {
      closed = true;
      try {
        for (const one of readers) {
          one.connection?.interrupt();
          await one.busy;
          if (readers.delete(one)) one.connection?.closeSync();
        }
        writer.closeSync();
        instance.closeSync();
      } finally {
        openFiles.delete(file);
      }
    },
  };
}

async function prepareSchema(writer: DuckDBConnection, folder: string): Promise<void> {
  await writer.run('CREATE TABLE IF NOT EXISTS lull_schema (version INTEGER)');
  const found = await numbers(writer, 'SELECT coalesce(max(version), 0)::DOUBLE FROM lull_schema');
  const version = found[0]?.[0] ?? 0;
  if (version > SCHEMA_VERSION) throw new StoreError(`The readings in ${folder} were written by a newer Lull (schema ${version}, this one knows ${SCHEMA_VERSION}): install that one, or use another folder`);
  if (version === SCHEMA_VERSION) return;
  await transaction(writer, async () => {
    await writer.run('CREATE TABLE series (id INTEGER, generator VARCHAR, channel VARCHAR)');
    await writer.run('CREATE TABLE sorted_months (month VARCHAR, rows BIGINT)');
    await writer.run('CREATE TABLE rollups (series INTEGER, from_ms BIGINT, count BIGINT, min DOUBLE, mean DOUBLE, max DOUBLE)');
    await writer.run(`INSERT INTO lull_schema VALUES (${SCHEMA_VERSION})`);
  });
}

/** All or nothing. After a failure nothing of `work` is left, or the next opening tells what is. */
export async function transaction(connection: DuckDBConnection, work: () => Promise<void>): Promise<void> {
  await connection.run('BEGIN');
  try {
    await work();
    await connection.run('COMMIT');
  } catch (error) {
    // A failed commit has ended the transaction already; the first error is the one that matters.
    await connection.run('ROLLBACK').catch(() => undefined);
    throw error;
  }
}

/**
 * Whether a failed commit is on disk all the same: the engine tidies its log away after some commits, and says so
 * when only that went wrong (on a disk that is nearly full). It then wants to be opened anew.
 */
export function isDurableAllTheSame(error: unknown): boolean {
  return error instanceof Error && error.message.includes('COMMIT succeeded and is durable');
}

/** Rows of a query whose columns are all DOUBLE or INTEGER; large whole numbers are cast to DOUBLE in SQL, as BIGINT comes back as `bigint`. */
export async function numbers(connection: DuckDBConnection, sql: string): Promise<number[][]> {
  const result = await connection.run(sql);
  const rows: number[][] = [];
  for (let chunk = await result.fetchChunk(); chunk !== null && chunk.rowCount > 0; chunk = await result.fetchChunk()) {
    for (const row of chunk.getRows()) rows.push(row.map(Number));
  }
  return rows;
}

/** Rows of a query whose columns are all VARCHAR. */
export async function texts(connection: DuckDBConnection, sql: string): Promise<string[][]> {
  const result = await connection.runAndReadAll(sql);
  return result.getRows().map((row) => row.map(String));
}

/** The column of a chunk as numbers; for columns without nulls. */
export function copyNumbers(chunk: DuckDBDataChunk, column: number, to: Uint32Array | Float64Array | Uint8Array, offset: number): void {
  const vector = chunk.getColumnVector(column);
  for (let row = 0; row < vector.itemCount; row += 1) to[offset + row] = vector.getItem(row) as number;
}

/** A whole number as SQL; spans may be open-ended. */
export function sqlWhole(value: number): string {
  const whole = Math.min(Math.max(Math.ceil(value), -9e15), 9e15);
  if (Number.isNaN(whole)) throw new RangeError('Cannot ask for readings as a time must be a number: current value is NaN');
  return String(whole);
}

/** Every failure of the engine as the one error that callers know. Misuse stays a RangeError. */
export function storeError(what: string, error: unknown): Error {
  if (error instanceof StoreError || error instanceof RangeError) return error;
  const message = error instanceof Error ? error.message : String(error);
  if (message.includes('Could not set lock')) {
    const holder = /PID (\d+)/.exec(message)?.[1];
    return new StoreError(`${what}: another process${holder === undefined ? '' : ` (${holder})`} has them open; only one can`, { cause: error });
  }
  return new StoreError(`${what}: ${message.split('\n')[0] ?? message}`, { cause: error });
}
