import { READING, RECEIPT } from './influxdb-schema.ts';
import type { InfluxServer, InfluxTarget } from './influxdb-server.ts';

/** The years that the interface of 2.x wants named; nothing of ours lies before. */
const EARLIEST = '1970-01-01T00:00:00Z';
const LATEST = '2262-01-01T00:00:00Z';

/** Drop readings measured before one time and marks of receipt from before another; all of ours where they are infinite. */
export async function forgetBefore(server: InfluxServer, target: InfluxTarget, readingsBeforeMs: number, marksBeforeMs: number): Promise<void> {
  for (const [measurement, beforeMs] of [[READING, readingsBeforeMs], [RECEIPT, marksBeforeMs]] as const) {
    if (target.kind === 'database') await server.query([`DELETE FROM "${measurement}"${beforeMs === Infinity ? '' : ` WHERE time < ${beforeMs}ms`}`], () => undefined, { patient: true });
    else await server.request('POST', `/api/v2/delete?${new URLSearchParams({ org: target.organisation, bucket: target.bucket }).toString()}`, { start: EARLIEST, stop: beforeMs === Infinity ? LATEST : new Date(beforeMs).toISOString(), predicate: `_measurement="${measurement}"` });
  }
}
