// Issue: "The main job, end to end, on real input", item 3: quarantine that can be released, duplicate-safe, presence.
import { expect, test } from 'vitest';
import { type Desk, openDesk } from '../../ingest/desk.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import { readingsOf } from '../../shared/reading-batch.ts';
import { generatorsOf, parseRegistry, type RegisteredGenerator } from '../../shared/registry.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';

const START_MS = Date.UTC(2026, 2, 2, 12);
const GEN = 'quay-7/gen-1' as GeneratorKey;
const TOPIC = 'lull/v1/quay-7/gen-1/readings';

async function house(readings: ReadingStore = openMemoryReadings(), records = openMemoryRecords(), nowMs = START_MS) {
  const clock = { at: nowMs, nowMs: () => clock.at };
  const known = new Map<GeneratorKey, RegisteredGenerator>();
  const events: LogEvent[] = [];
  const desk = await openDesk({ readings, records, registry: (key) => known.get(key), clock, log: SILENT_LOG, onEvent: (event) => events.push(event) });
  const send = (payload: unknown, { topic = TOPIC, dup = false } = {}) => new Promise<void>((resolve, reject) => desk.take({ topic, payload: Buffer.from(typeof payload === 'string' ? payload : JSON.stringify(payload)), dup }, (error) => (error === undefined ? resolve() : reject(error))));
  const kept = async () => [...readingsOf(await readings.byDeviceTime({ generator: GEN, fromMs: 0, toMs: 1e15 }))].map(({ channel, value, atMs }) => [channel, value, (atMs - START_MS) / 1000]);
  const register = (yaml: string) => {
    const parsed = parseRegistry(yaml);
    if ('registry' in parsed) for (const one of generatorsOf(parsed.registry)) known.set(one.key, one);
  };
  return { desk, readings, records, clock, events, send, kept, register };
}

/** Everything that was queued before is committed. */
const settle = (desk: Desk) => desk.release([], 'test');

test('take() drops the repeat of a packet with relative times, by its DUP flag within 10 minutes', async () => {
  const { send, kept, clock, desk } = await house();
  const payload = [{ n: 'running', vb: true }, { n: 'tank-pressure', u: 'kPa', v: 600, t: -5 }];
  await send(payload);
  clock.at += 60_000;
  await send(payload, { dup: true });
  expect(await kept()).toEqual([['tank-pressure', 600, -5], ['running', 1, 0]]);
  expect(desk.heard(GEN)?.lastHeardMs).toBe(START_MS + 60_000);
  // Without the flag it is a new packet that says the same; after 10 minutes it is too.
  await send(payload);
  clock.at += 601_000;
  await send(payload, { dup: true });
  expect(await kept()).toHaveLength(6);
});

test('take() knows the repeat of a relative packet after a restart too, and in one group', async () => {
  const first = await house();
  const payload = [{ n: 'running', vb: true }, { n: 'tank-pressure', u: 'kPa', v: 600, t: -5 }];
  await first.send(payload);
  const second = await house(first.readings, first.records, START_MS + 30_000);
  await second.send(payload, { dup: true });
  expect(await second.kept()).toHaveLength(2);
  second.clock.at += 5_000;
  await Promise.all([second.send([{ n: 'running', vb: false }]), second.send([{ n: 'running', vb: false }], { dup: true }), second.send([{ n: 'running', vb: true, t: -1 }], { dup: true })]);
  expect(await second.kept()).toHaveLength(4);
});

test('take() keeps the first value of a key and quarantines a different later one', async () => {
  const { send, kept, records, events } = await house();
  // 698.8 kPa sent in Pa is 698.8000000000001 in binary; people read it without.
  await send([{ n: 'tank-pressure', u: 'Pa', v: 698_800, bt: START_MS / 1000 }]);
  await send([{ n: 'tank-pressure', u: 'Pa', v: 698_800, bt: START_MS / 1000 }]);
  await send([{ n: 'tank-pressure', u: 'kPa', v: 610, bt: START_MS / 1000 }]);
  expect(await kept()).toEqual([['tank-pressure', 698_800 * 0.001, 0]]);
  const [item, ...more] = await records.quarantined();
  expect(more).toEqual([]);
  expect(item).toMatchObject({ reason: 'conflicting-value', generator: GEN, channel: 'tank-pressure', topic: TOPIC });
  expect(item?.payload).toContain('610');
  expect(item?.says).toContain('was 698.8 kPa and came again as 610 kPa; the first stays.');
  expect(events.at(-1)).toMatchObject({ kind: 'quarantine', reason: 'conflicting-value', count: 1 });
});

test('take() releases by itself what waited for its unit, once that is clear', async () => {
  const { send, kept, records, desk, events, clock } = await house();
  await send([{ n: 'duty', u: '%', v: 0.5, bt: START_MS / 1000 }, { n: 'running', vb: true }]);
  expect(await kept()).toEqual([['running', 1, 0]]);
  clock.at += 60_000;
  await send([{ n: 'duty', u: '%', v: 30, bt: START_MS / 1000 + 60 }]);
  await settle(desk);
  expect(await kept()).toEqual([['duty', 0.005, 0], ['running', 1, 0], ['duty', 0.3, 60]]);
  expect(await records.quarantined({ released: false })).toEqual([]);
  // The log stays in order of receipt: the released reading was received when it was released.
  expect(events.flatMap((event) => (event.kind === 'readings' ? [...readingsOf(event.batch)].map(({ receivedMs }) => receivedMs - START_MS) : []))).toEqual([0, 60_000, 60_000]);
  const settings = await records.savedSettings('ingest-percent-as');
  expect(settings.get('quay-7/gen-1/duty')).toBe('{"as":"per-cent"}');
});

