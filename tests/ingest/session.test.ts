// Issue: "The main job, end to end, on real input": gateway → broker → ingest → store at QoS 1, with Debian's mosquitto.
import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import mqtt from 'mqtt';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { startIngest, type Ingest } from '../../ingest/ingest.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import { readingsOf } from '../../shared/reading-batch.ts';
import { openDuckdbReadings } from '../../shared/store/duckdb-readings.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import { failingStore } from './failing-store.ts';
import { type Mosquitto, startMosquitto, until } from './mosquitto.ts';

const TOPIC = 'lull/v1/quay-7/gen-1/readings';
const clock = { nowMs: () => Date.now() };
let broker: Mosquitto;
const running: Ingest[] = [];
beforeEach(async () => void (broker = await startMosquitto()));
afterEach(async () => {
  await Promise.all(running.splice(0).map((ingest) => ingest.stop()));
  await broker.stop();
});

async function ingestInto(readings: ReadingStore, records = openMemoryRecords()) {
  const events: LogEvent[] = [];
  const lines: string[] = [];
  const log = { ...SILENT_LOG, warn: (line: string) => void lines.push(line), error: (line: string) => void lines.push(line), info: (line: string) => void lines.push(line) };
  const ingest = await startIngest({ source: { kind: 'broker', url: broker.url, clientId: 'lull-test' }, readings, records, registry: () => undefined, clock, log, onEvent: (event) => events.push(event) });
  running.push(ingest);
  return { ingest, events, lines, records };
}
const count = async (store: ReadingStore): Promise<number> => (await store.series()).reduce((sum, one) => sum + one.count, 0);
const pack = (index: number) => JSON.stringify([{ bn: 'gen-1:', bt: 1_772_452_800 + index, n: 'tank-pressure', u: 'bar', v: 5 + (index % 200) / 100 }, { n: 'running', vb: index % 3 === 0 }]);

test('startIngest() loses nothing and doubles nothing when it is stopped and started in the middle', async () => {
  const store = openMemoryReadings();
  const records = openMemoryRecords();
  const first = await ingestInto(store, records);
  await until(() => first.ingest.status().brokerConnected);
  const gateway = await mqtt.connectAsync(broker.url);
  const published: Promise<unknown>[] = [];
  const events: LogEvent[] = [];
  for (let index = 0; index < 1500; index += 1) {
    published.push(gateway.publishAsync(TOPIC, pack(index), { qos: 1 }));
    if (index % 100 === 0) await sleep(5);
    if (index === 500) {
      await first.ingest.stop();
      running.length = 0;
      events.push(...first.events);
    }
  }
  await Promise.all(published);
  const before = await count(store);
  expect(before).toBeLessThan(3000);
  const second = await ingestInto(store, records);
  await until(async () => (await count(store)) === 3000);
  await sleep(200);
  expect(await count(store)).toBe(3000);
  // Analysis heard of each reading once, in order of receipt.
  const heard = [...events, ...second.events].flatMap((event) => (event.kind === 'readings' ? [...readingsOf(event.batch)] : []));
  expect(new Set(heard.map((one) => `${one.channel} ${one.atMs}`)).size).toBe(3000);
  expect(heard.length).toBe(3000);
  expect(heard.every((one, index) => index === 0 || one.receivedMs >= heard[index - 1]!.receivedMs)).toBe(true);
  expect(await records.dirty()).toMatchObject([{ generator: 'quay-7/gen-1' }]);
  await gateway.endAsync();
});

test('startIngest() acknowledges nothing while the store fails, says so, and has everything afterwards', async () => {
  const store = failingStore(openMemoryReadings());
  const { ingest, events } = await ingestInto(store);
  await until(() => ingest.status().brokerConnected);
  store.failing = true;
  store.afterwards = true;
  const gateway = await mqtt.connectAsync(broker.url);
  await Promise.all(Array.from({ length: 300 }, (_, index) => gateway.publishAsync(TOPIC, pack(index), { qos: 1 })));
  await until(() => !ingest.status().storeWritable && store.refusals > 2);
  expect(ingest.status().queueLength).toBeLessThanOrEqual(1);
  expect(events).toEqual([]);
  expect(ingest.committedThroughMs()).toBeLessThan(Date.now() - 100);
  store.failing = false;
  await until(async () => (await count(store)) === 600);
  await until(() => ingest.status().storeWritable && ingest.status().queueLength === 0);
  // Also the packet that was half kept when the store failed is told to analysis.
  expect(events.flatMap((event) => (event.kind === 'readings' ? [...readingsOf(event.batch)] : [])).length).toBe(600);
  expect(ingest.status().readingsPerMinute).toBe(600);
  await gateway.endAsync();
});

