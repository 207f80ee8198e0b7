// Issue: readings in InfluxDB. What is this store's own, on the real server: how readings lie there, settings that can't
// work, what the server will never take, the log in pieces, sums of the server's against sums of ours.
import * as fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { openDesk } from '../../../ingest/desk.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { type Reading, readingBatch, readingsOf } from '../../../shared/reading-batch.ts';
import { InfluxSetupError } from '../../../shared/store/influxdb-errors.ts';
import { readInfluxLog } from '../../../shared/store/influxdb-log.ts';
import { type InfluxReadingStore, openInfluxReadings } from '../../../shared/store/influxdb-readings.ts';
import { connectInflux, type InfluxTarget } from '../../../shared/store/influxdb-server.ts';
import { durationMs } from '../../../shared/store/influxdb-setup.ts';
import { openMemoryReadings } from '../../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../../shared/store/memory-records.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';
import { type Influxd, startInfluxd } from './influxd.ts';

const QUAY = 'quay-7/gen-1' as GeneratorKey;
const PIER = 'pier-2/gen-1' as GeneratorKey;
const NOW = Date.now();

let influxd: Influxd;
let database: string;
let databases = 0;
beforeAll(async () => {
  influxd = await startInfluxd();
});
beforeEach(() => {
  database = `own-${(databases += 1)}`;
});
afterAll(() => influxd.stop());

const target = (more: Partial<InfluxTarget & { kind: 'database' }> = {}): InfluxTarget => ({ kind: 'database', url: influxd.url, database, retentionPolicy: '', user: '', password: '', ...more });
const open = (more: Partial<InfluxTarget & { kind: 'database' }> = {}, keepDays = 400): Promise<InfluxReadingStore> => openInfluxReadings({ target: target(more), keepDays, log: SILENT_LOG });
const tank = (atMs: number, value: number, receivedMs = atMs, generator = QUAY): Reading => ({ generator, channel: 'tank-pressure', atMs, value, quality: 0, receivedMs });

async function refusal(opening: Promise<InfluxReadingStore>): Promise<[string, string]> {
  const error = await opening.then(() => undefined, (failed: unknown) => failed);
  expect(error).toBeInstanceOf(InfluxSetupError);
  return [(error as InfluxSetupError).about, (error as InfluxSetupError).message];
}

test('readings lie in the database as the schema says, for anyone to read', async () => {
  const store = await open();
  await store.append(readingBatch([tank(NOW, 640, NOW + 1500), { ...tank(NOW + 1, 641.25), quality: 1 }]));
  await store.close();
  const answer = (await influxd.ask(`SELECT * FROM "${database}".."lull_reading"`)) as { results: { series: unknown[] }[] };
  expect(answer.results[0]?.series).toEqual([{ name: 'lull_reading', columns: ['time', 'channel', 'generator', 'quality', 'received', 'value'], values: [[NOW, 'tank-pressure', QUAY, null, NOW + 1500, 640], [NOW + 1, 'tank-pressure', QUAY, 1, NOW + 1, 641.25]] }]);
});

test('openInfluxReadings() creates the database, and refuses what can not work with the setting to change', async () => {
  await (await open()).close();
  expect(JSON.stringify(await influxd.ask(`SHOW RETENTION POLICIES ON "${database}"`))).toContain('["autogen","0s","720h0m0s",1,true]');
  expect(await refusal(open({ retentionPolicy: 'nonesuch' }))).toEqual(['retention-policy', `database ${database} has no retention policy nonesuch; it has autogen`]);
  await influxd.ask(`CREATE RETENTION POLICY "short" ON "${database}" DURATION 30d REPLICATION 1`);
  expect(await refusal(open({ retentionPolicy: 'short' }))).toEqual(['retention-policy', `retention policy short of database ${database} drops readings after 30 days, and they are to be kept 400`]);
  const month = await open({ retentionPolicy: 'short' }, 30);
  await month.append(readingBatch([tank(NOW, 1)]));
  expect((await month.byDeviceTime({ generator: QUAY, fromMs: 0, toMs: Infinity })).atMs.length).toBe(1);
  await month.close();
  const [about, says] = await refusal(openInfluxReadings({ target: { kind: 'bucket', url: influxd.url, database, retentionPolicy: '', organisation: 'acme', bucket: 'lull', token: 'secret' }, keepDays: 400, log: SILENT_LOG }));
  expect([about, says]).toEqual(['database', expect.stringContaining('has databases, no buckets')]);
  await fetch(`${influxd.url}/write?db=${database}`, { method: 'POST', body: 'lull_reading,generator=a/b,channel=c value=1i' });
  expect(await refusal(open())).toEqual(['database', expect.stringContaining('has a field value of type integer')]);
});

