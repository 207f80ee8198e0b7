// Issue: the main job. The memory store is held to the same list as the stores on disk.
import { expect, test } from 'vitest';
import type { Channel } from '../../../shared/channels.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { type Reading, readingBatch, readingsOf } from '../../../shared/reading-batch.ts';
import { openMemoryReadings } from '../../../shared/store/memory-readings.ts';
import { readingStoreContract } from './reading-store.contract.ts';

readingStoreContract('memory', async () => {
  const store = openMemoryReadings();
  return { store, clean: () => store.close() };
}, { persistent: false, runs: 300 });

test('forget() drops what a fold is done with, keeps the rest in its place, and refuses what comes for those times again', async () => {
  const store = openMemoryReadings();
  const [mine, other] = ['pier/gen-1', 'pier/gen-2'] as GeneratorKey[];
  const reading = (generator: GeneratorKey, channel: Channel, atMs: number): Reading => ({ generator, channel, atMs, value: atMs, quality: 0, receivedMs: 1000 + atMs });
  const times = [10, 20, 30, 40];
  await store.append(readingBatch(times.flatMap((atMs) => [reading(mine!, 'tank-pressure', atMs), reading(other!, 'tank-pressure', atMs), reading(mine!, 'running', atMs)])));
  store.forget(new Map([[mine!, 20]]));
  const kept = async (generator: GeneratorKey): Promise<(string | number)[][]> => [...readingsOf(await store.byDeviceTime({ generator, fromMs: 0, toMs: 100 }))].map(({ channel, atMs, value }) => [channel, atMs, value]);
  expect(await kept(mine!)).toEqual([30, 40].flatMap((atMs) => [['running', atMs, atMs], ['tank-pressure', atMs, atMs]]));
  expect((await kept(other!)).length).toBe(4);
  expect(await store.sizeBytes()).toBe(8 * 33);

  const again = await store.append(readingBatch([reading(mine!, 'running', 15), reading(mine!, 'running', 25), reading(mine!, 'running', 40), reading(mine!, 'power', 15), reading(other!, 'tank-pressure', 10), reading(mine!, 'running', 50)]));
  expect([...readingsOf(again.kept)].map(({ channel, atMs }) => [channel, atMs])).toEqual([['running', 25], ['power', 15], ['running', 50]]);
  expect([again.doubled, again.refused?.map(({ series, atMs }) => [series.channel, atMs])]).toEqual([2, [['running', 15]]]);
  expect((await store.byDeviceTime({ generator: mine!, fromMs: 0, toMs: 100, channels: ['running'] })).atMs).toEqual(Float64Array.of(25, 30, 40, 50));
});
