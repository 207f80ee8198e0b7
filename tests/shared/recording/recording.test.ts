// Issue: "The main job, end to end, on real input": simulator, import, export and replay speak the recording folder.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import * as fc from 'fast-check';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { importRecording } from '../../../ingest/import-recording.ts';
import { CHANNELS, type Channel } from '../../../shared/channels.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import type { LogEvent } from '../../../shared/log-event.ts';
import { type Reading, readingBatch, readingsOf } from '../../../shared/reading-batch.ts';
import { collectProblems, readJsonLines } from '../../../shared/recording/lines.ts';
import { exportRecording } from '../../../shared/recording/write-recording.ts';
import { siteSchema } from '../../../shared/registry.ts';
import { openMemoryReadings } from '../../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../../shared/store/memory-records.ts';

const NOW_MS = Date.UTC(2026, 2, 2, 12);
let folder: string;
beforeEach(() => void (folder = mkdtempSync(join(tmpdir(), 'lull-recording-'))));
afterEach(() => rmSync(folder, { recursive: true }));

async function all(params: Omit<Parameters<typeof importRecording>[0], 'folder' | 'nowMs'> = {}) {
  const imported = importRecording({ folder, nowMs: NOW_MS, ...params });
  const events: LogEvent[] = [];
  for await (const event of imported.events) events.push(event);
  return { ...imported, events, readings: events.flatMap((event) => (event.kind === 'readings' ? [...readingsOf(event.batch)] : [])) };
}
const timeOf = (event: LogEvent): number => (event.kind === 'readings' ? event.batch.receivedMs[0]! : event.kind === 'presence' ? event.event.atMs : event.atMs);
const write = (lines: readonly unknown[]) => writeFileSync(join(folder, 'readings.ndjson'), lines.map((line) => (typeof line === 'string' ? line : JSON.stringify(line))).join('\n'));
const TOPIC = 'lull/v1/quay-7/gen-1/readings';

const channel = fc.constantFrom<Channel>(...(Object.keys(CHANNELS) as Channel[]), 'system-pressure.riser-2');
const reading = fc.record({ generator: fc.constantFrom('quay-7/gen-1', 'quay-7/gen-2', 'pier-1/gen-1') as fc.Arbitrary<GeneratorKey>, channel, atMs: fc.integer({ min: 0, max: NOW_MS }), number: fc.double({ noNaN: true, noDefaultInfinity: true }), state: fc.boolean(), quality: fc.constantFrom(0, 1), gapMs: fc.integer({ min: 0, max: 3 }) });

test('exportRecording() and importRecording() give back the same readings in the same order, exactly', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(reading, { maxLength: 60 }), async (drawn) => {
      let receivedMs = NOW_MS;
      const rows = drawn.map(({ number, state, gapMs, ...one }): Reading => ({ ...one, value: 'state' === (CHANNELS[one.channel as 'running']?.quantity as string) ? Number(state) : number + 0, receivedMs: (receivedMs += gapMs) }));
      const store = openMemoryReadings();
      await store.append(readingBatch(rows));
      const records = openMemoryRecords();
      await exportRecording({ folder, readings: store, records, fromMs: 0, toMs: Number.MAX_SAFE_INTEGER });
      const logged: Reading[] = [];
      for await (const batch of store.byReceipt({ fromMs: 0, toMs: Number.MAX_SAFE_INTEGER })) logged.push(...readingsOf(batch));
      const back = await all();
      expect(back.problems.count).toBe(0);
      expect(back.readings).toEqual(logged);
    }),
    { numRuns: 60 },
  );
});

