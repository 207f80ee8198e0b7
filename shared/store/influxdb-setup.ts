import { HttpError } from '@influxdata/influxdb-client';
import { DAY_MS } from '../time.ts';
import { InfluxSetupError, type InfluxSetting, wordsOf } from './influxdb-errors.ts';
import { quotedName, READING } from './influxdb-schema.ts';
import type { InfluxRows, InfluxServer, InfluxTarget } from './influxdb-server.ts';

/** A new database's shards: with the server's own seven days a chart of a year would open 53 of them. */
const SHARD_DAYS = 30;

/**
 * Look whether the server can be what it is to be, and create the database of a 1.x server if it isn't there.
 *
 * @param keepDays how long readings are to be kept; a retention policy must not drop them earlier, as late ones would then be refused.
 * @throws {InfluxSetupError} if it is reached and isn't right.
 * @throws {StoreError} if it can't be reached.
 */
export async function setUpInflux(server: InfluxServer, target: InfluxTarget, keepDays: number): Promise<void> {
  await refuseOtherVersion(server, target);
  if (target.kind === 'database') await databaseThere(server, target, keepDays);
  else await bucketThere(server, target, keepDays);
  await refuseOtherTypes(server);
}

async function refuseOtherVersion(server: InfluxServer, target: InfluxTarget): Promise<void> {
  const { headers } = await server.request('GET', '/ping');
  const given = headers['x-influxdb-version'];
  const version = typeof given === 'string' ? given : '';
  const is2 = /^v?2\./.test(version);
  if (target.kind === 'database' && is2) throw new InfluxSetupError('bucket', `InfluxDB at ${server.name} is version ${version} and wants an organisation, a bucket and a token`);
  if (target.kind === 'bucket' && /^v?1\./.test(version)) throw new InfluxSetupError('database', `InfluxDB at ${server.name} is version ${version} and has databases, no buckets`);
}

type Policy = { readonly name: string; readonly keepsMs: number; readonly isDefault: boolean };

async function databaseThere(server: InfluxServer, target: InfluxTarget & { kind: 'database' }, keepDays: number): Promise<void> {
  const databases = (await rowsOf(server, 'SHOW DATABASES', 'credentials')).map((row) => row[0]);
  if (!databases.includes(target.database)) {
    const policy = target.retentionPolicy === '' ? 'autogen' : target.retentionPolicy;
    await rowsOf(server, `CREATE DATABASE ${quotedName(target.database)} WITH DURATION INF SHARD DURATION ${SHARD_DAYS}d NAME ${quotedName(policy)}`, 'database');
  }
  const policies = (await rowsOf(server, `SHOW RETENTION POLICIES ON ${quotedName(target.database)}`, 'database')).map(([name, duration, , , isDefault]): Policy => ({ name: String(name), keepsMs: durationMs(String(duration)), isDefault: isDefault === true }));
  const policy = policies.find((one) => (target.retentionPolicy === '' ? one.isDefault : one.name === target.retentionPolicy));
  if (policy === undefined) throw new InfluxSetupError('retention-policy', `database ${target.database} has ${target.retentionPolicy === '' ? 'no default retention policy' : `no retention policy ${target.retentionPolicy}`}; it has ${policies.map((one) => one.name).join(', ') || 'none'}`);
  refuseShort(`retention policy ${policy.name} of database ${target.database}`, policy.keepsMs, keepDays, 'retention-policy');
}

async function bucketThere(server: InfluxServer, target: InfluxTarget & { kind: 'bucket' }, keepDays: number): Promise<void> {
  const path = `/api/v2/buckets?${new URLSearchParams({ org: target.organisation, name: target.bucket }).toString()}`;
  const answer = await server.request('GET', path).catch((error: unknown) => {
    const refused = error instanceof Error ? error.cause : undefined;
    if (!(refused instanceof HttpError) || refused.statusCode >= 500 || refused.statusCode === 429) throw error;
    const about = refused.statusCode === 401 || refused.statusCode === 403 ? 'credentials' : /organi[sz]ation/i.test(wordsOf(refused)) ? 'organisation' : 'bucket';
    throw new InfluxSetupError(about, `InfluxDB at ${server.name} answers ${refused.statusCode}: ${wordsOf(refused)}`, { cause: error });
  });
  const { buckets = [] } = JSON.parse(answer.text) as { buckets?: readonly { name: string; retentionRules?: readonly { everySeconds: number }[] }[] };
  const bucket = buckets.find((one) => one.name === target.bucket);
  if (bucket === undefined) throw new InfluxSetupError('bucket', `InfluxDB at ${server.name} has no bucket ${target.bucket} in ${target.organisation}, or the token may not see it; create it first`);
  const everyS = bucket.retentionRules?.[0]?.everySeconds ?? 0;
  refuseShort(`bucket ${target.bucket}`, everyS === 0 ? Infinity : everyS * 1000, keepDays, 'bucket');
  await rowsOf(server, `SHOW MEASUREMENTS WITH MEASUREMENT = ${quotedName(READING)}`, 'database', `InfluxQL doesn't reach bucket ${target.bucket} as database ${target.database}; map it (influx v1 dbrp create), or name the database that it is mapped to`);
}

function refuseShort(what: string, keepsMs: number, keepDays: number, about: InfluxSetting): void {
  if (keepsMs < keepDays * DAY_MS) throw new InfluxSetupError(about, `${what} drops readings after ${Math.floor(keepsMs / DAY_MS)} days, and they are to be kept ${keepDays}`);
}

/** Someone else's fields under our name would have every reading refused. */
async function refuseOtherTypes(server: InfluxServer): Promise<void> {
  const wanted: Readonly<Record<string, string>> = { value: 'float', received: 'integer', quality: 'integer' };
  for (const [field, type] of await rowsOf(server, `SHOW FIELD KEYS FROM ${server.from(READING)}`, 'database')) {
    if (wanted[String(field)] !== undefined && wanted[String(field)] !== type) throw new InfluxSetupError('database', `the measurement ${READING} there has a field ${String(field)} of type ${String(type)}; Lull keeps it as ${wanted[String(field)]}. Name another database`);
  }
}

/** Rows of a question of the setting up. A server that can be reached and refuses it has something configured otherwise. */
async function rowsOf(server: InfluxServer, statement: string, about: InfluxSetting, says?: string): Promise<readonly (readonly unknown[])[]> {
  const found: (readonly unknown[])[] = [];
  await server.query([statement], (rows: InfluxRows) => void found.push(...rows.values)).catch((error: unknown) => {
    const cause = error instanceof Error ? error.cause : undefined;
    if (cause instanceof HttpError && (cause.statusCode === 401 || cause.statusCode === 403)) throw new InfluxSetupError('credentials', `InfluxDB at ${server.name} answers ${cause.statusCode}: ${wordsOf(cause)}`, { cause: error });
    // Without a cause it is an answer with an error in it.
    if (cause === undefined || (cause instanceof HttpError && cause.statusCode < 429)) throw new InfluxSetupError(about, says ?? (error instanceof Error ? error.message : String(error)), { cause: error });
    throw error;
  });
  return found;
}

const UNIT_MS: Readonly<Record<string, number>> = { w: 7 * DAY_MS, d: DAY_MS, h: 3_600_000, m: 60_000, s: 1000 };

/** A duration such as 9600h0m0s; 0s is for ever. */
export function durationMs(text: string): number {
  const ms = [...text.matchAll(/(\d+)([wdhms])/g)].reduce((sum, [, count, unit]) => sum + Number(count) * (UNIT_MS[unit ?? ''] ?? 0), 0);
  return ms === 0 ? Infinity : ms;
}
