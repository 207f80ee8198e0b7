import { StoreError } from '../errors.ts';
import type { InfluxServer, InfluxTarget } from './influxdb-server.ts';

/** Measured on 1.6.7 after compaction (README); said of a server that doesn't tell what it weighs. */
export const BYTES_PER_READING = 16;

/** What our database weighs on the server's disk; 0 where it doesn't say, as 2.x, or to somebody who is no administrator. */
export async function diskBytes(server: InfluxServer, target: InfluxTarget): Promise<number> {
  if (target.kind === 'bucket') return 0;
  let bytes = 0;
  try {
    await server.query(["SHOW STATS FOR 'shard'"], ({ tags, columns, values }) => {
      if (tags['database'] === target.database) bytes += Number(values[0]?.[columns.indexOf('diskBytes')] ?? 0);
    });
  } catch (error) {
    // An answer that refuses it has no cause; a server that is away has.
    if (!(error instanceof StoreError) || error.cause !== undefined) throw error;
  }
  return bytes;
}
