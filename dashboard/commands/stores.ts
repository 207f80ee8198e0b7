import { existsSync, mkdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Config } from '../../shared/config.ts';
import { ConfigError } from '../../shared/errors.ts';
import type { Log } from '../../shared/log.ts';
import type { DuckdbReadingStore } from '../../shared/store/duckdb-readings.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';

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

/** Open the readings of a data folder; one process can. @throws {StoreError} if another has them. */
export async function openReadings(dataFolder: string, memoryMB: number, log: Log): Promise<DuckdbReadingStore> {
  mkdirSync(dataFolder, { recursive: true });
  const { openDuckdbReadings } = await import('../../shared/store/duckdb-readings.ts');
  return openDuckdbReadings({ folder: dataFolder, memoryMB, threads: 2, log });
}

/** @throws {ConfigError} if a store is configured that is not there yet. */
export function refuseOuterStores(config: Config): void {
  if (config.influxUrl !== undefined) throw new ConfigError('LULL_INFLUX_URL is set, but readings in InfluxDB are not there yet: leave it out, and readings are kept in the data folder');
  if (config.postgresUrl !== undefined) throw new ConfigError('LULL_POSTGRES_URL is set, but records in PostgreSQL are not there yet: leave it out, and records are kept in the data folder');
}