test('startIngest() outlasts connections that break while the store fails, and stops in the middle of it', async () => {
  const store = failingStore(openMemoryReadings());
  const records = openMemoryRecords();
  const { ingest } = await ingestInto(store, records);
  await until(() => ingest.status().brokerConnected);
  store.failing = true;
  const gateway = await mqtt.connectAsync(broker.url);
  await Promise.all(Array.from({ length: 100 }, (_, index) => gateway.publishAsync(TOPIC, pack(index), { qos: 1 })));
  await gateway.endAsync();
  for (const _ of [1, 2]) {
    await broker.pause();
    await until(() => !ingest.status().brokerConnected);
    await broker.start();
    await until(() => ingest.status().brokerConnected);
    await sleep(300);
    // The packet in hand, and its repeat on the new connection.
    expect(ingest.status().queueLength).toBeLessThanOrEqual(2);
  }
  const begun = performance.now();
  await ingest.stop();
  running.length = 0;
  expect(performance.now() - begun).toBeLessThan(5000);
  expect(await count(store)).toBe(0);

  const again = await ingestInto(store, records);
  await until(() => again.ingest.status().queueLength > 0);
  await broker.pause();
  await broker.start();
  await until(() => again.ingest.status().brokerConnected);
  store.failing = false;
  await until(async () => (await count(store)) === 200, 30_000);
  await until(() => again.ingest.status().queueLength === 0);
  expect(again.events.flatMap((event) => (event.kind === 'readings' ? [...readingsOf(event.batch)] : [])).length).toBe(200);
});

test('startIngest() connects again by itself after the broker was away', async () => {
  const store = openMemoryReadings();
  const { ingest, lines } = await ingestInto(store);
  await until(() => ingest.status().brokerConnected);
  await broker.pause();
  await until(() => !ingest.status().brokerConnected);
  expect(lines.some((line) => line.includes('lost the broker'))).toBe(true);
  await until(() => ingest.status().brokerSays.includes("can't connect"));
  await broker.start();
  await until(() => ingest.status().brokerConnected);
  const gateway = await mqtt.connectAsync(broker.url);
  await gateway.publishAsync(TOPIC, pack(1), { qos: 1 });
  await until(async () => (await count(store)) === 2);
  await gateway.endAsync();
});

test('startIngest() saves a gateway as offline when its will is sent, once', async () => {
  const { ingest, events, records } = await ingestInto(openMemoryReadings());
  await until(() => ingest.status().brokerConnected);
  const topic = 'lull/v1/quay-7/presence/gw-1';
  const gateway = await mqtt.connectAsync(broker.url, { reconnectPeriod: 0, will: { topic, payload: Buffer.from('{"online":false,"generators":["gen-1"]}'), qos: 1, retain: true } });
  await gateway.publishAsync(topic, '{"online":true,"generators":["gen-1"]}', { qos: 1, retain: true });
  await until(async () => (await records.presence())[0]?.online === true);
  gateway.stream.destroy();
  await until(async () => (await records.presence())[0]?.online === false);
  expect(events.flatMap((event) => (event.kind === 'presence' ? [event.event.online] : []))).toEqual([true, false]);
  await ingest.stop();
  running.length = 0;
  // The retained message comes again with the new subscription; it is no news.
  const again = await ingestInto(openMemoryReadings(), records);
  await until(() => again.ingest.status().brokerConnected);
  await sleep(300);
  expect(again.events).toEqual([]);
});

test('the line of the README works as pasted', async () => {
  const store = openMemoryReadings();
  const { ingest } = await ingestInto(store);
  await until(() => ingest.status().brokerConnected);
  const line = `mosquitto_pub -q 1 -t lull/v1/quay-7/gen-1/readings -m '[{"bn":"gen-1:","n":"tank-pressure","u":"bar","v":6.4},{"n":"running","vb":true}]'`;
  execFileSync('sh', ['-c', `${line} -p ${broker.port}`]);
  await until(async () => (await count(store)) === 2);
  expect((await store.latest()).map(({ channel, value }) => [channel, value])).toEqual(expect.arrayContaining([['tank-pressure', 640], ['running', 1]]));
  expect(ingest.recentPackets('quay-7/gen-1' as never)[0]).toMatchObject({ readings: 2, refused: [] });
  expect(ingest.sentUnit('quay-7/gen-1' as never, 'tank-pressure')).toBe('bar');
});

