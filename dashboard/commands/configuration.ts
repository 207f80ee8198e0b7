import { existsSync, readFileSync } from 'node:fs';
import { isIP } from 'node:net';
import { join, resolve } from 'node:path';
import { parse as parseYaml } from 'yaml';
import { z } from 'zod';
import { analysisSettingsSchema } from '../../shared/analysis-settings.ts';
import { type Config, configSchema, environmentName, SECRET_KEYS } from '../../shared/config.ts';
import { ConfigError } from '../../shared/errors.ts';
import type { Problem } from '../../shared/registry.ts';
import { influxProblems } from './influx-settings.ts';
import { nearestName } from './nearest-name.ts';
import { tlsFilesOf } from './tls-files.ts';

type Key = keyof Config;
/** One configured value, for `check-config`: what it is, where it came from, what it would be otherwise. */
export type Setting = { readonly key: string; readonly environment: string; readonly value: unknown; readonly from: string; readonly fallback: unknown; readonly says: string; readonly secret: boolean };
export type Configuration = { readonly config: Config; readonly settings: readonly Setting[] };
export type Environment = Readonly<Record<string, string | undefined>>;

/** Names with our prefix that are no setting of the product: where the file is, stacks with errors, and the tests' own. */
const OTHER_NAMES = ['LULL_CONFIG', 'LULL_DEBUG'];
const TEST_PREFIX = 'LULL_TEST_';
const DEFAULT_FILE = 'lull.yaml';
const KEYS = Object.keys(configSchema.shape) as Key[];
const ENVIRONMENT_KEYS = KEYS.filter((key) => key !== 'analysis');

type Given = { readonly value: unknown; readonly from: string };
type Sources = { readonly given: Map<string, Given>; readonly problems: Problem[] };

/**
 * Read the configuration: command line over environment over file over defaults.
 * @throws {ConfigError} that lists every problem, one a line, with what to write instead.
 */
export function readConfiguration(environment: Environment, folder: string, overrides: Partial<Config> = {}): Configuration {
  const { configuration, problems } = examineConfiguration(environment, folder, overrides);
  if (configuration === undefined) throw new ConfigError(['the configuration has problems:', ...problems.map((problem) => `  ${problem.where}: ${problem.says}`)].join('\n'));
  return configuration;
}

/** The same without throwing, for `check-config`. */
export function examineConfiguration(environment: Environment, folder: string, overrides: Partial<Config> = {}): { readonly configuration?: Configuration; readonly problems: readonly Problem[] } {
  const sources: Sources = { given: new Map(), problems: [] };
  readFileOf(environment, folder, sources);
  readEnvironment(environment, folder, sources);
  for (const [key, value] of Object.entries(overrides)) sources.given.set(key, { value, from: 'command line' });
  const parsed = configSchema.safeParse(Object.fromEntries([...sources.given].map(([key, { value }]) => [key, value])));
  if (!parsed.success) sources.problems.push(...parsed.error.issues.map((issue) => problemAt(issue, sources)));
  if (!parsed.success || sources.problems.length > 0) return { problems: sources.problems };
  const refused = [...refusedBinds(parsed.data), ...influxProblems(parsed.data), ...tlsFilesOf(parsed.data, folder).problems];
  return refused.length > 0 ? { problems: refused } : { configuration: { config: parsed.data, settings: settingsOf(parsed.data, sources) }, problems: [] };
}

function readFileOf(environment: Environment, folder: string, sources: Sources): void {
  const named = environment['LULL_CONFIG'];
  const path = resolve(folder, named ?? DEFAULT_FILE);
  if (named === undefined && !existsSync(path)) return;
  let raw: unknown;
  try {
    raw = parseYaml(readFileSync(path, 'utf8')) ?? {};
  } catch (error) {
    sources.problems.push({ where: named === undefined ? DEFAULT_FILE : 'LULL_CONFIG', says: `can't read ${path}: ${error instanceof Error ? error.message : String(error)}` });
    return;
  }
  if (typeof raw !== 'object' || raw === null || Array.isArray(raw)) {
    sources.problems.push({ where: path, says: 'must hold names and values, such as "httpPort: 4280"' });
    return;
  }
  for (const [key, value] of Object.entries(raw)) {
    if ((KEYS as string[]).includes(key)) sources.given.set(key, { value, from: path });
    else sources.problems.push({ where: `${path}, ${key}`, says: unknownName(key, KEYS) });
  }
}

