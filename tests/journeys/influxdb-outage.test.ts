// Issue: readings in InfluxDB. The real server is killed and frozen in mid-ingest: gateways get no acknowledgement
// meanwhile, nothing is lost or doubled, memory stays bounded, and all goes on by itself when it is back.
import { setTimeout as sleep } from 'node:timers/promises';
import mqtt, { type MqttClient } from 'mqtt';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Ingest, startIngest } from '../../ingest/ingest.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import { type Reading, readingBatch, readingsOf } from '../../shared/reading-batch.ts';
import { type InfluxReadingStore, openInfluxReadings } from '../../shared/store/influxdb-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import { type Influxd, startInfluxd } from '../shared/store/influxd.ts';
import { eventually } from './lull-process.ts';

/** Short, so that a frozen server is noticed within the time of a test; 10 s in the program. */
const ANSWER_WITHIN_MS = 1500;
const QUAY = 'quay-7/gen-1' as GeneratorKey;

let influxd: Influxd;
let store: InfluxReadingStore;
let ingest: Ingest;
let gateways: MqttClient[];
let told: Reading[];
beforeEach(async () => {
  influxd = await startInfluxd();
  store = await openInfluxReadings({ target: { kind: 'database', url: influxd.url, database: 'lull', retentionPolicy: '', user: '', password: '' }, keepDays: 400, log: SILENT_LOG, answerWithinMs: ANSWER_WITHIN_MS });
  told = [];
  ingest = await startIngest({ source: { kind: 'embedded', host: '127.0.0.1', port: 0 }, readings: store, records: openMemoryRecords(), registry: () => undefined, clock: { nowMs: () => Date.now() }, log: SILENT_LOG, onEvent: (event: LogEvent) => (event.kind === 'readings' ? void told.push(...readingsOf(event.batch)) : undefined) });
  gateways = await Promise.all(Array.from({ length: 4 }, (_, index) => mqtt.connectAsync(`mqtt://127.0.0.1:${ingest.port}`, { clientId: `gw-${index}` })));
});
afterEach(async () => {
  await ingest.stop();
  await Promise.all(gateways.map((gateway) => gateway.endAsync(true)));
  await store.close();
  await influxd.stop();
});

/** Gateways that publish a packet every 10 ms, each when its last one was acknowledged, until told to stop. */
function publishing(): { stop(): Promise<void>; sent(): number; acknowledged(): number } {
  let [on, sent, acknowledged] = [true, 0, 0];
  const baseMs = Date.now() - 60_000;
  const loops = gateways.map(async (gateway, index) => {
    for (let count = 0; on; count += 1) {
      sent += 1;
      await gateway.publishAsync(`lull/v1/quay-${index}/gen-1/readings`, JSON.stringify([{ bt: (baseMs + count * 10) / 1000, n: 'tank-pressure', u: 'kPa', v: 500 + (count % 200) }, { n: 'running', vb: count % 2 === 0 }]), { qos: 1 });
      acknowledged += 1;
      await sleep(10);
    }
  });
  return {
    sent: () => sent,
    acknowledged: () => acknowledged,
    async stop() {
      on = false;
      await Promise.all(loops);
    },
  };
}

async function expectEachReadingOnce(packets: number): Promise<void> {
  const log: Reading[] = [];
  for await (const batch of store.byReceipt({ fromMs: 0, toMs: Infinity })) log.push(...readingsOf(batch));
  const name = (one: Reading): string => `${one.generator}/${one.channel} ${one.atMs} ${one.value}`;
  expect(log.length).toBe(packets * 2);
  expect(new Set(log.map(name)).size).toBe(packets * 2);
  // Analysis was told of each of them, once, in order of receipt.
  expect(told.map(name).sort()).toEqual(log.map(name).sort());
  expect(told.every((one, index) => index === 0 || one.receivedMs >= told[index - 1]!.receivedMs)).toBe(true);
  const counted = (await store.series()).reduce((sum, one) => sum + one.count, 0);
  expect(counted).toBe(packets * 2);
}

test.each([
  ['killed', () => influxd.pause('SIGKILL'), () => influxd.start(), /ECONNREFUSED|socket hang up|ECONNRESET/],
  ['frozen', async () => influxd.freeze(), async () => influxd.thaw(), /timed out/],
] as const)('a server that is %s in mid-ingest loses and doubles nothing, and says why nothing is acknowledged', async (_how, away, back, says) => {
  const run = publishing();
  await eventually('the first acknowledgements', 10, () => (run.acknowledged() > 100 ? true : undefined));
  await away();
  await eventually('a status that says why', 15, () => (!ingest.status().storeWritable && says.test(ingest.status().storeSays ?? '') ? true : undefined));
  const before = run.acknowledged();
  await sleep(2500);
  expect(run.acknowledged()).toBe(before);
  expect(ingest.status()).toMatchObject({ storeWritable: false, queueLength: gateways.length });
  // The pages still show what was last known.
  expect((await store.latest()).length).toBe(gateways.length * 2);
  await back();
  await eventually('acknowledgements again', 20, () => (run.acknowledged() > before + 20 ? true : undefined));
  await run.stop();
  expect(run.acknowledged()).toBe(run.sent());
  expect(ingest.status()).toMatchObject({ storeWritable: true, storeSays: '' });
  await expectEachReadingOnce(run.sent());
});

test('a server killed with -9 again and again has every batch that it answered', async () => {
  const kept: Reading[] = [];
  for (let round = 0; round < 5; round += 1) {
    let going = true;
    const writing = (async () => {
      while (going) {
        const receivedMs = Date.now();
        const batch = readingBatch(Array.from({ length: 50 }, (_, index) => ({ generator: QUAY, channel: 'starts', atMs: Date.UTC(2026, 0, 1) + (kept.length + index) * 1000, value: kept.length + index, quality: 0, receivedMs }) satisfies Reading));
        await store.append(batch);
        kept.push(...readingsOf(batch));
      }
    })().catch(() => undefined);
    await sleep(150 + round * 70);
    await influxd.pause('SIGKILL');
    await writing;
    going = false;
    await influxd.start();
  }
  const found = [...readingsOf(await store.byDeviceTime({ generator: QUAY, fromMs: 0, toMs: Infinity }))].map((one) => one.value);
  expect(kept.length).toBeGreaterThan(500);
  expect(found.slice(0, kept.length)).toEqual(kept.map((one) => one.value));
  expect(new Set(found).size).toBe(found.length);
});
