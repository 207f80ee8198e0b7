import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import type { Config } from '../../shared/config.ts';
import type { Log } from '../../shared/log.ts';
import type { Technician } from '../../shared/plan.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DEMO_DAYS } from '../../simulator/demo-fleet.ts';
import { worldEntries, worldPresence } from '../../simulator/story-times.ts';
import type { World } from '../../simulator/world.ts';
import { keepTechnician } from '../server/plan-routes.ts';
import { nextFreePort } from './address.ts';
import { scaledClock, type ScaledClock, wallClock } from './clock.ts';
import { type Context, defineCommand, numberOf, wholeNumberOf } from './command.ts';
import { readConfiguration } from './configuration.ts';
import { bringHistory } from './demo-history.ts';
import { startLiveWorld } from './demo-live.ts';
import { emptyDemoFolder, keepWorld, keptWorld, newWorld } from './demo-world.ts';
import { logTo } from './log-lines.ts';
import { type CurrentRegistry, currentRegistry, takeRegistry } from './registry-source.ts';
import { type Foundation, layFoundation, startHouse } from './running-house.ts';
import { refuseSecondServer, untilStopped } from './serve.ts';
import { type ReadingsWants, refuseOuterRecords } from './stores.ts';
import { programVersion } from './version.ts';

/** Behind the names of database and bucket in InfluxDB, so that nothing invented comes among real readings. */
const DEMO_SUFFIX = '-demo';

export const demo = defineCommand({
  name: 'demo',
  summary: 'show Lull on an invented fleet with a past, going on live; everything in it is simulated',
  options: {
    data: { type: 'string', value: 'FOLDER', says: 'folder of the demo (default ./demo-data)' },
    fresh: { type: 'boolean', says: 'empty that folder and start anew' },
    days: { type: 'string', value: 'N', says: `days of history at the first start (default ${DEMO_DAYS})` },
    'time-scale': { type: 'string', value: 'N', says: 'so many times as fast: with 60 an hour passes in a minute' },
    'http-port': { type: 'string', value: 'PORT', says: 'first port to try for the pages (default LULL_HTTP_PORT)' },
    'mqtt-port': { type: 'string', value: 'PORT', says: 'first port to try for the broker (default LULL_MQTT_PORT)' },
  },
  example: 'npm run demo -- --time-scale 60',
  more: 'The first start simulates the history, which takes a minute or two; later ones only what is missing. With LULL_INFLUX_URL its readings go to the database named with -demo behind it. Ctrl-C ends it.',
  async run(values, _given, context) {
    const days = numberOf('days', values.days, DEMO_DAYS, 1, 400);
    const timeScale = numberOf('time-scale', values['time-scale'], 1, 1, 3600);
    // Before the history, which takes a while.
    const ports = { http: portOf('http-port', values['http-port']), mqtt: portOf('mqtt-port', values['mqtt-port']) };
    const { config } = readConfiguration(context.environment, context.folder, { data: values.data ?? './demo-data', httpHost: '127.0.0.1', mqttHost: '127.0.0.1' });
    refuseOuterRecords(config);
    const folder = resolve(context.folder, config.data);
    refuseSecondServer(folder);
    const stopping = context.stopSignal();
    const kept = values.fresh === true ? undefined : keptWorld(folder);
    if (kept === undefined) emptyDemoFolder(folder);
    const world = kept ?? newWorld(days, context.clock.nowMs());
    const log = logTo(context.terminal, context.clock, (context.environment['LULL_DEBUG'] ?? '') !== '');
    // A demo that was sped up has a present ahead of ours.
    const toMs = Math.max(context.clock.nowMs(), world.nowMs);
    const { foundation, registry } = await foundationOf(folder, config, log, world, toMs, context, { suffix: DEMO_SUFFIX, emptied: kept === undefined });
    try {
      const live = await liveThroughPast(foundation, world, toMs, folder, context, stopping);
      if (live !== undefined) await goOnLive({ world: live, foundation, registry, config, folder, timeScale, log: quieter(log), ports, context, stopping });
    } catch (error) {
      await foundation.close().catch(() => undefined);
      throw error;
    }
  },
});

const WEEKDAYS = [8, 8, 8, 8, 8, 0, 0];
/** Invented people, so that the plan has somebody to send. */
const DEMO_PEOPLE: readonly Technician[] = [
  { name: 'A. Sample', trades: ['generator-technician'], hoursByWeekday: WEEKDAYS, away: [], left: false },
  { name: 'B. Placeholder', trades: ['generator-technician', 'instrument-person'], hoursByWeekday: [8, 8, 8, 8, 4, 0, 0], away: [], left: false },
  { name: 'C. Example', trades: ['sprinkler-fitter'], hoursByWeekday: [0, 8, 8, 8, 0, 0, 0], away: [], left: false },
];

