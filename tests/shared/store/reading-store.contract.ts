import * as fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Channel } from '../../../shared/channels.ts';
import { StoreError } from '../../../shared/errors.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { EMPTY_BATCH, type Reading, readingBatch, type ReadingBatch, readingsOf } from '../../../shared/reading-batch.ts';
import type { ReadingStore } from '../../../shared/store/reading-store.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';

/** A store to be held to the contract, empty when opened. */
export type OpenedReadings = {
  readonly store: ReadingStore;
  /** Close it and open what it kept; left out where nothing outlives a close. */
  readonly reopen?: () => Promise<ReadingStore>;
  readonly clean: () => Promise<void>;
};

const PIER = 'pier-2/gen-1' as GeneratorKey;
const QUAY = 'quay-7/gen-1' as GeneratorKey;
const QUAY_2 = 'quay-7/gen-2' as GeneratorKey;
/** Some minutes before a month ends, so that every list of times here crosses the edge. */
const T0 = Date.UTC(2026, 1, 28, 23, 50);
const RECEIVED = Date.UTC(2026, 2, 2);

function reading(generator: GeneratorKey, channel: Channel, atMs: number, value: number, receivedMs = RECEIVED, quality = 0): Reading {
  return { generator, channel, atMs, value, quality, receivedMs };
}

/** `count` readings of one channel, `everyMs` apart; the value is the number of the reading. */
function steps(generator: GeneratorKey, channel: Channel, count: number, everyMs = MINUTE_MS, receivedMs = RECEIVED): Reading[] {
  return Array.from({ length: count }, (_, index) => reading(generator, channel, T0 + index * everyMs, index, receivedMs));
}

const asList = (batch: ReadingBatch): Reading[] => [...readingsOf(batch)];
const wholeSpan = { fromMs: 0, toMs: Date.UTC(2100, 0, 1) } as const;

async function log(store: ReadingStore, query: Parameters<ReadingStore['byReceipt']>[0] = wholeSpan): Promise<Reading[]> {
  const found: Reading[] = [];
  for await (const batch of store.byReceipt(query)) found.push(...readingsOf(batch));
  return found;
}

/**
 * What every ReadingStore promises. `persistent`: it outlives a close, and is held to that too. `runs`: how many
 * random histories the comparison with a plain model tries; fewer where each costs a server's round trips.
 */