function readEnvironment(environment: Environment, folder: string, sources: Sources): void {
  const byName = new Map<string, Key>(ENVIRONMENT_KEYS.map((key) => [environmentName(key), key]));
  const secretFiles = new Map<string, Key>(SECRET_KEYS.map((key) => [`${environmentName(key)}_FILE`, key]));
  const names = [...byName.keys(), ...secretFiles.keys(), ...OTHER_NAMES];
  for (const [name, value] of Object.entries(environment)) {
    if (!name.startsWith('LULL_') || value === undefined || OTHER_NAMES.includes(name) || name.startsWith(TEST_PREFIX)) continue;
    const key = byName.get(name);
    const secret = secretFiles.get(name);
    // An empty variable is how many shells and unit files say "not set".
    if (value === '') continue;
    if (key !== undefined) sources.given.set(key, { value, from: name });
    else if (secret !== undefined) readSecret(name, secret, resolve(folder, value), sources);
    else sources.problems.push({ where: name, says: name.startsWith('LULL_ANALYSIS') ? `settings of the analysis stand under "analysis:" in ${DEFAULT_FILE}, not in the environment` : unknownName(name, names) });
  }
}

function readSecret(name: string, key: Key, path: string, sources: Sources): void {
  try {
    sources.given.set(key, { value: readFileSync(path, 'utf8').trim(), from: name });
  } catch (error) {
    sources.problems.push({ where: name, says: `can't read the file: ${error instanceof Error ? error.message : String(error)}` });
  }
}

function unknownName(name: string, names: readonly string[]): string {
  const near = nearestName(name, names);
  return near === undefined ? `is not a setting; the settings are ${names.join(', ')}` : `is not a setting; did you mean ${near}?`;
}

function problemAt(issue: z.core.$ZodIssue, sources: Sources): Problem {
  const key = String(issue.path[0] ?? '');
  const from = sources.given.get(key)?.from ?? key;
  const inner = issue.path.map(String).join('.');
  if (issue.code === 'unrecognized_keys') return { where: `${from}, ${inner}`, says: issue.keys.map((name) => `"${name}" ${unknownName(name, Object.keys(analysisSettingsSchema.shape))}`).join('; ') };
  return { where: from.startsWith('LULL_') || from === 'command line' ? `${from}${from === 'command line' ? `, ${inner}` : ''}` : `${from}, ${inner}`, says: `${issue.message}: current value is ${JSON.stringify(sources.given.get(key)?.value)}` };
}

/** Until there are accounts nothing listens where strangers can reach it (design, section 5). */
function refusedBinds(config: Config): Problem[] {
  const problems: Problem[] = [];
  if (!isLoopback(config.httpHost)) problems.push({ where: 'httpHost', says: `must be a loopback address such as 127.0.0.1, because there are no accounts yet; put a reverse proxy with TLS and a password in front (see the README): current value is ${JSON.stringify(config.httpHost)}` });
  if (config.mqttUrl === undefined && !isLoopback(config.mqttHost) && config.mqttGateways === undefined) {
    problems.push({ where: 'mqttHost', says: `the embedded broker listens elsewhere than on loopback only with LULL_MQTT_GATEWAYS, a file of the gateways that may publish (lull gateway makes its lines): current value is ${JSON.stringify(config.mqttHost)}` });
  }
  return problems;
}

function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || (isIP(host) === 4 && host.startsWith('127.'));
}

function settingsOf(config: Config, sources: Sources): Setting[] {
  const defaults: Record<string, unknown> = configSchema.parse({});
  return KEYS.map((key) => ({
    key,
    environment: key === 'analysis' ? '' : environmentName(key),
    value: config[key],
    from: sources.given.get(key)?.from ?? 'default',
    fallback: defaults[key],
    says: configSchema.shape[key].description ?? '',
    secret: (SECRET_KEYS as readonly string[]).includes(key),
  }));
}

/** The registry file of a configuration: the named one, else `sites.yaml` or `sites.json` in the data folder; `undefined` if there is none. */
export function registryFileOf(config: Config, folder: string): string | undefined {
  if (config.sites !== undefined) return resolve(folder, config.sites);
  return ['sites.yaml', 'sites.yml', 'sites.json'].map((name) => join(resolve(folder, config.data), name)).find((path) => existsSync(path));
}