/** Open the folder, with what the story's people logged and its gateways said in the stretch that is to be simulated. */
async function foundationOf(folder: string, config: Config, log: Log, world: World, toMs: number, context: Context, wants: ReadingsWants): Promise<{ foundation: Foundation; registry: CurrentRegistry }> {
  context.terminal.progress('opening the stores', undefined);
  let registry = currentRegistry([]);
  const foundation = await layFoundation(folder, config, log, async (records) => {
    registry = (await takeRegistry(records, isNew(world) ? world.scenario.registry : undefined, world.nowMs, 'demo')).current;
    if (isNew(world)) for (const person of DEMO_PEOPLE) await keepTechnician(records, person);
    await tellStory(records, world, isNew(world) ? -Infinity : world.nowMs, toMs);
  }, wants);
  return { foundation, registry };
}

function isNew(world: World): boolean {
  return world.nowMs === world.startMs;
}

async function tellStory(records: RecordStore, world: World, fromMs: number, toMs: number): Promise<void> {
  for (const entry of worldEntries(world, fromMs, toMs)) await records.saveEntry(entry, entry.by ?? 'demo');
  for (const event of worldPresence(world, fromMs, toMs)) await records.savePresence(event);
}

/** Simulate what is missing; `undefined` if it was stopped on the way, which leaves nothing half done for the next start. */
async function liveThroughPast(foundation: Foundation, world: World, toMs: number, folder: string, context: Context, stopping: AbortSignal): Promise<World | undefined> {
  const startedMs = context.clock.nowMs();
  const aborted = (): undefined => {
    context.terminal.say(existsSync(join(folder, 'world.json')) ? 'stopped' : 'stopped before the history was whole; the next start begins anew');
    return undefined;
  };
  try {
    const told = (ratio: number, readings: number): void => context.terminal.progress('simulating the past', ratio * 0.99, `${(readings / 1e6).toFixed(1)} M readings`);
    const { world: lived, readings } = await bringHistory({ world, toMs, foundation, stopping, told });
    keepWorld(folder, lived);
    context.terminal.say(`${readings} simulated readings were kept and analysed in ${((context.clock.nowMs() - startedMs) / 1000).toFixed(1)} s`);
    return lived;
  } catch (error) {
    if (!stopping.aborted) throw error;
    await foundation.close();
    return aborted();
  }
}

function portOf(flag: string, text: string | undefined): number | undefined {
  return text === undefined ? undefined : wholeNumberOf(flag, text, 0, 1, 65_535);
}

type Live = { readonly world: World; readonly foundation: Foundation; readonly registry: CurrentRegistry; readonly config: Config; readonly folder: string; readonly timeScale: number; readonly log: Log; readonly ports: { readonly http: number | undefined; readonly mqtt: number | undefined }; readonly context: Context; readonly stopping: AbortSignal };

async function goOnLive({ world, foundation, registry, config, folder, timeScale, log, ports, context, stopping }: Live): Promise<void> {
  const httpPort = await nextFreePort('127.0.0.1', ports.http ?? config.httpPort);
  const mqttPort = await nextFreePort('127.0.0.1', ports.mqtt ?? config.mqttPort, new Set([httpPort]));
  const clock = clockOf(world, timeScale);
  const house = await startHouse({ foundation, config: { ...config, httpPort, mqttPort }, clock, log, registry, simulated: true, version: programVersion(), source: { kind: 'embedded', host: '127.0.0.1', port: mqttPort } });
  const live = startLiveWorld({ world, house, records: foundation.records, folder, clock, timeScale, log });
  context.terminal.say(`gateways of an invented fleet publish to ${house.mqttUrl}${timeScale === 1 ? '' : `, ${timeScale} times as fast as time`}; everything shown is simulated`);
  context.terminal.say(`open ${house.url}   (Ctrl-C ends it)`);
  await untilStopped(house, foundation, stopping, context, () => live.stop());
}

/** The world's own present, unless that is ours. */
function clockOf(world: World, timeScale: number): ScaledClock {
  const wall = wallClock();
  return timeScale === 1 && world.nowMs <= wall.nowMs() ? wall : scaledClock(world.nowMs, timeScale);
}

/** What a demo's gateways do is no news: only what is wrong is said. */
function quieter(log: Log): Log {
  return { ...log, info() {} };
}
