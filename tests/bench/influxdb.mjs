// Both reading stores in one run, on this machine: node tests/bench/influxdb.mjs [seconds each, default 15]
// Runs on the build (npm run build) and starts Debian's influxd and mosquitto. Figures move with the load; compare within a run.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { InfluxDB } from '@influxdata/influxdb-client';
import mqtt from 'mqtt';
import { startIngest } from '../../.build/ingest/ingest.js';
import { batchBuilder } from '../../.build/shared/reading-batch.js';
import { openDuckdbReadings } from '../../.build/shared/store/duckdb-readings.js';
import { openInfluxReadings } from '../../.build/shared/store/influxdb-readings.js';
import { openSqliteRecords } from '../../.build/shared/store/sqlite-records.js';
import { findProgram } from '../servers.mjs';

const SECONDS = Number(process.argv[2] ?? 15);
const DAY_MS = 86_400_000;
const NOW = Math.floor(Date.now() / 1000) * 1000;
const CHANNELS = ['running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'nitrogen', 'room-temperature', 'motor-current'];
const LOG = { info() {}, warn() {}, error() {} };
const say = (...words) => process.stdout.write(`${words.join(' ')}\n`);
const folder = mkdtempSync(join(tmpdir(), 'lull-bench-'));
chmodSync(folder, 0o777);
const children = [];

try {
  const influxUrl = await startInfluxd();
  const broker = await startMosquitto();
  const alone = { flush5000: await clientAlone(influxUrl, 5000), flush7: await clientAlone(influxUrl, 7) };
  say(`client alone, ready lines, one awaited flush at a time: ${Math.round(alone.flush5000)} readings/s in flushes of 5,000, ${Math.round(alone.flush7)} in flushes of 7`);
  const openers = {
    DuckDB: () => openDuckdbReadings({ folder: join(folder, 'duckdb'), memoryMB: 512, threads: 2, log: LOG }),
    InfluxDB: () => openInfluxReadings({ target: { kind: 'database', url: influxUrl, database: 'lull', retentionPolicy: '', user: '', password: '' }, keepDays: 400, log: LOG }),
  };
  for (const [name, open] of Object.entries(openers)) await benchStore(name, open, broker, alone);
} finally {
  for (const child of children) child.kill();
  for (const child of children) if (child.exitCode === null) await once(child, 'exit');
  rmSync(folder, { recursive: true, force: true });
}

async function benchStore(name, open, broker, alone) {
  const store = await open();
  const kept = await append(name, store, alone);
  await queries(name, store);
  const size = await store.sizeBytes();
  say(`${name}: ${(size / kept).toFixed(1)} bytes a reading as it lies there now`);
  const records = await openSqliteRecords({ file: join(folder, `${name}.sqlite`) });
  await chain(name, 'one MQTT session through mosquitto', store, records, alone, { kind: 'broker', url: broker, clientId: `bench-${name}` }, broker);
  await chain(name, 'embedded broker, 50 gateways', store, records, alone, { kind: 'embedded', host: '127.0.0.1', port: 0 });
  await store.close();
  await records.close();
}

/** 90 days of 40 generators every 5 minutes, as an import brings them. */
async function append(name, store, alone) {
  const builder = batchBuilder();
  let [rows, spentMs] = [0, 0];
  const keep = async () => {
    const batch = builder.take();
    const from = performance.now();
    rows += (await store.append(batch)).kept.atMs.length;
    spentMs += performance.now() - from;
  };
  for (let atMs = NOW - 90 * DAY_MS; atMs < NOW - DAY_MS; atMs += 300_000) {
    for (let one = 0; one < 40; one += 1) for (const [index, channel] of CHANNELS.entries()) builder.add({ generator: `site-${one}/gen-1`, channel }, atMs + one * 700, valueOf(index, atMs), 0, atMs + one * 700 + 900 + (atMs % 7));
    if (builder.length >= 20_000) await keep();
  }
  await keep();
  const rate = rows / (spentMs / 1000);
  say(`${name}: import, ${rows} readings in batches of 20,000: ${Math.round(rate)} readings/s, ${(rate / alone.flush5000).toFixed(2)} of the client alone in flushes of 5,000`);
  return rows;
}

function valueOf(index, atMs) {
  if (index === 0) return Math.floor(atMs / 300_000) % 9 === 0 ? 1 : 0;
  return Math.round((600 + 80 * Math.sin(atMs / 3e6 + index)) * 10) / 10;
}

/** What the generator's page and a new fold ask. */
async function queries(name, store) {
  const generator = 'site-7/gen-1';
  const span = (days) => ({ fromMs: NOW - days * DAY_MS, toMs: NOW });
  const chart = (days) => () => store.buckets({ generator, channel: 'tank-pressure', ...span(days), buckets: 500 });
  const lastHour = async () => {
    for await (const batch of store.byReceipt({ fromMs: NOW - DAY_MS - 3_600_000, toMs: NOW })) void batch;
  };
  say(`${name}: one channel in 500 buckets: a day ${await median(chart(2))}, 14 days ${await median(chart(14))}, 90 days ${await median(chart(90))}; all of a generator, raw: a day ${await median(() => store.byDeviceTime({ generator, ...span(2) }))}, 90 days ${await median(() => store.byDeviceTime({ generator, ...span(90) }))}; newest of all ${await median(() => store.latest())}; log of an hour ${await median(lastHour)}`);
}

async function median(work) {
  const times = [];
  for (let run = 0; run < 7; run += 1) {
    const from = performance.now();
    await work();
    times.push(performance.now() - from);
  }
  return `${times.sort((a, b) => a - b)[3].toFixed(1)} ms`;
}

/** Packets of 7 readings, from publish to acknowledged after the commit, for some seconds. */
async function chain(name, how, readings, records, alone, source, broker) {
  const ingest = await startIngest({ source, readings, records, registry: () => undefined, clock: { nowMs: () => Date.now() }, log: LOG, onEvent() {} });
  await sleep(500);
  let committed = 0;
  ingest.onCommitted((batch) => (committed += batch.atMs.length));
  const gateways = await Promise.all(Array.from({ length: 50 }, () => mqtt.connectAsync(broker ?? `mqtt://127.0.0.1:${ingest.port}`)));
  const endMs = Date.now() + SECONDS * 1000;
  let packets = 0;
  const startedMs = Date.now();
  await Promise.all(
    gateways.map(async (gateway, one) => {
      while (Date.now() < endMs) {
        packets += 1;
        // With a broker between, its acknowledgement comes before ours: the queue there is kept short.
        if (broker !== undefined && packets * CHANNELS.length - committed > 7000) await sleep(20);
        const bt = (NOW + packets) / 1000;
        await gateway.publishAsync(`lull/v1/site-${one}/gen-1/readings`, JSON.stringify([{ bt, n: 'running', vb: packets % 2 === 0 }, ...CHANNELS.slice(1, 4).map((n) => ({ n, u: 'kPa', v: 600.5 })), { n: 'nitrogen', u: '/', v: 0.98 }, { n: 'room-temperature', u: 'Cel', v: 21.5 }, { n: 'motor-current', u: 'A', v: 4.1 }]), { qos: 1 });
      }
    }),
  );
  const rate = committed / ((Date.now() - startedMs) / 1000);
  say(`${name}: whole chain, ${how}: ${Math.round(rate)} readings/s committed (${Math.round(rate / 7)} packets/s), ${(rate / alone.flush5000).toFixed(3)} of the client alone in flushes of 5,000, ${(rate / alone.flush7).toFixed(2)} of it in flushes of 7`);
  await Promise.all(gateways.map((gateway) => gateway.endAsync(true)));
  await ingest.stop();
}

/** The client's own pace: lines made beforehand, nothing looked up, nothing decoded. */
async function clientAlone(url, perFlush) {
  await fetch(`${url}/query`, { method: 'POST', body: new URLSearchParams({ q: 'CREATE DATABASE alone' }) });
  const api = new InfluxDB({ url }).getWriteApi('', 'alone', 'ms', { batchSize: 1e6, flushInterval: 0, maxRetries: 0, gzipThreshold: Infinity });
  api.path = '/write?db=alone&precision=ms';
  const lots = Array.from({ length: perFlush > 1000 ? 100 : 2000 }, (_, lot) => Array.from({ length: perFlush }, (_, index) => `lull_reading,channel=${CHANNELS[index % 7]},generator=site-${index % 40}/gen-1 value=${600 + (index % 90) / 10},received=${NOW + 900}i ${NOW - 5_000_000_000 + lot * 5_000_000 + perFlush * 1000 + index * 1000}`));
  const from = performance.now();
  for (const lines of lots) {
    api.writeRecords(lines);
    await api.flush();
  }
  return (lots.length * perFlush) / ((performance.now() - from) / 1000);
}

async function startInfluxd() {
  const [port, backup] = [await freePort(), await freePort()];
  const home = join(folder, 'influxd');
  const config = join(folder, 'influxdb.conf');
  writeFileSync(config, ['reporting-disabled = true', `bind-address = "127.0.0.1:${backup}"`, '[meta]', `dir = "${home}/meta"`, '[data]', `dir = "${home}/data"`, `wal-dir = "${home}/wal"`, 'query-log-enabled = false', '[monitor]', 'store-enabled = false', '[http]', `bind-address = "127.0.0.1:${port}"`, 'log-enabled = false', ''].join('\n'));
  children.push(spawn(findProgram('influxd'), ['run', '-config', config], { stdio: 'ignore' }));
  const url = `http://127.0.0.1:${port}`;
  while (!(await fetch(`${url}/ping`).then((answer) => answer.ok, () => false))) await sleep(100);
  return url;
}

async function startMosquitto() {
  const port = await freePort();
  const config = join(folder, 'mosquitto.conf');
  writeFileSync(config, [`listener ${port} 127.0.0.1`, 'allow_anonymous true', 'max_queued_messages 1000000', 'set_tcp_nodelay true', ''].join('\n'));
  children.push(spawn(findProgram('mosquitto'), ['-c', config], { stdio: 'ignore' }));
  await sleep(500);
  return `mqtt://127.0.0.1:${port}`;
}

async function freePort() {
  const probe = createServer().listen(0, '127.0.0.1');
  await once(probe, 'listening');
  const { port } = probe.address();
  probe.close();
  await once(probe, 'close');
  return port;
}