test('openInfluxReadings() logs in with name and secret, and says when they are wrong', async () => {
  const guarded = await startInfluxd(['auth-enabled = true']);
  try {
    await guarded.ask("CREATE USER lull WITH PASSWORD 'sesame' WITH ALL PRIVILEGES");
    const url = { url: guarded.url };
    expect(await refusal(open(url))).toEqual(['credentials', expect.stringContaining('401')]);
    expect(await refusal(open({ ...url, user: 'lull', password: 'wrong' }))).toEqual(['credentials', expect.stringContaining('authorization failed')]);
    const store = await open({ ...url, user: 'lull', password: 'sesame' });
    await store.append(readingBatch([tank(NOW, 1)]));
    expect((await store.series()).map((one) => one.count)).toEqual([1]);
    await store.close();
  } finally {
    await guarded.stop();
  }
});

test('append() keeps what the server takes and names what it refuses for good, and ingest quarantines that with its words', async () => {
  await (await open()).close();
  await influxd.ask(`ALTER RETENTION POLICY "autogen" ON "${database}" DURATION 400d`);
  const store = await open();
  const [old, fresh] = [NOW - 500 * DAY_MS, NOW - HOUR_MS];
  const batch = readingBatch([tank(old, 1, NOW), tank(fresh, 2, NOW), tank(old + 1, 3, NOW)]);
  for (const kept of [[2], []]) {
    const result = await store.append(batch);
    expect([...readingsOf(result.kept)].map((one) => one.value)).toEqual(kept);
    expect(result.refused?.map((one) => [one.value, one.says])).toEqual([1, 3].map((value) => [value, expect.stringContaining('partial write: points beyond retention policy')]));
  }
  // Imports are exempt from the limit of age; a gateway's packet gets as far only if the server's retention is shorter than ours.
  await influxd.ask(`ALTER RETENTION POLICY "autogen" ON "${database}" DURATION 60d SHARD DURATION 1d`);
  const records = openMemoryRecords();
  const heard: number[] = [];
  const desk = await openDesk({ readings: store, records, registry: () => undefined, clock: { nowMs: () => Date.now() }, log: SILENT_LOG, onEvent: (event) => (event.kind === 'readings' ? heard.push(...event.batch.value) : undefined) });
  const send = (pack: readonly object[]): Promise<void> => new Promise((resolve, reject) => desk.take({ topic: `lull/v1/${QUAY}/readings`, payload: Buffer.from(JSON.stringify(pack)), dup: false }, (error) => (error === undefined ? resolve() : reject(error))));
  await Promise.all([send([{ bt: NOW / 1000, n: 'feed-pressure', u: 'kPa', v: 600 }]), send([{ bt: NOW / 1000, n: 'tank-pressure', u: 'kPa', v: 650 }, { n: 'discharge-pressure', u: 'kPa', v: 700, t: (-200 * DAY_MS) / 1000 }, { n: 'running', vb: true, t: (-200 * DAY_MS) / 1000 }])]);
  expect(heard.sort((a, b) => a - b)).toEqual([600, 650]);
  const items = await records.quarantined();
  expect(items.map((item) => [item.reason, item.generator, item.channel])).toEqual([['store-refused', QUAY, null]]);
  expect(items[0]?.says).toContain('points beyond retention policy');
  expect(items[0]?.payload).toContain('discharge-pressure');
  expect(desk.status()).toMatchObject({ storeWritable: true, queueLength: 0 });
  // With room for them they can be taken after all.
  await influxd.ask(`ALTER RETENTION POLICY "autogen" ON "${database}" DURATION 400d SHARD DURATION 1d`);
  expect(await desk.release([items[0]!.id], 'a person')).toEqual({ released: 1, stillRefused: 0 });
  expect((await store.byDeviceTime({ generator: QUAY, fromMs: NOW - 300 * DAY_MS, toMs: NOW - 100 * DAY_MS })).atMs.length).toBe(2);
  await desk.stop();
  await store.close();
});