export function readingStoreContract(name: string, open: () => Promise<OpenedReadings>, { persistent, runs = 40 }: { readonly persistent: boolean; readonly runs?: number }): void {
  describe(`ReadingStore: ${name}`, () => {
    let opened: OpenedReadings;
    let store: ReadingStore;
    beforeEach(async () => {
      opened = await open();
      store = opened.store;
    });
    afterEach(() => opened.clean());

    test('append() keeps new readings and gives them back by device time, then channel', async () => {
      const readings = [...steps(QUAY, 'tank-pressure', 30), ...steps(QUAY, 'running', 30), ...steps(PIER, 'running', 3)];
      const result = await store.append(readingBatch(readings));
      expect(asList(result.kept)).toEqual(readings);
      expect(result).toMatchObject({ doubled: 0, conflicts: [] });
      const found = asList(await store.byDeviceTime({ generator: QUAY, ...wholeSpan }));
      const wanted = readings.filter((one) => one.generator === QUAY).sort((a, b) => a.atMs - b.atMs || (a.channel < b.channel ? -1 : 1));
      expect(found).toEqual(wanted);
    });

    test('append() takes an empty batch', async () => {
      expect((await store.append(EMPTY_BATCH)).kept.atMs.length).toBe(0);
      expect(await store.latest()).toEqual([]);
      expect(await store.lastReceivedMs()).toBe(0);
    });

    test('append() lets the first value of a key win, across batches', async () => {
      await store.append(readingBatch(steps(QUAY, 'tank-pressure', 20)));
      const again = [reading(QUAY, 'tank-pressure', T0 + 19 * MINUTE_MS, 19, RECEIVED + 1), reading(QUAY, 'tank-pressure', T0 + 3 * MINUTE_MS, 3, RECEIVED + 1), reading(QUAY, 'tank-pressure', T0 + 4 * MINUTE_MS, 77, RECEIVED + 1), reading(QUAY, 'tank-pressure', T0 + 20 * MINUTE_MS, 20, RECEIVED + 1)];
      const result = await store.append(readingBatch(again));
      expect(asList(result.kept)).toEqual([again[3]]);
      expect(result.doubled).toBe(2);
      expect(result.conflicts).toEqual([{ series: { generator: QUAY, channel: 'tank-pressure' }, atMs: T0 + 4 * MINUTE_MS, keptValue: 4, refusedValue: 77, receivedMs: RECEIVED + 1 }]);
      const found = asList(await store.byDeviceTime({ generator: QUAY, ...wholeSpan }));
      expect(found.map((one) => one.value)).toEqual(Array.from({ length: 21 }, (_, index) => index));
      expect(found[4]?.receivedMs).toBe(RECEIVED);
    });

    test('append() lets the first value of a key win, inside one batch', async () => {
      const result = await store.append(readingBatch([reading(QUAY, 'starts', T0, 1), reading(QUAY, 'starts', T0 + 5, 2), reading(QUAY, 'starts', T0 + 5, 3), reading(QUAY, 'starts', T0, 1), reading(QUAY, 'starts', T0 - 9, 0), reading(QUAY, 'starts', T0 - 9, 0.5)]));
      expect(asList(result.kept).map((one) => one.value)).toEqual([1, 2, 0]);
      expect(result.doubled).toBe(1);
      expect(result.conflicts.map((one) => [one.keptValue, one.refusedValue])).toEqual([[2, 3], [0, 0.5]]);
      expect(asList(await store.byDeviceTime({ generator: QUAY, ...wholeSpan })).map((one) => one.value)).toEqual([0, 1, 2]);
    });

    test('append() treats a series that a batch names twice as one', async () => {
      const series = { generator: QUAY, channel: 'starts' } as const;
      const batch: ReadingBatch = { series: [series, series], seriesIndex: Uint32Array.of(0, 1, 1), atMs: Float64Array.of(T0, T0, T0 + 1), value: Float64Array.of(1, 2, 3), quality: new Uint8Array(3), receivedMs: new Float64Array(3).fill(RECEIVED) };
      const result = await store.append(batch);
      expect(asList(result.kept).map((one) => one.value)).toEqual([1, 3]);
      expect(result.conflicts.length).toBe(1);
      expect(await store.series()).toEqual([{ ...series, firstAtMs: T0, lastAtMs: T0 + 1, count: 2 }]);
    });

    test('append() changes nothing when a batch is repeated', async () => {
      const batch = readingBatch([...steps(QUAY, 'tank-pressure', 40), ...steps(PIER, 'room-temperature', 40)]);
      await store.append(batch);
      const result = await store.append(batch);
      expect(result.kept.atMs.length).toBe(0);
      expect(result).toMatchObject({ doubled: 80, conflicts: [] });
      expect((await log(store)).length).toBe(80);
    });

    test('append() puts late readings where they belong, in any order and of any month', async () => {
      const all = steps(QUAY, 'tank-pressure', 200, 9 * HOUR_MS);
      await store.append(readingBatch(all.filter((_, index) => index % 3 === 0)));
      const rest = all.filter((_, index) => index % 3 !== 0).map((one) => ({ ...one, receivedMs: RECEIVED + 7 }));
      const result = await store.append(readingBatch([...rest].reverse()));
      expect(result.kept.atMs.length).toBe(rest.length);
      const found = asList(await store.byDeviceTime({ generator: QUAY, ...wholeSpan }));
      expect(found.map((one) => one.value)).toEqual(all.map((one) => one.value));
      expect(await store.latest()).toEqual([{ generator: QUAY, channel: 'tank-pressure', atMs: all.at(-1)!.atMs, value: 199, receivedMs: RECEIVED + 7 }]);
    });

    test('append() carries out calls one after the other', async () => {
      const batches = Array.from({ length: 12 }, (_, index) => readingBatch(steps(QUAY, 'humidity', 10 + index, MINUTE_MS, RECEIVED + index)));
      const results = await Promise.all(batches.map((batch) => store.append(batch)));
      expect(results.map((result) => [result.kept.atMs.length, result.doubled])).toEqual(batches.map((batch, index) => (index === 0 ? [10, 0] : [1, batch.atMs.length - 1])));
      expect((await log(store)).length).toBe(21);
    });

    test('append() keeps every double as it was, and its quality', async () => {
      const values = [0.1 + 0.2, -0.02, 1e10, 5e-324, 123_456_789.123_456_78, -105, 1 / 3];
      await store.append(readingBatch(values.map((value, index) => reading(QUAY, 'run-time', T0 + index, value, RECEIVED, index % 2))));
      const found = asList(await store.byDeviceTime({ generator: QUAY, ...wholeSpan }));
      expect(found.map((one) => one.value)).toEqual(values);
      expect(found.map((one) => one.quality)).toEqual(values.map((_, index) => index % 2));
    });

    test('append() refuses what is no reading, and keeps nothing of that batch', async () => {
      for (const wrong of [reading(QUAY, 'starts', T0 + 0.5, 1), reading(QUAY, 'starts', T0, NaN), reading(QUAY, 'starts', -1, 1), reading(QUAY, 'starts', T0, 1, 1.5), reading(QUAY, 'starts', Infinity, 1)]) {
        await expect(store.append(readingBatch([reading(QUAY, 'starts', T0, 1), wrong]))).rejects.toThrow(RangeError);
      }
      expect(await log(store)).toEqual([]);
      expect((await store.append(readingBatch([reading(QUAY, 'starts', T0, 1)]))).kept.atMs.length).toBe(1);
    });

    test('byDeviceTime() takes spans as [from, to), channels, and what was received before a time', async () => {
      await store.append(readingBatch(steps(QUAY, 'tank-pressure', 30)));
      await store.append(readingBatch([...steps(QUAY, 'running', 30, MINUTE_MS, RECEIVED + 5), ...steps(QUAY_2, 'running', 30, MINUTE_MS, RECEIVED + 5)]));
      const span = { generator: QUAY, fromMs: T0 + 5 * MINUTE_MS, toMs: T0 + 15 * MINUTE_MS } as const;
      expect((await store.byDeviceTime(span)).atMs.length).toBe(20);
      expect(asList(await store.byDeviceTime({ ...span, channels: ['running'] })).map((one) => one.value)).toEqual([5, 6, 7, 8, 9, 10, 11, 12, 13, 14]);
      expect(asList(await store.byDeviceTime({ ...span, receivedBeforeMs: RECEIVED + 5 })).every((one) => one.channel === 'tank-pressure')).toBe(true);
      expect((await store.byDeviceTime({ ...span, receivedBeforeMs: RECEIVED })).atMs.length).toBe(0);
      expect((await store.byDeviceTime({ ...span, generator: PIER })).atMs.length).toBe(0);
      expect((await store.byDeviceTime({ ...span, channels: [] })).atMs.length).toBe(0);
      expect((await store.byDeviceTime({ ...span, toMs: span.fromMs })).atMs.length).toBe(0);
      expect((await store.byDeviceTime({ generator: QUAY, fromMs: -Infinity, toMs: Infinity })).atMs.length).toBe(60);
    });

    test('byReceipt() gives the log in order of receipt, generator, device time and channel', async () => {
      await store.append(readingBatch([...steps(QUAY, 'tank-pressure', 5, MINUTE_MS, RECEIVED), ...steps(PIER, 'running', 5, MINUTE_MS, RECEIVED)]));
      await store.append(readingBatch([...steps(QUAY_2, 'running', 5, MINUTE_MS, RECEIVED + 2), ...steps(QUAY, 'running', 5, MINUTE_MS, RECEIVED + 2), ...steps(QUAY_2, 'power', 5, MINUTE_MS, RECEIVED + 1)]));
      const found = await log(store);
      const inOrder = [...found].sort((a, b) => a.receivedMs - b.receivedMs || (a.generator < b.generator ? -1 : a.generator > b.generator ? 1 : 0) || a.atMs - b.atMs || (a.channel < b.channel ? -1 : 1));
      expect(found).toEqual(inOrder);
      expect(found.length).toBe(25);
      expect((await log(store, { fromMs: RECEIVED + 1, toMs: RECEIVED + 2 })).map((one) => one.channel)).toEqual(Array.from({ length: 5 }, () => 'power'));
      expect((await log(store, { ...wholeSpan, generators: [PIER, QUAY_2] })).length).toBe(15);
      expect(await log(store, { ...wholeSpan, generators: [] })).toEqual([]);
    });

    test('byReceipt() hands over at most 100,000 readings at once, and may be left early', async () => {
      const times = Array.from({ length: 120_000 }, (_, index) => T0 + index * 1000);
      const series = [{ generator: QUAY, channel: 'tank-pressure' }] as const;
      await store.append({ series, seriesIndex: new Uint32Array(times.length), atMs: Float64Array.from(times), value: Float64Array.from(times, (_, index) => index % 100), quality: new Uint8Array(times.length), receivedMs: Float64Array.from(times, (_, index) => RECEIVED + Math.floor(index / 50)) });
      const sizes: number[] = [];
      let last = -1;
      for await (const batch of store.byReceipt(wholeSpan)) {
        sizes.push(batch.atMs.length);
        expect(batch.atMs[0]).toBeGreaterThan(last);
        last = batch.atMs.at(-1)!;
      }
      expect(Math.max(...sizes)).toBeLessThanOrEqual(100_000);
      expect(sizes.reduce((sum, size) => sum + size)).toBe(120_000);
      for await (const batch of store.byReceipt(wholeSpan)) {
        expect(batch.atMs[0]).toBe(T0);
        break;
      }
      expect((await store.append(readingBatch([reading(QUAY, 'starts', T0, 1)]))).kept.atMs.length).toBe(1);
    });

    test('buckets() gives min, mean, max and count of equal spans, and leaves gaps out', async () => {
      const before = steps(QUAY, 'tank-pressure', 40);
      const after = steps(QUAY, 'tank-pressure', 20).map((one) => ({ ...one, atMs: one.atMs + 80 * MINUTE_MS, value: 0 - one.value }));
      await store.append(readingBatch([...before, ...after, ...steps(QUAY, 'running', 40)]));
      const found = await store.buckets({ generator: QUAY, channel: 'tank-pressure', fromMs: T0, toMs: T0 + 100 * MINUTE_MS, buckets: 10 });
      expect(found.map((one) => (one.fromMs - T0) / MINUTE_MS)).toEqual([0, 10, 20, 30, 80, 90]);
      expect(found.map((one) => one.count)).toEqual([10, 10, 10, 10, 10, 10]);
      expect(found.map((one) => [one.min, one.max])).toEqual([[0, 9], [10, 19], [20, 29], [30, 39], [-9, 0], [-19, -10]]);
      // Stores add up in different orders: the last digits of a mean may differ.
      found.forEach((one, index) => expect(one.mean).toBeCloseTo([4.5, 14.5, 24.5, 34.5, -4.5, -14.5][index]!, 9));
    });

    test('buckets() takes half-open spans, unequal widths, and series that nobody sent', async () => {
      await store.append(readingBatch(steps(QUAY, 'tank-pressure', 10)));
      const query = { generator: QUAY, channel: 'tank-pressure', fromMs: T0, toMs: T0 + 9 * MINUTE_MS, buckets: 1 } as const;
      expect((await store.buckets(query)).map((one) => [one.fromMs, one.count, one.max])).toEqual([[T0, 9, 8]]);
      const sevenths = await store.buckets({ ...query, toMs: T0 + 10 * MINUTE_MS, buckets: 7 });
      expect(sevenths.map((one) => one.count)).toEqual([2, 1, 2, 1, 2, 1, 1]);
      expect(await store.buckets({ ...query, channel: 'nitrogen' })).toEqual([]);
      expect(await store.buckets({ ...query, generator: PIER })).toEqual([]);
      await expect(store.buckets({ ...query, toMs: T0 })).rejects.toThrow(RangeError);
      await expect(store.buckets({ ...query, buckets: 0 })).rejects.toThrow(RangeError);
    });

    test('latest(), series() and lastReceivedMs() follow what was kept', async () => {
      await store.append(readingBatch([...steps(QUAY, 'tank-pressure', 5), reading(QUAY, 'tank-pressure', T0 - 60 * DAY_MS, 9, RECEIVED + 4)]));
      await store.append(readingBatch([...steps(PIER, 'running', 2, MINUTE_MS, RECEIVED + 9), reading(PIER, 'running', T0, 5, RECEIVED + 10)]));
      const byName = <T extends { generator: string }>(list: readonly T[]): T[] => [...list].sort((a, b) => (a.generator < b.generator ? -1 : 1));
      expect(byName(await store.latest())).toEqual([
        { generator: PIER, channel: 'running', atMs: T0 + MINUTE_MS, value: 1, receivedMs: RECEIVED + 9 },
        { generator: QUAY, channel: 'tank-pressure', atMs: T0 + 4 * MINUTE_MS, value: 4, receivedMs: RECEIVED },
      ]);
      expect((await store.latest([PIER])).map((one) => one.generator)).toEqual([PIER]);
      expect(byName(await store.series())).toEqual([
        { generator: PIER, channel: 'running', firstAtMs: T0, lastAtMs: T0 + MINUTE_MS, count: 2 },
        { generator: QUAY, channel: 'tank-pressure', firstAtMs: T0 - 60 * DAY_MS, lastAtMs: T0 + 4 * MINUTE_MS, count: 6 },
      ]);
      expect(await store.lastReceivedMs()).toBe(RECEIVED + 9);
      expect(await store.sizeBytes()).toBeGreaterThan(0);
    });

    test('expire() drops whole months that ended before', async () => {
      const start = Date.UTC(2026, 0, 1);
      const readings = Array.from({ length: 120 }, (_, index) => reading(QUAY, 'tank-pressure', start + index * DAY_MS, index));
      await store.append(readingBatch([...readings, reading(PIER, 'running', start, 1)]));
      await store.expire(Date.UTC(2026, 2, 20));
      const found = asList(await store.byDeviceTime({ generator: QUAY, ...wholeSpan }));
      expect(found[0]?.atMs).toBe(Date.UTC(2026, 2, 1));
      expect(found.length).toBe(120 - 59);
      expect(await store.series()).toEqual([{ generator: QUAY, channel: 'tank-pressure', firstAtMs: Date.UTC(2026, 2, 1), lastAtMs: start + 119 * DAY_MS, count: 61 }]);
      expect((await store.latest()).map((one) => one.generator)).toEqual([QUAY]);
      expect((await log(store)).length).toBe(61);
      expect(await store.lastReceivedMs()).toBe(RECEIVED);
      expect((await store.append(readingBatch(readings.slice(60)))).doubled).toBe(60);
      await store.expire(Date.UTC(2026, 2, 20));
      expect((await log(store)).length).toBe(61);
    });

    test('every method rejects with a StoreError once the store is closed', async () => {
      await store.append(readingBatch(steps(QUAY, 'running', 3)));
      await store.close();
      await expect(store.append(readingBatch(steps(QUAY, 'running', 3)))).rejects.toThrow(StoreError);
      await expect(store.byDeviceTime({ generator: QUAY, ...wholeSpan })).rejects.toThrow(StoreError);
      await expect(log(store)).rejects.toThrow(StoreError);
      await expect(store.buckets({ generator: QUAY, channel: 'running', fromMs: 0, toMs: 1, buckets: 1 })).rejects.toThrow(StoreError);
      await expect(store.latest()).rejects.toThrow(StoreError);
      await expect(store.series()).rejects.toThrow(StoreError);
      await expect(store.lastReceivedMs()).rejects.toThrow(StoreError);
      await expect(store.expire(T0)).rejects.toThrow(StoreError);
      await expect(store.sizeBytes()).rejects.toThrow(StoreError);
      await store.close();
    });

    if (persistent) testReopening(() => opened);

    test('append() and the queries agree with a plain model on any history', async () => {
      await fc.assert(
        fc.asyncProperty(histories(persistent), async (history) => {
          const fresh = await open();
          try {
            await compareWithModel(fresh, history);
          } finally {
            await fresh.clean();
          }
        }),
        { numRuns: runs, seed: 20261124 },
      );
    }, 300_000);
  });
}

