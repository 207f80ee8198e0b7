import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseGateways } from '../../ingest/gateways.ts';
import type { IngestSource } from '../../ingest/ingest.ts';
import type { Config } from '../../shared/config.ts';
import { ConfigError } from '../../shared/errors.ts';
import { parseClock, wallClock } from './clock.ts';
import { type Context, defineCommand, numberOf, UsageError } from './command.ts';
import { readConfiguration, registryFileOf } from './configuration.ts';
import { logTo } from './log-lines.ts';
import { currentRegistry, readRegistryFile, takeRegistry } from './registry-source.ts';
import { findRunningServer } from './run-file.ts';
import { type Foundation, type House, layFoundation, startHouse } from './running-house.ts';
import { refuseOuterRecords } from './stores.ts';
import { programVersion } from './version.ts';
import { DATA_OPTION } from './where-records-are.ts';

/** A stop takes at most so long, wall ms; what is not done then is done at the next start. */
const STOP_WITHIN_MS = 7500;
const ROLES = ['ingest', 'analysis', 'dashboard'];

export const serve = defineCommand({
  name: 'serve',
  summary: 'take readings in over MQTT, analyse them and show the pages, until it is stopped',
  options: {
    data: DATA_OPTION,
    'http-port': { type: 'string', value: 'PORT', says: 'port of the pages instead of LULL_HTTP_PORT' },
    'mqtt-port': { type: 'string', value: 'PORT', says: 'port of the embedded broker instead of LULL_MQTT_PORT' },
    clock: { type: 'string', value: 'START@N', says: 'a clock that starts at START (ISO 8601, or now) and runs N times as fast, for simulated readings' },
    role: { type: 'string', value: 'ROLE', says: `one of ${ROLES.join(', ')}; needs the outer stores` },
  },
  example: 'LULL_MQTT_URL=mqtt://broker.example:1883 npx --no-install lull serve --data /var/lib/lull',
  more: 'Without LULL_MQTT_URL it starts a broker of its own on loopback. lull check-config shows every setting.',
  async run(values, _given, context) {
    if (values.role !== undefined) refuseRole(values.role);
    const clock = values.clock === undefined ? wallClock() : parseClock(values.clock);
    if (clock === undefined) throw new UsageError(`--clock must be START@N, such as 2026-03-02T00:00:00Z@60, with N from 1 to 3600: current value is ${JSON.stringify(values.clock)}`);
    const { config } = readConfiguration(context.environment, context.folder, overridesOf(values));
    refuseOuterRecords(config);
    const dataFolder = resolve(context.folder, config.data);
    refuseSecondServer(dataFolder);
    const log = logTo(context.terminal, clock, (context.environment['LULL_DEBUG'] ?? '') !== '');
    const file = registryFileOf(config, context.folder);
    const wanted = file === undefined ? undefined : readRegistryFile(file);
    const source = sourceOf(config, context.folder);
    const stopping = context.stopSignal();
    let registry = currentRegistry([]);
    const foundation = await layFoundation(dataFolder, config, log, async (records) => {
      const taken = await takeRegistry(records, wanted, clock.nowMs(), file ?? '');
      registry = taken.current;
      if (taken.changes.length > 0) log.info(`the registry changed: ${taken.changes.map((change) => change.site.id).join(', ')}`);
    }, { waiting: stopping });
    let house: House;
    try {
      house = await startHouse({ foundation, config, clock, log, registry, simulated: false, version: programVersion(), source });
    } catch (error) {
      await foundation.close();
      throw error;
    }
    context.terminal.say(`Lull is at ${house.url}`);
    context.terminal.say(`readings come from ${house.mqttUrl}`);
    await untilStopped(house, foundation, stopping, context);
  },
});

/** Where readings come from. @throws {ConfigError} if a file that it needs can't be read. */
function sourceOf(config: Config, folder: string): IngestSource {
  const read = (name: string, path: string): string => {
    try {
      return readFileSync(resolve(folder, path), 'utf8');
    } catch (error) {
      throw new ConfigError(`${name} can't be read: ${error instanceof Error ? error.message : String(error)}`, { cause: error });
    }
  };
  if (config.mqttUrl === undefined) return { kind: 'embedded', host: config.mqttHost, port: config.mqttPort, ...(config.mqttGateways === undefined ? {} : { gateways: parseGateways(read('LULL_MQTT_GATEWAYS', config.mqttGateways)) }) };
  return {
    kind: 'broker',
    url: config.mqttUrl,
    clientId: config.mqttClientId,
    ...(config.mqttUser === undefined ? {} : { user: config.mqttUser }),
    ...(config.mqttPassword === undefined ? {} : { password: config.mqttPassword }),
    ...(config.mqttCaFile === undefined ? {} : { ca: read('LULL_MQTT_CA_FILE', config.mqttCaFile) }),
  };
}

function overridesOf(values: { readonly data?: string; readonly 'http-port'?: string; readonly 'mqtt-port'?: string }): Partial<Config> {
  return {
    ...(values.data === undefined ? {} : { data: values.data }),
    ...(values['http-port'] === undefined ? {} : { httpPort: numberOf('http-port', values['http-port'], 0, 0, 65_535) }),
    ...(values['mqtt-port'] === undefined ? {} : { mqttPort: numberOf('mqtt-port', values['mqtt-port'], 0, 0, 65_535) }),
  };
}

function refuseRole(role: string): never {
  if (!ROLES.includes(role)) throw new UsageError(`--role must be one of ${ROLES.join(', ')}: current value is ${JSON.stringify(role)}`);
  throw new ConfigError(`--role ${role} needs readings in InfluxDB and records in PostgreSQL, and these stores are not there yet; without --role one process does all`);
}

/** @throws {ConfigError} if a server runs on this folder: two would fight for it. */
export function refuseSecondServer(dataFolder: string): void {
  const running = findRunningServer(dataFolder);
  if (running !== undefined) throw new ConfigError(`a server runs on ${dataFolder} already: ${running.url} (process ${running.pid}); stop it first, or name another folder with --data`);
}

/** Wait for a signal or a failure, then stop in order, within 8 s. @throws what made it fail. */
export async function untilStopped(house: House, foundation: Foundation, stopping: AbortSignal, context: Context, before: () => Promise<void> = () => Promise.resolve()): Promise<void> {
  const failure = await Promise.race([house.failed, new Promise<undefined>((resolve) => (stopping.aborted ? resolve(undefined) : stopping.addEventListener('abort', () => resolve(undefined), { once: true })))]);
  context.terminal.say('stopping …');
  let unclean: Error | undefined;
  // Each part is stopped, whatever the one before it did.
  const stopped = (async () => {
    for (const stop of [before, () => house.stop(), () => foundation.close()]) {
      await stop().catch((error: unknown) => {
        unclean ??= error instanceof Error ? error : new Error(String(error));
      });
    }
    return true;
  })();
  const inTime = await Promise.race([stopped, sleep(STOP_WITHIN_MS, false, { ref: false })]);
  if (!inTime) {
    context.terminal.say('stopped before all was saved; nothing that was acknowledged is lost');
    process.exit(failure === undefined ? 0 : 1);
  }
  if ((failure ?? unclean) !== undefined) throw failure ?? unclean;
}
