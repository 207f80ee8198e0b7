// Issue: "The main job, end to end, on real input", items 2 and 3: the embedded broker acknowledges after the commit.
import { connect as connectTcp } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import mqtt from 'mqtt';
import { afterEach, expect, test } from 'vitest';
import { hashSecret, parseGateways } from '../../ingest/gateways.ts';
import { startIngest, type Ingest, type IngestSource } from '../../ingest/ingest.ts';
import { ConfigError } from '../../shared/errors.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import { readingsOf } from '../../shared/reading-batch.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import { failingStore } from './failing-store.ts';
import { until } from './mosquitto.ts';

const running: Ingest[] = [];
afterEach(async () => void (await Promise.all(running.splice(0).map((ingest) => ingest.stop()))));

async function embedded(readings: ReadingStore = openMemoryReadings(), source: Partial<IngestSource> = {}) {
  const events: LogEvent[] = [];
  const records = openMemoryRecords();
  const warnings: string[] = [];
  const ingest = await startIngest({ source: { kind: 'embedded', host: '127.0.0.1', port: 0, ...source } as IngestSource, readings, records, registry: () => undefined, clock: { nowMs: () => Date.now() }, log: { ...SILENT_LOG, warn: (line) => void warnings.push(line) }, onEvent: (event) => events.push(event) });
  running.push(ingest);
  return { ingest, readings, records, events, warnings, url: `mqtt://127.0.0.1:${ingest.port}` };
}
const count = async (store: ReadingStore): Promise<number> => (await store.series()).reduce((sum, one) => sum + one.count, 0);
const pack = (index: number) => JSON.stringify([{ bt: 1_772_452_800 + index, n: 'tank-pressure', u: 'bar', v: 6 }, { n: 'running', vb: true }]);

test('startEmbeddedBroker() takes 50 gateways at once and acknowledges what is stored', async () => {
  const { url, readings, events, ingest } = await embedded();
  const gateways = await Promise.all(Array.from({ length: 50 }, () => mqtt.connectAsync(url)));
  await Promise.all(gateways.flatMap((gateway, at) => Array.from({ length: 40 }, (_, index) => gateway.publishAsync(`lull/v1/quay-7/gen-${at}/readings`, pack(index), { qos: 1 }))));
  // Every acknowledgement is in, so everything is stored now.
  expect(await count(readings)).toBe(50 * 40 * 2);
  const heard = events.flatMap((event) => (event.kind === 'readings' ? [...readingsOf(event.batch)] : []));
  expect(heard.length).toBe(4000);
  expect(heard.every((one, index) => index === 0 || one.receivedMs >= heard[index - 1]!.receivedMs)).toBe(true);
  expect(ingest.status()).toMatchObject({ brokerConnected: true, storeWritable: true, queueLength: 0, readingsPerMinute: 4000 });
  await Promise.all(gateways.map((gateway) => gateway.endAsync()));
});

test('startEmbeddedBroker() holds PUBACK while the store fails, and takes QoS 0 and 2 too', async () => {
  const store = failingStore(openMemoryReadings());
  const { url, ingest } = await embedded(store);
  const gateway = await mqtt.connectAsync(url);
  store.failing = true;
  let acknowledged = 0;
  const published = [0, 1, 2].map((qos) => gateway.publishAsync('lull/v1/quay-7/gen-1/readings', pack(qos), { qos: qos as 0 | 1 | 2 }).then(() => (acknowledged += qos === 0 ? 0 : 1)));
  await until(() => store.refusals > 1);
  await sleep(200);
  expect(acknowledged).toBe(0);
  expect(ingest.status()).toMatchObject({ storeWritable: false, queueLength: 3 });
  store.failing = false;
  await Promise.all(published);
  expect(await count(store)).toBe(6);
  await gateway.endAsync();
});