test('release() takes what is right with what is known now, and keeps the rest', async () => {
  const { send, kept, records, desk, register, clock } = await house();
  await send([{ n: 'tank-pressure', u: 'Pa', v: 26e5, bt: START_MS / 1000 }]);
  await send('not json');
  await send([{ n: 'feed-pressure', u: 'hands', v: 3 }]);
  await send([{ n: 'tank-pressure', u: 'kPa', v: 5, bt: START_MS / 1000 + 9 }]);
  await send([{ n: 'tank-pressure', u: 'kPa', v: 6, bt: START_MS / 1000 + 9 }]);
  const ids = (await records.quarantined()).map(({ id, reason }) => [id, reason] as const);
  expect(ids.map(([, reason]) => reason)).toEqual(['out-of-range', 'malformed', 'unknown-unit', 'conflicting-value']);
  clock.at += 3_600_000;
  expect(await desk.release(ids.map(([id]) => id), 'Ada')).toEqual({ released: 0, stillRefused: 4 });
  // 2,600 kPa absolute is 2,498.7 kPa gauge, which is possible.
  register('sites: [{ id: quay-7, generators: [{ id: gen-1, channels: { tank-pressure: { absolute: true } } }] }]');
  expect(await desk.release(ids.map(([id]) => id), 'Ada')).toEqual({ released: 1, stillRefused: 3 });
  expect(await kept()).toEqual([['tank-pressure', 2600 - 101.325, 0], ['tank-pressure', 5, 9]]);
  expect(await records.quarantined({ released: false })).toHaveLength(3);
  expect((await records.auditLines())[0]).toMatchObject({ by: 'Ada', did: 'released 1 of 4 from quarantine' });
});

test('take() stamps receipt once and never earlier, whatever the clock does, also after a restart', async () => {
  const first = await house();
  await first.send([{ n: 'running', vb: true, bt: START_MS / 1000 }]);
  first.clock.at -= 3_600_000;
  await first.send([{ n: 'running', vb: false, bt: START_MS / 1000 - 4000 }]);
  expect(first.desk.committedThroughMs()).toBe(START_MS);
  const second = await house(first.readings, first.records, START_MS - 7_200_000);
  await second.send([{ n: 'running', vb: true, bt: START_MS / 1000 - 8000 }]);
  const received = [...readingsOf(await second.readings.byDeviceTime({ generator: GEN, fromMs: 0, toMs: 1e15 }))].map(({ receivedMs }) => receivedMs);
  expect(received).toEqual([START_MS, START_MS, START_MS]);
});

test('heard() learns how often a generator reports, and keeps it over a restart', async () => {
  const first = await house();
  for (let index = 0; index <= 300; index += 1) {
    await first.send([{ n: 'running', vb: true, bt: first.clock.at / 1000 }]);
    first.clock.at += 300_000;
  }
  expect(first.desk.heard(GEN)).toEqual({ lastHeardMs: START_MS + 300 * 300_000, reportEveryS: 304 });
  await first.desk.stop();
  const second = await house(first.readings, first.records, first.clock.at);
  expect(second.desk.heard(GEN)).toEqual({ lastHeardMs: START_MS + 300 * 300_000, reportEveryS: 304 });
  expect(second.desk.heard('quay-7/gen-9' as GeneratorKey)).toBeUndefined();
});

test('recentPackets() remembers the last 20, newest first, with what was refused', async () => {
  const { send, desk } = await house();
  for (let index = 0; index < 25; index += 1) await send([{ n: 'starts', v: index }, { n: 'colour', vs: 'red' }]);
  const packets = desk.recentPackets(GEN);
  expect(packets).toHaveLength(20);
  expect(packets[0]).toMatchObject({ topic: TOPIC, readings: 1, refused: [{ reason: 'unknown-channel' }] });
  expect(packets[0]?.payload).toContain('"v":24');
});

test('onCommitted() hears of batches until it is ended', async () => {
  const { send, desk } = await house();
  const seen: number[] = [];
  const end = desk.onCommitted((batch) => seen.push(batch.atMs.length));
  await send([{ n: 'running', vb: true }]);
  end();
  await send([{ n: 'running', vb: false }]);
  expect(seen).toEqual([1]);
});

test('take() keeps what it took when a listener fails, and calls nothing refused', async () => {
  const { send, kept, desk, records } = await house();
  desk.onCommitted(() => {
    throw new Error('the page is gone');
  });
  await send([{ n: 'running', vb: true }]);
  expect(await kept()).toEqual([['running', 1, 0]]);
  expect(await records.quarantined()).toEqual([]);
});

test('take() quarantines as store-refused what the store can not keep, alone, and takes the rest of its group', async () => {
  const readings = openMemoryReadings();
  const picky: ReadingStore = { ...readings, append: (batch) => (batch.value.includes(13) ? Promise.reject(new RangeError('no thirteen')) : readings.append(batch)) };
  const { send, kept, records } = await house(picky);
  await Promise.all([12, 13, 14].map((starts) => send([{ n: 'starts', v: starts, t: -starts }])));
  expect((await kept()).map(([, value]) => value)).toEqual([14, 12]);
  expect((await records.quarantined()).map(({ reason, generator }) => [reason, generator])).toEqual([['store-refused', GEN]]);
});
