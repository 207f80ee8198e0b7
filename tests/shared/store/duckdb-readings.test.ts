// Issue: the main job. DuckDB is held to the list of every reading store, and to what is its own: sorting, roll-ups, one opener.
import { afterEach, describe, expect, test } from 'vitest';
import { StoreError } from '../../../shared/errors.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { type Reading, readingBatch, readingsOf } from '../../../shared/reading-batch.ts';
import { openDuckdbReadings } from '../../../shared/store/duckdb-readings.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';
import { readingStoreContract } from './reading-store.contract.ts';
import { tempFolder } from './temp-folder.ts';

const open = (folder: string) => openDuckdbReadings({ folder, memoryMB: 256, threads: 2, log: SILENT_LOG });

readingStoreContract('DuckDB', async () => {
  const folder = await tempFolder();
  let store = await open(folder.path);
  return {
    store,
    async reopen() {
      await store.close();
      store = await open(folder.path);
      return store;
    },
    async clean() {
      await store.close();
      await folder.remove();
    },
  };
}, { persistent: true });

const QUAY = 'quay-7/gen-1' as GeneratorKey;
const START = Date.UTC(2026, 0, 1);
const year = { fromMs: START, toMs: START + 365 * DAY_MS } as const;

function hourly(days: number, channel: 'tank-pressure' | 'running', receivedMs: number): Reading[] {
  return Array.from({ length: days * 24 * 2 }, (_, index) => ({ generator: QUAY, channel, atMs: START + index * 30 * MINUTE_MS, value: index % 7, quality: 0, receivedMs: receivedMs + index }));
}

