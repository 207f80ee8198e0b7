// An ingest of its own process, to be killed: `node ingest-process.mjs FOLDER BROKER-URL`, from what `npm run build` made.
import { join } from 'node:path';
import { startIngest } from '../../.build/ingest/ingest.js';
import { openDuckdbReadings } from '../../.build/shared/store/duckdb-readings.js';
import { openSqliteRecords } from '../../.build/shared/store/sqlite-records.js';

const [folder, url] = process.argv.slice(2);
const log = { info() {}, warn() {}, error() {} };
const readings = await openDuckdbReadings({ folder: join(folder, 'readings'), memoryMB: 256, threads: 1, log });
const records = await openSqliteRecords({ file: join(folder, 'records.sqlite') });
const ingest = await startIngest({ source: { kind: 'broker', url, clientId: 'lull-killed' }, readings, records, registry: () => undefined, clock: { nowMs: () => Date.now() }, log, onEvent() {} });
while (!ingest.status().brokerConnected) await new Promise((resolve) => setTimeout(resolve, 10));
process.stdout.write('connected\n');
let last = Date.now();
ingest.onCommitted(() => (last = Date.now()));
setInterval(() => Date.now() - last > 1500 && process.stdout.write('quiet\n'), 100);