test('readInfluxLog() cuts a log that is too large to put in order at once, also where all was received in one millisecond', async () => {
  const store = await open();
  const memory = openMemoryReadings();
  const crowded = Array.from({ length: 3000 }, (_, index) => tank(NOW - 40 * DAY_MS + Math.floor(index / 2) * 20 * MINUTE_MS, index, NOW, index % 2 === 0 ? QUAY : PIER));
  const plain = Array.from({ length: 4000 }, (_, index) => ({ ...tank(NOW + index * 2000, index, NOW + index * 2000 + (index % 3)), channel: index % 2 === 0 ? ('running' as const) : ('starts' as const) }));
  const after = Array.from({ length: 10 }, (_, index) => tank(NOW + 3 * DAY_MS, index, NOW + 40 * DAY_MS + index, `pier-${index}/gen-1` as GeneratorKey));
  for (const rows of [crowded, plain, after]) {
    await store.append(readingBatch(rows));
    await memory.append(readingBatch(rows));
  }
  const server = connectInflux(target());
  for (const query of [{ fromMs: 0, toMs: Infinity }, { fromMs: NOW + 1, toMs: NOW + HOUR_MS }, { fromMs: NOW, toMs: NOW + 41 * DAY_MS, generators: [PIER] }]) {
    const wanted: Reading[] = [];
    for await (const batch of memory.byReceipt(query)) wanted.push(...readingsOf(batch));
    const found: Reading[] = [];
    for await (const batch of readInfluxLog(server, query, 1000)) found.push(...readingsOf(batch));
    expect(found).toEqual(wanted);
    expect(found.length).toBeGreaterThan(1000);
  }
  server.close();
  await store.close();
});

test('buckets() of the server have the readings that buckets of ours have, whatever the span', async () => {
  const store = await open();
  const memory = openMemoryReadings();
  const rows = Array.from({ length: 3000 }, (_, index) => tank(NOW + index * 997, (index * 37) % 101));
  await store.append(readingBatch(rows));
  await memory.append(readingBatch(rows));
  await fc.assert(
    fc.asyncProperty(fc.integer({ min: -5000, max: 1_000_000 }), fc.integer({ min: 1, max: 2_500_000 }), fc.integer({ min: 1, max: 1100 }), async (fromMs, lengthMs, buckets) => {
      const query = { generator: QUAY, channel: 'tank-pressure', fromMs: NOW + fromMs, toMs: NOW + fromMs + lengthMs, buckets } as const;
      const [found, wanted] = [await store.buckets(query), await memory.buckets(query)];
      expect(found.map(({ mean: _mean, ...rest }) => rest)).toEqual(wanted.map(({ mean: _mean, ...rest }) => rest));
      found.forEach((one, index) => expect(one.mean).toBeCloseTo(wanted[index]!.mean, 9));
    }),
    { numRuns: 60, seed: 20261125 },
  );
  await store.close();
});

test('expire() keeps hourly roll-ups, and buckets() draws them on', async () => {
  const start = Date.UTC(2026, 0, 1);
  let store = await open();
  await store.append(readingBatch(Array.from({ length: 80 * 48 }, (_, index) => tank(start + index * 30 * MINUTE_MS, index % 7))));
  const query = { generator: QUAY, channel: 'tank-pressure', fromMs: start, toMs: start + 80 * DAY_MS, buckets: 80 } as const;
  const before = await store.buckets(query);
  await store.expire(start + 80 * DAY_MS);
  expect((await store.byDeviceTime({ generator: QUAY, fromMs: 0, toMs: Infinity })).atMs[0]).toBe(Date.UTC(2026, 2, 1));
  await store.close();
  store = await open();
  const after = await store.buckets(query);
  expect(after.map((one) => [one.fromMs, one.count, one.min, one.max])).toEqual(before.map((one) => [one.fromMs, one.count, one.min, one.max]));
  after.forEach((one, index) => expect(one.mean).toBeCloseTo(before[index]!.mean, 9));
  // A reading that comes for an expired month is kept, and rolled up beside the others at the next expiry.
  await store.append(readingBatch([tank(start + 1, 100)]));
  for (let again = 0; again < 2; again += 1) await store.expire(start + 80 * DAY_MS);
  const [first] = await store.buckets(query);
  expect(first).toMatchObject({ count: before[0]!.count + 1, max: 100 });
  await store.close();
});

test('empty() takes all of ours away and nothing else', async () => {
  const store = await open();
  await store.append(readingBatch([tank(NOW, 1), tank(NOW + 1, 2)]));
  await fetch(`${influxd.url}/write?db=${database}`, { method: 'POST', body: 'somebody_elses value=1' });
  await store.empty();
  expect([await store.series(), await store.latest(), await store.lastReceivedMs()]).toEqual([[], [], 0]);
  expect((await store.append(readingBatch([tank(NOW, 5)]))).kept.atMs.length).toBe(1);
  expect(JSON.stringify(await influxd.ask(`SELECT count(value) FROM "${database}".."somebody_elses"`))).toContain('[0,1]');
  await store.close();
});

test('durationMs() reads what the server writes', () => {
  expect(['9600h0m0s', '30d', '1w', '90m0s', '0s'].map(durationMs)).toEqual([400 * DAY_MS, 30 * DAY_MS, 7 * DAY_MS, 90 * MINUTE_MS, Infinity]);
});