function testReopening(opened: () => OpenedReadings): void {
  test('a store that is opened again knows what it kept', async () => {
    let { store } = opened();
    const { reopen } = opened();
    const readings = [...steps(QUAY, 'tank-pressure', 30), ...steps(PIER, 'running', 3, MINUTE_MS, RECEIVED + 1)];
    await store.append(readingBatch(readings));
    const [latest, series] = [await store.latest(), await store.series()];
    store = await reopen!();
    expect(await store.latest()).toEqual(latest);
    expect(await store.series()).toEqual(series);
    expect(await store.lastReceivedMs()).toBe(RECEIVED + 1);
    const again = await store.append(readingBatch([...readings, reading(QUAY, 'tank-pressure', T0, 8), reading(QUAY, 'nitrogen', T0, 0.98)]));
    expect(again).toMatchObject({ doubled: 33, conflicts: [{ keptValue: 0, refusedValue: 8 }] });
    expect(asList(again.kept).map((one) => one.channel)).toEqual(['nitrogen']);
  });
}

/** A history: batches to append, and between them restarts. Few keys, so that doubles and conflicts are frequent. */
type Step = { readonly restart: boolean; readonly rows: readonly { readonly generator: GeneratorKey; readonly channel: Channel; readonly slot: number; readonly value: number; readonly later: number }[] };

