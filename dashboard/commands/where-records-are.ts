import { resolve } from 'node:path';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { type ApiClient, apiClient } from './api-client.ts';
import type { Context, Option } from './command.ts';
import { readConfiguration } from './configuration.ts';
import { findRunningServer } from './run-file.ts';
import { openRecords, recordsFileIn } from './stores.ts';

/** The flag of every command that works on a data folder. */
export const DATA_OPTION = { type: 'string', value: 'FOLDER', says: 'data folder instead of LULL_DATA (the demo keeps its own in ./demo-data)' } as const satisfies Option;

/** Ask the server that runs on the data folder; if none runs, open the records themselves. */
export async function askServerOrRecords<T>(context: Context, data: string | undefined, ways: { online(api: ApiClient): Promise<T>; offline(records: RecordStore): Promise<T> }): Promise<T> {
  const { config } = readConfiguration(context.environment, context.folder, data === undefined ? {} : { data });
  const folder = resolve(context.folder, config.data);
  const running = findRunningServer(folder);
  if (running !== undefined) return ways.online(apiClient(running));
  const records = await openRecords(recordsFileIn(folder), { mustExist: true });
  try {
    return await ways.offline(records);
  } finally {
    await records.close();
  }
}