test('startEmbeddedBroker() passes wills and retained presence on to ingest and to subscribers, but not when it stops itself', async () => {
  const { url, records, ingest, events } = await embedded();
  const topic = 'lull/v1/quay-7/presence/gw-1';
  const open = async () => {
    const gateway = await mqtt.connectAsync(url, { reconnectPeriod: 0, will: { topic, payload: Buffer.from('{"online":false,"generators":["gen-1"]}'), qos: 1, retain: true } });
    await gateway.publishAsync(topic, '{"online":true,"generators":["gen-1"]}', { qos: 1, retain: true });
    return gateway;
  };
  const first = await open();
  expect((await records.presence())[0]).toMatchObject({ online: true, generators: ['quay-7/gen-1'] });
  first.stream.destroy();
  await until(async () => (await records.presence())[0]?.online === false);
  const reader = await mqtt.connectAsync(url);
  const retained = new Promise<string>((resolve) => reader.on('message', (_, payload) => resolve(payload.toString())));
  await reader.subscribeAsync('lull/v1/+/presence/+', { qos: 1 });
  expect(JSON.parse(await retained)).toEqual({ online: false, generators: ['gen-1'] });
  await open();
  await ingest.stop();
  running.length = 0;
  expect((await records.presence())[0]?.online).toBe(true);
  expect(events.flatMap((event) => (event.kind === 'presence' ? [event.event.online] : []))).toEqual([true, false, true]);
  await reader.endAsync(true);
});

test('startEmbeddedBroker() ends connections that publish elsewhere or announce huge packets', async () => {
  const { url, ingest, warnings } = await embedded();
  for (const topic of ['$SYS/x', 'elsewhere/x']) {
    const gateway = await mqtt.connectAsync(url, { reconnectPeriod: 0 });
    const closed = new Promise<void>((resolve) => gateway.on('close', () => resolve()));
    gateway.publish(topic, 'x', { qos: 1 });
    await closed;
  }
  const socket = connectTcp(ingest.port!, '127.0.0.1');
  const closed = new Promise<void>((resolve) => socket.on('close', () => resolve()));
  socket.on('error', () => {});
  // A PUBLISH of 256 MB is announced: fixed header 0x30 and the largest remaining length.
  socket.write(Buffer.from([0x30, 0xff, 0xff, 0xff, 0x7f]));
  await closed;
  expect(warnings.some((line) => line.includes('announced a packet of 268435455 bytes'))).toBe(true);
  // Quarantined, not refused: a topic of ours that can't be read, and a payload that is too large to be read.
  const gateway = await mqtt.connectAsync(url);
  await gateway.publishAsync('lull/v1/quay-7/gen-1', '[]', { qos: 1 });
  await gateway.publishAsync('lull/v1/quay-7/gen-1/readings', 'x'.repeat(300_000), { qos: 1 });
  expect(ingest.status().quarantinedSinceStart).toBe(2);
  await gateway.endAsync();
});

test('startEmbeddedBroker() listens off loopback only for gateways that it knows, each under its own sites', async () => {
  await expect(embedded(undefined, { host: '0.0.0.0' })).rejects.toThrow(ConfigError);
  const secret = await hashSecret('open sesame', Buffer.alloc(16, 7));
  const gateways = parseGateways(`gateways:\n  - { name: gw-1, secret: "${secret}", sites: [quay-7] }\n`);
  const { url, readings } = await embedded(undefined, { host: '0.0.0.0', gateways });
  await expect(mqtt.connectAsync(url, { reconnectPeriod: 0 })).rejects.toThrow();
  await expect(mqtt.connectAsync(url, { reconnectPeriod: 0, username: 'gw-1', password: 'wrong' })).rejects.toThrow();
  await expect(mqtt.connectAsync(url, { reconnectPeriod: 0, username: 'gw-2', password: 'open sesame' })).rejects.toThrow();
  const login = { reconnectPeriod: 0, username: 'gw-1', password: 'open sesame' };
  const gateway = await mqtt.connectAsync(url, login);
  await gateway.publishAsync('lull/v1/quay-7/gen-1/readings', pack(1), { qos: 1 });
  expect(await count(readings)).toBe(2);
  for (const topic of ['lull/v1/pier-1/gen-1/readings', 'lull/v1/quay-7/presence/gw-9']) {
    const stranger = await mqtt.connectAsync(url, login);
    const closed = new Promise<void>((resolve) => stranger.on('close', () => resolve()));
    stranger.publish(topic, '{}', { qos: 1 });
    await closed;
  }
  expect(await count(readings)).toBe(2);
  expect((await gateway.subscribeAsync('lull/v1/pier-1/#').catch(() => [{ qos: 128 }]))[0]?.qos).toBe(128);
  await gateway.endAsync();
});

test('parseGateways() lists what is wrong', () => {
  expect(() => parseGateways('gateways: [{ name: GW, secret: plain, sites: [] }]')).toThrow(/name.*secret.*sites/s);
  expect(() => parseGateways('[')).toThrow(ConfigError);
});