test('exportRecording() writes presence, registry, entries, closings and quarantine counts, and replay reads them in order', async () => {
  const readings = openMemoryReadings();
  const records = openMemoryRecords();
  const generator = 'quay-7/gen-1' as GeneratorKey;
  await readings.append(readingBatch([0, 10, 20].map((minute) => ({ generator, channel: 'running', atMs: NOW_MS + minute * 60_000, value: 1, quality: 0, receivedMs: NOW_MS + minute * 60_000 }))));
  await records.savePresence({ atMs: NOW_MS + 60_000, site: 'quay-7', gateway: 'gw-1', online: false, generators: [generator] });
  await records.recordRegistryChange({ validFromMs: NOW_MS - 1000, recordedAtMs: NOW_MS + 120_000, by: 'Ada', site: siteSchema.parse({ id: 'quay-7', generators: [{ id: 'gen-1' }] }) });
  await records.saveEntry({ id: 'visit-1', site: 'quay-7', generator: 'gen-1', kind: 'service', startedAt: '2026-03-02T12:03:00Z', recordedAt: '2026-03-02T12:03:00Z', replaced: ['drain'], adjusted: {}, readings: {} }, 'Ada');
  await records.recordAction({ finding: 'f1', atMs: NOW_MS + 240_000, by: 'Ada', action: 'close', reason: 'improved' });
  await records.recordAction({ finding: 'f1', atMs: NOW_MS + 250_000, by: 'Ada', action: 'note', note: 'fine' });
  await records.quarantine([1, 2].map((second) => ({ id: 0, receivedMs: NOW_MS + 300_000 + second, topic: TOPIC, payload: 'x', reason: 'malformed', says: '', generator, channel: null, releasedMs: null })));
  const counts = await exportRecording({ folder, readings, records, fromMs: 0, toMs: NOW_MS * 2 });
  expect(counts).toEqual({ readings: 3, packets: 3, presence: 1, events: 3, visits: 1, sites: 1 });

  const { events, problems } = await all();
  expect(problems.first).toEqual([]);
  expect(events.map((event) => [event.kind, (timeOf(event) - NOW_MS) / 1000])).toEqual([['readings', 0], ['presence', 60], ['registry', 120], ['entry', 180], ['closing', 240], ['quarantine', 300.002], ['readings', 600]]);
  expect(events.find((event) => event.kind === 'registry')).toMatchObject({ change: { by: 'Ada', validFromMs: NOW_MS - 1000 } });
  expect(events.find((event) => event.kind === 'closing')).toMatchObject({ action: { finding: 'f1', action: 'close', reason: 'improved' } });
  expect(events.find((event) => event.kind === 'quarantine')).toMatchObject({ generator, reason: 'malformed', count: 2 });
});

test('importRecording() takes the newest device time so far where "at" is missing, and never goes back', async () => {
  write([
    { topic: TOPIC, payload: [{ n: 'running', vb: true, bt: 1_700_000_000 }] },
    { topic: TOPIC, payload: [{ n: 'running', vb: true, bt: 1_700_000_600 }] },
    { topic: TOPIC, payload: [{ n: 'running', vb: false, bt: 1_700_000_300 }] },
    { topic: TOPIC, payload: [{ n: 'running', vb: false, t: -60 }] },
    { topic: TOPIC, payload: [{ n: 'running', vb: false, bt: 4_000_000_000 }] },
  ]);
  const { readings } = await all();
  expect(readings.map(({ atMs, receivedMs }) => [atMs / 1000, receivedMs / 1000])).toEqual([[1_700_000_000, 1_700_000_000], [1_700_000_600, 1_700_000_600], [1_700_000_300, 1_700_000_600], [1_700_000_540, 1_700_000_600], [4_000_000_000, 1_700_000_600]]);
});

test('importRecording() judges like ingest, welcomes old times, counts what it refused and goes on', async () => {
  write([
    { topic: TOPIC, payload: [{ n: 'tank-pressure', u: 'bar', v: 6.4, bt: 1_000_000_000 }], at: '2026-03-02T12:00:00Z' },
    '{"topic": broken',
    { topic: TOPIC, payload: [{ n: 'tank-pressure', u: 'bar', v: 640, bt: 1_700_000_000 }], at: '2026-03-02T12:00:01Z' },
    { topic: 'elsewhere/x', payload: [], at: '2026-03-02T12:00:01Z' },
    { payload: [] },
    { topic: TOPIC, payload: [{ n: 'duty', u: '%', v: 0.5, bt: 1_700_000_000 }], at: '2026-03-02T12:00:02Z' },
    { topic: TOPIC, payload: [{ n: 'duty', u: '%', v: 20, bt: 1_700_000_060 }], at: '2026-03-02T12:00:03Z' },
    { topic: 'lull/v1/quay-7/presence/gw-1', payload: { online: false, generators: ['gen-1'] }, at: '2026-03-02T12:00:04Z' },
  ]);
  const refused: string[] = [];
  const { readings, counts, problems, events } = await all({ onRefused: (item) => refused.push(item.reason) });
  expect(readings.map(({ channel: name, value, receivedMs }) => [name, value, receivedMs - NOW_MS])).toEqual([['tank-pressure', 640, 0], ['duty', 0.2, 3000], ['duty', 0.005, 3000]]);
  expect(refused).toEqual(['out-of-range', 'unknown-topic']);
  expect(counts).toMatchObject({ packets: 6, readings: 3, presence: 1 });
  expect(problems.first.map(({ line }) => line)).toEqual([2, 5]);
  expect(events.at(-1)).toMatchObject({ kind: 'presence', event: { online: false, generators: ['quay-7/gen-1'], atMs: NOW_MS + 4000 } });
});

