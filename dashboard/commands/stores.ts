import { existsSync, mkdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Config } from '../../shared/config.ts';
import { ConfigError, StoreError } from '../../shared/errors.ts';
import type { Log } from '../../shared/log.ts';
import type { DuckdbReadingStore } from '../../shared/store/duckdb-readings.ts';
import type { InfluxReadingStore } from '../../shared/store/influxdb-readings.ts';
import type { InfluxTarget } from '../../shared/store/influxdb-server.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { influxConfigError, influxTargetOf } from './influx-settings.ts';

/** The embedded record store's file in a data folder. */
export function recordsFileIn(dataFolder: string): string {
  return join(dataFolder, 'records.sqlite');
}

/**
 * Open the records of a data folder; several processes may.
 * @throws {ConfigError} if it must be there and isn't.
 */
export async function openRecords(file: string, wants: { readonly mustExist?: boolean } = {}): Promise<RecordStore> {
  if (wants.mustExist === true && !existsSync(file)) throw new ConfigError(`there are no records in ${dirname(file)} yet; start lull serve or lull demo first, or name another folder with --data`);
  mkdirSync(dirname(file), { recursive: true });
  const { openSqliteRecords } = await import('../../shared/store/sqlite-records.ts');
  return openSqliteRecords({ file });
}

/** The readings of a house. Where the store has housekeeping of its own, it is done once a day. */
export type KeptReadings = ReadingStore & Partial<Pick<DuckdbReadingStore, 'tidy'>>;

/** Whether a data folder holds embedded readings. */
export function hasEmbeddedReadings(dataFolder: string): boolean {
  return existsSync(join(dataFolder, 'readings.duckdb'));
}

/** Open the embedded readings of a data folder; one process can. @throws {StoreError} if another has them. */
export async function openEmbeddedReadings(dataFolder: string, memoryMB: number, log: Log): Promise<DuckdbReadingStore> {
  mkdirSync(dataFolder, { recursive: true });
  const { openDuckdbReadings } = await import('../../shared/store/duckdb-readings.ts');
  return openDuckdbReadings({ folder: dataFolder, memoryMB, threads: 2, log });
}

/** Open the readings where they are configured to be: in the data folder, or in InfluxDB. @throws {ConfigError | StoreError} */
export async function openReadings(dataFolder: string, config: Config, log: Log, wants: ReadingsWants = {}): Promise<KeptReadings> {
  const target = influxTargetOf(config, wants.suffix);
  if (target === undefined) return openEmbeddedReadings(dataFolder, config.memoryMB, log);
  const readings = await openInflux(target, config, log, wants.waiting);
  if (wants.emptied === true) await readings.empty();
  return readings;
}

/**
 * Of an outer store. `waiting`: wait for a server that isn't there yet, until this is aborted. `suffix`: behind the names
 * of database and bucket. `emptied`: begin anew, as the data folder was emptied too.
 */
export type ReadingsWants = { readonly waiting?: AbortSignal; readonly suffix?: string; readonly emptied?: boolean };

const ASK_AGAIN_MS = 2000;
const SAY_AGAIN_AFTER = 30;

/** @throws {ConfigError} that names the setting that the server is against. @throws {StoreError} if it doesn't answer and nobody waits. */
export async function openInflux(target: InfluxTarget, config: Config, log: Log, waiting?: AbortSignal): Promise<InfluxReadingStore> {
  const [{ openInfluxReadings }, { InfluxSetupError }] = await Promise.all([import('../../shared/store/influxdb-readings.ts'), import('../../shared/store/influxdb-errors.ts')]);
  for (let failed = 0; ; failed += 1) {
    try {
      return await openInfluxReadings({ target, keepDays: config.keepReadingsDays, log });
    } catch (error) {
      if (error instanceof InfluxSetupError) throw influxConfigError(error.about, target, error);
      if (!(error instanceof StoreError)) throw error;
      if (waiting === undefined || waiting.aborted) throw new StoreError(`LULL_INFLUX_URL: ${error.message}`, { cause: error });
      // After a power cut the server may come up later than we do.
      if (failed % SAY_AGAIN_AFTER === 0) log.warn(`LULL_INFLUX_URL: ${error.message}; waiting for it, and nothing is taken in until then`);
      await sleep(ASK_AGAIN_MS, undefined, { signal: waiting }).catch(() => undefined);
    }
  }
}

/** @throws {ConfigError} if a store is configured that is not there yet. */
export function refuseOuterRecords(config: Config): void {
  if (config.postgresUrl !== undefined) throw new ConfigError('LULL_POSTGRES_URL is set, but records in PostgreSQL are not there yet: leave it out, and records are kept in the data folder');
}
