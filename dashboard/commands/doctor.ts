import { accessSync, constants, existsSync, mkdirSync, statfsSync } from 'node:fs';
import { resolve } from 'node:path';
import { connectAsync } from 'mqtt';
import type { Config } from '../../shared/config.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { InfluxTarget } from '../../shared/store/influxdb-server.ts';
import { type Context, defineCommand } from './command.ts';
import { isFree } from './address.ts';
import { examineConfiguration, registryFileOf } from './configuration.ts';
import { influxTargetOf } from './influx-settings.ts';
import { readRegistryFile } from './registry-source.ts';
import { findRunningServer } from './run-file.ts';
import { openInflux } from './stores.ts';
import { DATA_OPTION } from './where-records-are.ts';

type Finding = { readonly ok: boolean; readonly says: string };
const LOW_DISK_BYTES = 2e9;

export const doctor = defineCommand({
  name: 'doctor',
  summary: 'look for what would keep Lull from running here: Node, folder, disk, ports, broker, registry',
  options: { data: DATA_OPTION },
  example: 'npx --no-install lull doctor',
  async run(values, _given, context) {
    const found = await lookAround(context, values.data);
    for (const one of found) context.terminal.out(`${one.ok ? 'good ' : 'wrong'}  ${one.says}`);
    const wrong = found.filter((one) => !one.ok).length;
    if (wrong > 0) throw new Error(`${wrong === 1 ? 'one thing is' : `${wrong} things are`} wrong`);
  },
});

async function lookAround(context: Context, data: string | undefined): Promise<Finding[]> {
  const [major = 0, minor = 0] = process.versions.node.split('.').map(Number);
  const found: Finding[] = [{ ok: major > 20 || (major === 20 && minor >= 11), says: `Node ${process.versions.node} (20.11 or newer is wanted)` }];
  const { configuration, problems } = examineConfiguration(context.environment, context.folder, data === undefined ? {} : { data });
  if (configuration === undefined) return [...found, ...problems.map((problem) => ({ ok: false, says: `${problem.where}: ${problem.says}` }))];
  const { config } = configuration;
  const folder = resolve(context.folder, config.data);
  found.push(folderFound(folder));
  const running = findRunningServer(folder);
  if (running !== undefined) found.push({ ok: true, says: `a server runs: ${running.url}, broker ${running.mqttUrl}, process ${running.pid}` });
  else {
    found.push(await portFound('pages', config.httpHost, config.httpPort));
    if (config.mqttUrl === undefined) found.push(await portFound('embedded broker', config.mqttHost, config.mqttPort));
  }
  if (config.mqttUrl !== undefined) found.push(await brokerFound(config.mqttUrl, config.mqttUser, config.mqttPassword));
  const target = influxTargetOf(config);
  if (target !== undefined) found.push(await influxFound(target, config));
  found.push(registryFound(registryFileOf(config, context.folder)));
  return found;
}

function folderFound(folder: string): Finding {
  try {
    mkdirSync(folder, { recursive: true });
    accessSync(folder, constants.W_OK);
    const disk = statfsSync(folder);
    const free = disk.bavail * disk.bsize;
    return { ok: free > LOW_DISK_BYTES, says: `data folder ${folder}, ${(free / 1e9).toFixed(1)} GB free${free > LOW_DISK_BYTES ? '' : '; make room, at 0 nothing is taken in any more'}` };
  } catch (error) {
    return { ok: false, says: `data folder ${folder} can't be written: ${error instanceof Error ? error.message : String(error)}` };
  }
}

async function portFound(what: string, host: string, port: number): Promise<Finding> {
  const free = await isFree(host, port);
  return { ok: free, says: `${host}:${port} for the ${what} is ${free ? 'free' : 'taken by another program'}` };
}

async function brokerFound(url: string, username: string | undefined, password: string | undefined): Promise<Finding> {
  try {
    const client = await connectAsync(url, { connectTimeout: 5000, reconnectPeriod: 0, ...(username === undefined ? {} : { username }), ...(password === undefined ? {} : { password }) });
    await client.endAsync();
    return { ok: true, says: `the broker ${url} answers` };
  } catch (error) {
    return { ok: false, says: `the broker ${url} can't be reached: ${error instanceof Error ? error.message : String(error)}` };
  }
}

/** Opened as a server would, which also creates a database that isn't there. */
async function influxFound(target: InfluxTarget, config: Config): Promise<Finding> {
  try {
    const readings = await openInflux(target, config, SILENT_LOG);
    const series = await readings.series();
    await readings.close();
    return { ok: true, says: `InfluxDB ${target.url}, ${target.kind === 'bucket' ? `bucket ${target.bucket}` : `database ${target.database}`}: ${series.reduce((sum, one) => sum + one.count, 0)} readings in ${series.length} series` };
  } catch (error) {
    return { ok: false, says: error instanceof Error ? error.message : String(error) };
  }
}

function registryFound(file: string | undefined): Finding {
  if (file === undefined) return { ok: true, says: 'no registry file; what was registered on the page Settings counts, any other generator that is heard is listed as unclaimed' };
  if (!existsSync(file)) return { ok: false, says: `there is no registry file ${file}` };
  try {
    return { ok: true, says: `registry ${file}, ${readRegistryFile(file).sites.length} sites` };
  } catch (error) {
    return { ok: false, says: error instanceof Error ? error.message : String(error) };
  }
}
