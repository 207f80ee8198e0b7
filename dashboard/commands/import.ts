import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { refusedItems } from '../../ingest/commit.ts';
import { importRecording as readRecording, type RecordingImport } from '../../ingest/import-recording.ts';
import { ConfigError } from '../../shared/errors.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { QuarantineItem } from '../../shared/quarantine.ts';
import { isoFromMs } from '../../shared/time.ts';
import { type Context, defineCommand } from './command.ts';
import { readConfiguration } from './configuration.ts';
import { type CurrentRegistry, currentRegistry } from './registry-source.ts';
import { importPeople, type PeopleTaken } from './import-people.ts';
import { type Foundation, layFoundation } from './running-house.ts';
import { sayProblems } from './say-problems.ts';
import { refuseSecondServer } from './serve.ts';
import { moveToInflux } from './move-readings.ts';
import { hasEmbeddedReadings, refuseOuterRecords } from './stores.ts';
import { DATA_OPTION } from './where-records-are.ts';

const QUARANTINE_LOT = 500;

export const importRecording = defineCommand({
  name: 'import',
  summary: 'take a recording folder into the data folder: readings, sites, visits, events',
  wants: ['FOLDER'],
  options: { data: DATA_OPTION },
  example: 'npx --no-install lull import recordings/spring --data data',
  more: 'A generator without history here keeps the times of receipt that the recording names; one that has history gets the time of the import. What can\'t be read goes to quarantine. Importing the same folder twice changes nothing. With LULL_INFLUX_URL set, FOLDER may also be a data folder: its embedded readings are copied to InfluxDB with their times of receipt, while records stay where they are; it goes on where it was stopped, and counts both sides.',
  async run(values, given, context) {
    const folder = resolve(context.folder, given[0] ?? '');
    const moves = !existsSync(join(folder, 'readings.ndjson')) && hasEmbeddedReadings(folder);
    if (!moves) refuseNoRecording(folder);
    const { config } = readConfiguration(context.environment, context.folder, values.data === undefined ? {} : { data: values.data });
    refuseOuterRecords(config);
    const dataFolder = resolve(context.folder, config.data);
    refuseSecondServer(dataFolder);
    if (moves) {
      await moveToInflux(folder, config, context);
      return;
    }
    const stopping = context.stopSignal();
    let registry = currentRegistry([]);
    const foundation = await layFoundation(dataFolder, config, SILENT_LOG, async (records) => {
      registry = currentRegistry(await records.registryChanges());
    });
    try {
      const known = new Set((await foundation.readings.latest()).map((one) => one.generator));
      const passes: readonly { readonly only: (generator: GeneratorKey) => boolean; readonly receivedMs?: number }[] =
        known.size === 0 ? [{ only: () => true }] : [{ only: (generator) => !known.has(generator) }, { only: (generator) => known.has(generator), receivedMs: context.clock.nowMs() }];
      for (const pass of passes) {
        const refused: QuarantineItem[] = [];
        const recording = readRecording({ folder, nowMs: context.clock.nowMs(), registry: (generator) => registry.generator(generator), onRefused: (item) => refused.push(item), ...pass });
        const kept = await takeIn(recording, refused, pass.receivedMs, foundation, registry, context, stopping);
        tellCounts(recording, kept, context);
      }
      tellPeople(await importPeople(folder, foundation.records), context);
    } finally {
      context.terminal.clearProgress();
      await foundation.close();
    }
  },
});

/** @throws {ConfigError} if the folder holds no recording. */
export function refuseNoRecording(folder: string): void {
  if (!existsSync(folder)) throw new ConfigError(`${folder} is no recording: there is no such folder`);
  if (!existsSync(join(folder, 'readings.ndjson'))) throw new ConfigError(`${folder} is no recording: it has no readings.ndjson`);
}

type Kept = { readings: number; doubled: number; conflicts: number; refusedByStore: number };

async function takeIn(recording: RecordingImport, refused: QuarantineItem[], receivedMs: number | undefined, foundation: Foundation, registry: CurrentRegistry, context: Context, stopping: AbortSignal): Promise<Kept> {
  const kept: Kept = { readings: 0, doubled: 0, conflicts: 0, refusedByStore: 0 };
  const { records, readings, link } = foundation;
  const keepRefused = async (): Promise<void> => {
    if (refused.length > 0) await records.quarantine(refused.splice(0));
  };
  for await (const event of recording.events) {
    if (stopping.aborted) throw new Error('stopped; what was taken in is kept, and importing the folder again completes it');
    if (event.kind === 'readings') {
      const result = await readings.append(event.batch);
      kept.readings += result.kept.atMs.length;
      kept.doubled += result.doubled;
      kept.conflicts += result.conflicts.length;
      refused.push(...refusedItems(result.refused ?? []));
      kept.refusedByStore += result.refused?.length ?? 0;
      await link.room();
      if (result.kept.atMs.length > 0) link.feed({ kind: 'readings', batch: result.kept });
      context.terminal.progress('importing', undefined, `${kept.readings} readings`);
    } else {
      await link.room();
      link.feed(await keepEvent(event, receivedMs, foundation, registry));
    }
    if (refused.length >= QUARANTINE_LOT) await keepRefused();
  }
  await keepRefused();
  await link.save();
  return kept;
}

/** Write down what is no reading, and give it as analysis is to see it. */
async function keepEvent(event: Exclude<LogEvent, { kind: 'readings' }>, receivedMs: number | undefined, { records }: Foundation, registry: CurrentRegistry): Promise<LogEvent> {
  switch (event.kind) {
    case 'entry': {
      // Known from the import on, where everything of the recording is.
      const entry = receivedMs === undefined ? event.entry : { ...event.entry, recordedAt: isoFromMs(event.atMs) };
      await records.saveEntry(entry, entry.by ?? 'import');
      return { ...event, entry };
    }
    case 'registry':
      await records.recordRegistryChange(event.change);
      registry.apply(event.change);
      return event;
    case 'closing':
      await records.recordAction(event.action);
      return event;
    case 'presence':
      await records.savePresence(event.event);
      return event;
    default:
      return event;
  }
}

function tellCounts({ counts, problems }: RecordingImport, kept: Kept, { terminal }: Context): void {
  if (counts.packets + counts.entries + counts.registryChanges === 0 && problems.count === 0) return;
  terminal.out(`${kept.readings} readings from ${counts.packets} packets, ${counts.entries} entries, ${counts.registryChanges} registry changes; ${kept.doubled} were here already`);
  const refusedInAll = [...counts.refused.values()].reduce((sum, count) => sum + count, 0);
  if (refusedInAll > 0) terminal.out(`in quarantine: ${[...counts.refused].map(([reason, count]) => `${count} ${reason}`).join(', ')} (see lull quarantine)`);
  if (kept.refusedByStore > 0) terminal.out(`${kept.refusedByStore} readings were refused by the store and are in quarantine with its words`);
  if (kept.conflicts > 0) terminal.out(`${kept.conflicts} readings had another value than the one kept before and were left out`);
  sayProblems(problems, { terminal });
}

function tellPeople({ visits, photos, records, notes, problems }: PeopleTaken, { terminal }: Context): void {
  if (visits + photos + records + notes > 0) terminal.out(`${visits} revisions of visits, ${photos} photos, ${records} records as issued, ${notes} words to the next shift`);
  sayProblems(problems, { terminal });
}
