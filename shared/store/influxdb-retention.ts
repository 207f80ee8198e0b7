import { HOURLY, READING, RECEIPT } from './influxdb-schema.ts';
import type { InfluxServer, InfluxTarget } from './influxdb-server.ts';

/** The years that the interface of 2.x wants named; nothing of ours lies before. */
const EARLIEST = '1970-01-01T00:00:00Z';
const LATEST = '2262-01-01T00:00:00Z';

/** Drop readings measured before one time and marks of receipt from before another. */
export async function forgetBefore(server: InfluxServer, target: InfluxTarget, readingsBeforeMs: number, marksBeforeMs: number): Promise<void> {
  await forget(server, target, [[READING, readingsBeforeMs], [RECEIPT, marksBeforeMs]]);
}

/** Drop all that is ours. */
export async function forgetAll(server: InfluxServer, target: InfluxTarget): Promise<void> {
  await forget(server, target, [READING, RECEIPT, HOURLY].map((measurement) => [measurement, Infinity] as const));
}

async function forget(server: InfluxServer, target: InfluxTarget, what: readonly (readonly [measurement: string, beforeMs: number])[]): Promise<void> {
  for (const [measurement, beforeMs] of what) {
    if (target.kind === 'database') await server.query([`DELETE FROM "${measurement}"${beforeMs === Infinity ? '' : ` WHERE time < ${beforeMs}ms`}`], () => undefined, { patient: true });
    else await server.request('POST', `/api/v2/delete?${new URLSearchParams({ org: target.organisation, bucket: target.bucket }).toString()}`, { start: EARLIEST, stop: beforeMs === Infinity ? LATEST : new Date(beforeMs).toISOString(), predicate: `_measurement="${measurement}"` });
  }
}