test('startIngest() says which rights are missing when the broker refuses', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lull-passwords-'));
  const file = join(folder, 'passwords');
  writeFileSync(file, '');
  execFileSync('mosquitto_passwd', ['-b', file, 'lull', 'right']);
  execFileSync('chmod', ['-R', 'a+rX', folder]);
  const guarded = await startMosquitto([`password_file ${file}`], false);
  const ingest = await startIngest({ source: { kind: 'broker', url: guarded.url, user: 'lull', password: 'wrong', clientId: 'x' }, readings: openMemoryReadings(), records: openMemoryRecords(), registry: () => undefined, clock, log: SILENT_LOG, onEvent() {} });
  await until(() => ingest.status().brokerSays.includes('LULL_MQTT_PASSWORD'));
  await ingest.stop();
  const right = await startIngest({ source: { kind: 'broker', url: guarded.url, user: 'lull', password: 'right', clientId: 'x' }, readings: openMemoryReadings(), records: openMemoryRecords(), registry: () => undefined, clock, log: SILENT_LOG, onEvent() {} });
  await until(() => right.status().brokerConnected);
  await right.stop();
  await guarded.stop();
  rmSync(folder, { recursive: true });
});

test('startIngest() reads over TLS with the authority given, and says what is missing without it', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lull-tls-'));
  const file = (name: string) => join(folder, name);
  const openssl = (line: string) => execFileSync('openssl', line.split(' '), { cwd: folder, stdio: 'ignore' });
  openssl('req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -days 2 -subj /CN=invented-authority');
  openssl('req -newkey rsa:2048 -nodes -keyout server.key -out server.csr -subj /CN=localhost -addext subjectAltName=DNS:localhost');
  openssl('x509 -req -in server.csr -CA ca.pem -CAkey ca.key -CAcreateserial -copy_extensions copy -days 2 -out server.pem');
  execFileSync('chmod', ['-R', 'a+rX', folder]);
  const secret = await startMosquitto([`cafile ${file('ca.pem')}`, `certfile ${file('server.pem')}`, `keyfile ${file('server.key')}`]);
  const open = async (ca?: Buffer) => {
    const ingest = await startIngest({ source: { kind: 'broker', url: `mqtts://localhost:${secret.port}`, clientId: 'tls', ...(ca === undefined ? {} : { ca }) }, readings: openMemoryReadings(), records: openMemoryRecords(), registry: () => undefined, clock, log: SILENT_LOG, onEvent() {} });
    running.push(ingest);
    return ingest;
  };
  const without = await open();
  await until(() => without.status().brokerSays.includes('LULL_MQTT_CA_FILE'));
  const given = await open(readFileSync(file('ca.pem')));
  await until(() => given.status().brokerConnected);
  await Promise.all(running.splice(0).map((ingest) => ingest.stop()));
  await secret.stop();
  rmSync(folder, { recursive: true });
});

test('an ingest process that is killed (kill -9) loses no acknowledged reading', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lull-kill-'));
  const start = () => spawn(process.execPath, [join(import.meta.dirname, 'ingest-process.mjs'), folder, broker.url], { stdio: ['ignore', 'pipe', 'inherit'] });
  let child = start();
  await once(child.stdout, 'data');
  const gateway = await mqtt.connectAsync(broker.url);
  const published: Promise<unknown>[] = [];
  for (let index = 0; index < 1200; index += 1) {
    published.push(gateway.publishAsync(TOPIC, pack(index), { qos: 1 }));
    if (index % 20 === 0) await sleep(10);
    if (index === 300 || index === 700) {
      const gone = once(child, 'exit');
      child.kill('SIGKILL');
      await gone;
      child = start();
    }
  }
  await Promise.all(published);
  await new Promise<void>((resolve) => child.stdout.on('data', (text: Buffer) => text.includes('quiet') && resolve()));
  const gone = once(child, 'exit');
  child.kill('SIGKILL');
  await gone;
  const store = await openDuckdbReadings({ folder: join(folder, 'readings'), memoryMB: 256, threads: 1, log: SILENT_LOG });
  expect(await count(store)).toBe(2400);
  await store.close();
  await gateway.endAsync();
  rmSync(folder, { recursive: true });
});
