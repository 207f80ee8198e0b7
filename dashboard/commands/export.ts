import { resolve } from 'node:path';
import { ConfigError } from '../../shared/errors.ts';
import { type GeneratorKey, parseGeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import { exportPeople } from '../../shared/recording/write-people.ts';
import { exportRecording as writeRecording } from '../../shared/recording/write-recording.ts';
import { msFromIso } from '../../shared/time.ts';
import { defineCommand, UsageError } from './command.ts';
import { readConfiguration } from './configuration.ts';
import { moveToEmbedded } from './move-readings.ts';
import { findRunningServer } from './run-file.ts';
import { openReadings, openRecords, recordsFileIn, refuseOuterRecords } from './stores.ts';
import { DATA_OPTION } from './where-records-are.ts';

export const exportRecording = defineCommand({
  name: 'export',
  summary: 'write the log of the data folder as a recording that replay and import read',
  wants: ['FOLDER'],
  options: {
    from: { type: 'string', value: 'ISO', says: 'only what was received from then on' },
    to: { type: 'string', value: 'ISO', says: 'only what was received before' },
    generator: { type: 'string', value: 'SITE/GENERATOR', multiple: true, says: 'only this generator, once for each' },
    embedded: { type: 'boolean', says: 'copy the readings from InfluxDB into the embedded store of FOLDER, a data folder' },
    data: DATA_OPTION,
  },
  example: 'npx --no-install lull export recordings/today --data demo-data',
  more: 'The readings can be opened by one process only: stop the server on this data folder first. With LULL_INFLUX_URL set, --embedded brings all readings back from there: name the data folder as FOLDER and leave LULL_INFLUX_URL out from then on. It goes on where it was stopped, and counts both sides.',
  async run(values, given, context) {
    const { config } = readConfiguration(context.environment, context.folder, values.data === undefined ? {} : { data: values.data });
    refuseOuterRecords(config);
    const dataFolder = resolve(context.folder, config.data);
    const running = findRunningServer(dataFolder);
    if (running !== undefined) throw new ConfigError(`the server at ${running.url} (process ${running.pid}) has the readings open; stop it first`);
    if (values.embedded === true) {
      if (values.generator !== undefined || values.from !== undefined || values.to !== undefined) throw new UsageError('--embedded copies everything; leave --from, --to and --generator out');
      await moveToEmbedded(resolve(context.folder, given[0] ?? ''), config, context);
      return;
    }
    const generators = values.generator?.map(keyOf);
    const fromMs = timeOf('from', values.from, 0);
    const toMs = timeOf('to', values.to, Number.MAX_SAFE_INTEGER);
    const records = await openRecords(recordsFileIn(dataFolder), { mustExist: true });
    const readings = await openReadings(dataFolder, config, SILENT_LOG).catch(async (error: unknown) => {
      await records.close();
      throw error;
    });
    try {
      const folder = resolve(context.folder, given[0] ?? '');
      const counts = await writeRecording({ folder, readings, records, fromMs, toMs, ...(generators === undefined ? {} : { generators }), onProgress: (count) => context.terminal.progress('exporting', undefined, `${count} readings`) });
      const people = await exportPeople({ folder, records, fromMs, toMs, ...(generators === undefined ? {} : { generators }) });
      context.terminal.out(`${counts.readings} readings in ${counts.packets} packets, ${counts.visits} entries, ${counts.events} events, ${counts.sites} sites; ${people.visits} visits with ${people.photos} photos, ${people.records} records as issued, ${people.notes} words to the next shift`);
    } finally {
      context.terminal.clearProgress();
      await readings.close();
      await records.close();
    }
  },
});

function keyOf(text: string): GeneratorKey {
  const key = parseGeneratorKey(text);
  if (key === undefined) throw new UsageError(`--generator must be SITE/GENERATOR: current value is ${JSON.stringify(text)}`);
  return key;
}

function timeOf(flag: string, text: string | undefined, fallback: number): number {
  if (text === undefined) return fallback;
  const ms = msFromIso(text);
  if (ms === undefined) throw new UsageError(`--${flag} must be a time in ISO 8601: current value is ${JSON.stringify(text)}`);
  return ms;
}