function histories(restarts: boolean): fc.Arbitrary<Step[]> {
  const row = fc.record({ generator: fc.constantFrom(PIER, QUAY, QUAY_2), channel: fc.constantFrom<Channel>('running', 'tank-pressure', 'system-pressure.riser-1'), slot: fc.integer({ min: 0, max: 40 }), value: fc.constantFrom(0, 1, 0.25), later: fc.integer({ min: 0, max: 2 }) });
  return fc.array(fc.record({ restart: restarts ? fc.boolean() : fc.constant(false), rows: fc.array(row, { maxLength: 30 }) }), { minLength: 1, maxLength: 8 });
}

async function compareWithModel(opened: OpenedReadings, history: readonly Step[]): Promise<void> {
  const model = new Map<string, Reading>();
  let { store } = opened;
  let receivedMs = RECEIVED;
  for (const step of history) {
    if (step.restart) store = await opened.reopen!();
    // 40 slots of 2 days: three months.
    const batch = step.rows.map((row) => reading(row.generator, row.channel, T0 + row.slot * 2 * DAY_MS, row.value, receivedMs + row.later));
    receivedMs += 2;
    const wanted = { kept: [] as Reading[], doubled: 0, conflicts: [] as number[] };
    for (const one of batch) {
      const key = `${one.generator}/${one.channel}/${one.atMs}`;
      const twin = model.get(key);
      if (twin === undefined) {
        model.set(key, one);
        wanted.kept.push(one);
      } else if (twin.value === one.value) wanted.doubled += 1;
      else wanted.conflicts.push(one.atMs);
    }
    const result = await store.append(readingBatch(batch));
    expect(asList(result.kept)).toEqual(wanted.kept);
    expect(result.doubled).toBe(wanted.doubled);
    expect(result.conflicts.map((one) => one.atMs)).toEqual(wanted.conflicts);
  }
  await compareQueries(store, [...model.values()]);
}