test('importRecording() can stamp the time of import, and only for some generators', async () => {
  write(['gen-1', 'gen-2', 'gen-1'].map((id, index) => ({ topic: `lull/v1/quay-7/${id}/readings`, payload: [{ n: 'running', vb: true, t: -60 - index }], at: '2026-03-01T12:00:00Z' })));
  const { readings } = await all({ receivedMs: NOW_MS, only: (key) => key === 'quay-7/gen-1' });
  const arrivedMs = Date.UTC(2026, 2, 1, 12);
  expect(readings.map(({ generator, atMs, receivedMs }) => [generator, atMs - arrivedMs, receivedMs])).toEqual([['quay-7/gen-1', -60_000, NOW_MS], ['quay-7/gen-1', -62_000, NOW_MS]]);
});

test('importRecording() begins with the registry of a plain recording', async () => {
  writeFileSync(join(folder, 'sites.yaml'), 'sites: [{ id: quay-7, generators: [{ id: gen-1, channels: { duty: { percentAs: per-cent } } }] }]');
  writeFileSync(join(folder, 'visits.json'), '[{"id":"v1","site":"quay-7","generator":"gen-1","startedAt":"2026-02-01T00:00:00Z"},{"id":"v2"}]');
  write([{ topic: TOPIC, payload: [{ n: 'duty', u: '%', v: 0.5, bt: NOW_MS / 1000 }], at: '2026-03-02T12:00:00Z' }]);
  const { events, readings, problems } = await all();
  expect(events.map((event) => event.kind)).toEqual(['registry', 'entry', 'readings']);
  expect(events.map(timeOf)).toEqual([Date.UTC(2026, 1, 1), Date.UTC(2026, 1, 1), NOW_MS]);
  expect(events[0]).toMatchObject({ change: { validFromMs: 0, recordedAtMs: Date.UTC(2026, 1, 1) } });
  expect(readings[0]?.value).toBeCloseTo(0.005, 12);
  expect(problems.count).toBeGreaterThan(0);
});

test('readJsonLines() joins lines across pieces of the file', async () => {
  const path = join(folder, 'long.ndjson');
  const lines = Array.from({ length: 5000 }, (_, index) => ({ index, text: 'ä€'.repeat(200) }));
  writeFileSync(path, lines.map((line) => JSON.stringify(line)).join('\n'));
  expect(readFileSync(path).length).toBeGreaterThan(3_000_000);
  const read: unknown[] = [];
  for await (const part of readJsonLines(path, 'long.ndjson', collectProblems())) read.push(...part.map(({ value }) => value));
  expect(read).toEqual(lines);
});

test('importRecording() takes the registry file of a plain recording for how things stood at the start, and that of an export for its end', async () => {
  const site = (litres: number) => ({ id: 'quay-7', timeZone: 'UTC', generators: [{ id: 'gen-1', tankLitres: litres }] });
  const line = (at: string, kept: boolean): string => JSON.stringify({ topic: 'lull/v1/quay-7/gen-1/readings', payload: [{ bn: 'x/', n: 'tank-pressure', u: 'Pa', v: 600_000, bt: Date.parse(at) / 1000 }], at, ...(kept ? { kept: true } : {}) });
  const litresSeen = async (kept: boolean): Promise<unknown[]> => {
    writeFileSync(join(folder, 'readings.ndjson'), `${line('2026-03-01T00:00:00.000Z', kept)}\n${line('2026-03-03T00:00:00.000Z', kept)}\n`);
    writeFileSync(join(folder, 'sites.json'), JSON.stringify({ sites: [site(100)] }));
    writeFileSync(join(folder, 'events.ndjson'), `${JSON.stringify({ at: '2026-03-02T00:00:00.000Z', kind: 'registry', by: 'office', site: site(200) })}\n`);
    return (await all()).events.flatMap((event) => (event.kind === 'registry' ? [event.change.site.generators[0]!.tankLitres] : []));
  };
  expect(await litresSeen(false)).toEqual([100, 200]);
  expect(await litresSeen(true)).toEqual([200]);
});
