import { type Config, environmentName } from '../../shared/config.ts';
import { ConfigError } from '../../shared/errors.ts';
import type { Problem } from '../../shared/registry.ts';
import type { InfluxSetting } from '../../shared/store/influxdb-errors.ts';
import type { InfluxTarget } from '../../shared/store/influxdb-server.ts';

type InfluxKey = Extract<keyof Config, `influx${string}`>;
const DEFAULT_DATABASE = 'lull';
const FURTHER_KEYS = ['influxDatabase', 'influxRetentionPolicy', 'influxUser', 'influxPassword', 'influxOrganisation', 'influxBucket', 'influxToken'] as const satisfies readonly InfluxKey[];
const KEYS_OF_1 = ['influxUser', 'influxPassword'] as const;
const KEYS_OF_2 = ['influxOrganisation', 'influxBucket', 'influxToken'] as const;

/** What in the settings of InfluxDB can't go together; the server is asked later. */
export function influxProblems(config: Config): Problem[] {
  const given = (key: InfluxKey): boolean => config[key] !== undefined;
  const problem = (key: InfluxKey, says: string): Problem => ({ where: environmentName(key), says });
  if (config.influxUrl === undefined) return FURTHER_KEYS.filter(given).map((key) => problem(key, 'is set, but LULL_INFLUX_URL is not; set both, or leave it out to keep readings in the data folder'));
  const problems: Problem[] = [];
  const url = new URL(config.influxUrl);
  if (url.username !== '' || url.password !== '') problems.push(problem('influxUrl', 'must not hold a user or a password; use LULL_INFLUX_USER and LULL_INFLUX_PASSWORD, or LULL_INFLUX_TOKEN'));
  if (KEYS_OF_2.some(given)) {
    const missing = KEYS_OF_2.filter((key) => !given(key));
    problems.push(...missing.map((key) => problem(key, `is missing: InfluxDB 2.x wants ${KEYS_OF_2.map(environmentName).join(', ')}; 1.x wants none of them`)));
    problems.push(...KEYS_OF_1.filter(given).map((key) => problem(key, 'belongs to InfluxDB 1.x, but LULL_INFLUX_TOKEN, LULL_INFLUX_BUCKET or LULL_INFLUX_ORGANISATION says that it is 2.x')));
  } else if (given('influxUser') !== given('influxPassword')) {
    problems.push(problem(given('influxUser') ? 'influxPassword' : 'influxUser', 'is missing: a user and a password go together'));
  }
  return problems;
}

/** Where readings go; `undefined` if that is the data folder. `suffix` keeps a demo's readings apart from real ones. */
export function influxTargetOf(config: Config, suffix = ''): InfluxTarget | undefined {
  if (config.influxUrl === undefined) return undefined;
  const { influxUrl: url, influxRetentionPolicy: retentionPolicy = '' } = config;
  if (config.influxBucket === undefined) return { kind: 'database', url, database: `${config.influxDatabase ?? DEFAULT_DATABASE}${suffix}`, retentionPolicy, user: config.influxUser ?? '', password: config.influxPassword ?? '' };
  // A bucket named database/policy is known to InfluxQL by these two.
  const bucket = `${config.influxBucket}${suffix}`;
  const database = config.influxDatabase === undefined ? (bucket.split('/')[0] ?? bucket) : `${config.influxDatabase}${suffix}`;
  return { kind: 'bucket', url, organisation: config.influxOrganisation ?? '', bucket, token: config.influxToken ?? '', database, retentionPolicy: config.influxDatabase === undefined && retentionPolicy === '' ? (bucket.split('/')[1] ?? '') : retentionPolicy };
}

const KEY_OF: Readonly<Record<InfluxSetting, (target: InfluxTarget) => InfluxKey>> = {
  url: () => 'influxUrl',
  credentials: (target) => (target.kind === 'bucket' ? 'influxToken' : 'influxUser'),
  database: () => 'influxDatabase',
  organisation: () => 'influxOrganisation',
  bucket: () => 'influxBucket',
  'retention-policy': () => 'influxRetentionPolicy',
};

/** What the server said against the settings, with the name of the one to change. */
export function influxConfigError(about: InfluxSetting, target: InfluxTarget, error: Error): ConfigError {
  const also = /are to be kept/.test(error.message) ? ' (or change LULL_KEEP_READINGS_DAYS)' : about === 'credentials' && target.kind === 'database' ? ' and LULL_INFLUX_PASSWORD' : '';
  return new ConfigError(`${environmentName(KEY_OF[about](target))}${also}: ${error.message}`, { cause: error });
}