async function compareQueries(store: ReadingStore, all: readonly Reading[]): Promise<void> {
  const names = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
  for (const generator of [PIER, QUAY, QUAY_2]) {
    const wanted = all.filter((one) => one.generator === generator).sort((a, b) => a.atMs - b.atMs || names(a.channel, b.channel));
    expect(asList(await store.byDeviceTime({ generator, ...wholeSpan }))).toEqual(wanted);
    const span = { fromMs: T0 + 11 * DAY_MS, toMs: T0 + 44 * DAY_MS, buckets: 5 } as const;
    const inSpan = wanted.filter((one) => one.channel === 'running' && one.atMs >= span.fromMs && one.atMs < span.toMs);
    const buckets = await store.buckets({ generator, channel: 'running', ...span });
    expect(buckets.reduce((sum, one) => sum + one.count, 0)).toBe(inSpan.length);
    expect(buckets.reduce((sum, one) => sum + one.count * one.mean, 0)).toBeCloseTo(inSpan.reduce((sum, one) => sum + one.value, 0), 9);
  }
  expect(await log(store)).toEqual([...all].sort((a, b) => a.receivedMs - b.receivedMs || names(a.generator, b.generator) || a.atMs - b.atMs || names(a.channel, b.channel)));
  const newest = new Map<string, Reading>();
  for (const one of all) {
    const key = `${one.generator}/${one.channel}`;
    if (one.atMs > (newest.get(key)?.atMs ?? -1)) newest.set(key, one);
  }
  const byName = (list: readonly { generator: string; channel: string; atMs: number; value: number }[]): string[] => list.map((one) => `${one.generator}/${one.channel} ${one.atMs} ${one.value}`).sort();
  expect(byName(await store.latest())).toEqual(byName([...newest.values()]));
  const counts = new Map((await store.series()).map((one) => [`${one.generator}/${one.channel}`, one.count]));
  for (const [key, count] of counts) expect(count).toBe(all.filter((one) => `${one.generator}/${one.channel}` === key).length);
  expect([...counts.values()].reduce((sum, count) => sum + count, 0)).toBe(all.length);
}
