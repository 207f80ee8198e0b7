// Identity: write a recording folder, read it with the reader that import uses, and get the world's readings back.
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { decodePack } from '../../ingest/decode-pack.ts';
import { entriesSchema } from '../../shared/entry.ts';
import { collectProblems } from '../../shared/recording/lines.ts';
import { readPackets, readSites, readVisits } from '../../shared/recording/read-recording.ts';
import { readingsOf } from '../../shared/reading-batch.ts';
import { DAY_MS } from '../../shared/time.ts';
import { demoFleet } from '../../simulator/demo-fleet.ts';
import type { Truth } from '../../simulator/truth.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';
import { type WrittenRecording, writeRecording } from '../../simulator/write-recording.ts';

const START_MS = Date.UTC(2026, 6, 18, 8);
const scenario = demoFleet(START_MS);
const few = { ...scenario, generators: scenario.generators.filter((one) => ['quay-7/gen-1', 'far-light/gen-1', 'mill-lane/gen-1'].includes(one.key)).map((one) => ({ ...one, upsets: [{ kind: 'trip-test' as const, fromDay: 1.4, hours: 30 }, { kind: 'gap' as const, fromDay: 0.6, hours: 4 }] })) };
let folder: string;
let written: WrittenRecording;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'lull-recording-'));
  written = await writeRecording({ world: startWorld({ scenario: few, seed: 8, startMs: START_MS }), folder, toMs: START_MS + 2 * DAY_MS });
});
afterAll(async () => rm(folder, { recursive: true, force: true }));

test('writeRecording() writes every reading in order of arrival, presence among them', async () => {
  const problems = collectProblems();
  const expected = [...readingsOf(stepWorld(startWorld({ scenario: few, seed: 8, startMs: START_MS }), START_MS + 2 * DAY_MS))];
  let row = 0;
  let presence = 0;
  let lastMs = 0;
  for await (const packets of readPackets(folder, problems)) {
    for (const packet of packets) {
      expect(packet.atMs).toBeGreaterThanOrEqual(lastMs);
      lastMs = packet.atMs!;
      if (packet.topic.includes('/presence/')) {
        presence += 1;
        continue;
      }
      const records = decodePack(packet.payload, packet.atMs!);
      if (!Array.isArray(records)) throw new Error('a pack could not be decoded');
      for (const record of records) {
        expect(`${packet.topic} ${record.channel} ${record.atMs} ${packet.atMs}`).toBe(`lull/v1/${expected[row]!.generator}/readings ${expected[row]!.channel} ${expected[row]!.atMs} ${expected[row]!.receivedMs}`);
        row += 1;
      }
    }
  }
  expect(problems.count).toBe(0);
  expect(row).toBe(expected.length);
  expect(written.readings).toBe(expected.length);
  expect(presence).toBe(written.presence);
  // Three gateways come, go for the gap, and come again.
  expect(presence).toBe(9);
});

test('writeRecording() writes sites, visits and truth that can be read again', async () => {
  const problems = collectProblems();
  expect((await readSites(folder, problems)).sites.length).toBe(24);
  const visits = await readVisits(folder, problems);
  expect(visits.map((visit) => visit.kind)).toEqual(['trip-test', 'trip-test', 'trip-test']);
  expect(entriesSchema.parse(JSON.parse(await readFile(join(folder, 'visits.json'), 'utf8'))).length).toBe(3);
  const truth = JSON.parse(await readFile(join(folder, 'truth.json'), 'utf8')) as Truth;
  expect(truth.upsets.map((upset) => upset.kind)).toContain('trip-test');
  expect(problems.count).toBe(0);
});