describe('openDuckdbReadings()', () => {
  let folder: Awaited<ReturnType<typeof tempFolder>> | undefined;
  afterEach(() => folder?.remove());

  test('tidy() sorts closed months once, and changes no reading', async () => {
    folder = await tempFolder();
    const store = await open(folder.path);
    await store.append(readingBatch([...hourly(80, 'tank-pressure', START), ...hourly(80, 'running', START)]));
    const before = [...readingsOf(await store.byDeviceTime({ generator: QUAY, ...year }))];
    // A month is closed three days after its end.
    expect(await store.tidy(Date.UTC(2026, 2, 3))).toEqual(['2026_01']);
    expect(await store.tidy(Date.UTC(2026, 2, 4))).toEqual(['2026_02']);
    expect(await store.tidy(Date.UTC(2026, 2, 4))).toEqual([]);
    expect([...readingsOf(await store.byDeviceTime({ generator: QUAY, ...year }))]).toEqual(before);
    // 600 late ones are 17 % of January: it is sorted again. A handful would not be worth it.
    const late = Array.from({ length: 600 }, (_, index) => ({ generator: QUAY, channel: 'starts', atMs: START + index * HOUR_MS, value: index, quality: 0, receivedMs: START } as const));
    expect((await store.append(readingBatch(late))).kept.atMs.length).toBe(600);
    expect(await store.tidy(Date.UTC(2026, 2, 4))).toEqual(['2026_01']);
    expect((await store.append(readingBatch(late))).doubled).toBe(600);
    await store.close();
    const again = await open(folder.path);
    expect((await again.byDeviceTime({ generator: QUAY, ...year })).atMs.length).toBe(before.length + 600);
    await again.close();
  });

  test('tidy() loses and doubles nothing of what is appended meanwhile', async () => {
    folder = await tempFolder();
    const store = await open(folder.path);
    await store.append(readingBatch(hourly(80, 'tank-pressure', START)));
    const tidying = store.tidy(START + 200 * DAY_MS);
    const appends = Array.from({ length: 50 }, (_, index) => store.append(readingBatch([{ generator: QUAY, channel: 'starts', atMs: START + index * HOUR_MS, value: index, quality: 0, receivedMs: START }])));
    const reads = Array.from({ length: 50 }, () => store.byDeviceTime({ generator: QUAY, ...year, channels: ['tank-pressure'] }));
    await Promise.all([tidying, ...appends]);
    for (const batch of await Promise.all(reads)) expect(batch.atMs.length).toBe(80 * 48);
    expect((await store.byDeviceTime({ generator: QUAY, ...year })).atMs.length).toBe(80 * 48 + 50);
    await store.close();
  });

  test('expire() keeps hourly roll-ups, and buckets() draws them on', async () => {
    folder = await tempFolder();
    const store = await open(folder.path);
    await store.append(readingBatch(hourly(80, 'tank-pressure', START)));
    const query = { generator: QUAY, channel: 'tank-pressure', fromMs: START, toMs: START + 80 * DAY_MS, buckets: 80 } as const;
    const before = await store.buckets(query);
    await store.expire(START + 80 * DAY_MS);
    expect((await store.byDeviceTime({ generator: QUAY, ...year })).atMs[0]).toBe(Date.UTC(2026, 2, 1));
    const after = await store.buckets(query);
    expect(after.map((one) => [one.fromMs, one.count, one.min, one.max])).toEqual(before.map((one) => [one.fromMs, one.count, one.min, one.max]));
    after.forEach((one, index) => expect(one.mean).toBeCloseTo(before[index]!.mean, 9));
    // A reading that comes for an expired month is kept, and rolled up with the others at the next expiry.
    await store.append(readingBatch([{ generator: QUAY, channel: 'tank-pressure', atMs: START + 1, value: 100, quality: 0, receivedMs: START }]));
    await store.expire(START + 80 * DAY_MS);
    const [first] = await store.buckets(query);
    expect(first).toMatchObject({ count: before[0]!.count + 1, max: 100 });
    await store.close();
  });

  test('byReceipt() cuts a log that is too large to sort, also where all was received in one millisecond', async () => {
    folder = await tempFolder();
    const store = await open(folder.path);
    const PIER = 'pier-2/gen-1' as GeneratorKey;
    // 600,000 within a second, then 600,000 in one millisecond, each of two generators and two channels.
    const rows = 600_000;
    for (const [part, receivedMs] of [(index: number) => START + 1 + Math.floor(index / 1000), () => START + 5000].entries()) {
      await store.append({
        series: [{ generator: QUAY, channel: 'tank-pressure' }, { generator: PIER, channel: 'running' }, { generator: QUAY, channel: 'running' }, { generator: PIER, channel: 'power' }],
        seriesIndex: Uint32Array.from({ length: rows }, (_, index) => index % 4), atMs: Float64Array.from({ length: rows }, (_, index) => START + (part * rows + index) * 10_000), value: new Float64Array(rows), quality: new Uint8Array(rows),
        receivedMs: Float64Array.from({ length: rows }, (_, index) => receivedMs(index)),
      });
    }
    let count = 0;
    let before: readonly [number, string, number, string] = [0, '', 0, ''];
    let outOfOrder = 0;
    for await (const batch of store.byReceipt({ fromMs: 0, toMs: Infinity })) {
      for (const one of readingsOf(batch)) {
        const here = [one.receivedMs, one.generator, one.atMs, one.channel] as const;
        const place = here.findIndex((part, index) => part !== before[index]);
        // Strictly rising, so none is there twice.
        if (place < 0 || here[place]! < before[place]!) outOfOrder += 1;
        before = here;
        count += 1;
      }
    }
    expect(outOfOrder).toBe(0);
    expect(count).toBe(2 * rows);
    let some = 0;
    for await (const batch of store.byReceipt({ fromMs: START + 5000, toMs: START + 5001, generators: [PIER] })) some += batch.atMs.length;
    expect(some).toBe(rows / 2);
    await store.close();
  });

  test('close() ends queries that are under way, and the file can be opened at once', async () => {
    folder = await tempFolder();
    const store = await open(folder.path);
    await store.append(readingBatch(hourly(365, 'tank-pressure', START)));
    const stream = store.byReceipt({ fromMs: 0, toMs: Infinity })[Symbol.asyncIterator]();
    expect((await stream.next()).done).toBe(false);
    const reads = Array.from({ length: 20 }, () => store.byDeviceTime({ generator: QUAY, ...year }).then((batch) => batch.atMs.length, (error: unknown) => error));
    await store.close();
    for (const outcome of await Promise.all(reads)) expect(outcome === 365 * 48 || outcome instanceof StoreError).toBe(true);
    expect(await stream.next().then((next) => next.done === true, (error: unknown) => error instanceof StoreError)).toBe(true);
    const again = await open(folder.path);
    expect((await again.append(readingBatch(hourly(365, 'tank-pressure', START)))).doubled).toBe(365 * 48);
    await again.close();
  });

  test('openDuckdbReadings() says so when the file is open already', async () => {
    folder = await tempFolder();
    const store = await open(folder.path);
    await expect(open(folder.path)).rejects.toThrow(/already open in this process/);
    await store.close();
    await (await open(folder.path)).close();
  });
});
