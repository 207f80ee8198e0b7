// Identity: the same seed writes the same bytes, whatever a random fleet holds; and the truth knows its branches.
import { createHash } from 'node:crypto';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { DAY_MS } from '../../shared/time.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import type { Truth } from '../../simulator/truth.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { writeRecording } from '../../simulator/write-recording.ts';

const START_MS = Date.UTC(2026, 0, 5);
const DAYS = 31;
const world = (seed: number): World => startWorld({ scenario: randomScenario({ seed, generators: 3, days: DAYS, startMs: START_MS, faultyShare: 1 }), seed, startMs: START_MS });

async function written(seed: number, days = DAYS): Promise<{ hash: string; truth: Truth }> {
  const folder = await mkdtemp(join(tmpdir(), 'lull-same-'));
  try {
    await writeRecording({ world: world(seed), folder, toMs: START_MS + days * DAY_MS, branches: true });
    const hash = createHash('sha256');
    for (const name of ['readings.ndjson', 'sites.json', 'visits.json', 'truth.json']) hash.update(await readFile(join(folder, name)));
    return { hash: hash.digest('hex'), truth: JSON.parse(await readFile(join(folder, 'truth.json'), 'utf8')) as Truth };
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

test('writeRecording() of a random fleet gives the same bytes for the same seed', async () => {
  const first = await written(31);
  expect((await written(31)).hash).toBe(first.hash);
  expect((await written(32, 1)).hash).not.toBe(first.hash);
  // One branch in 31 days, of each of the three generators.
  expect(first.truth.branches.map((branch) => branch.at)).toEqual(Array.from({ length: 3 }, () => new Date(START_MS + 30 * DAY_MS).toISOString()));
  for (const branch of first.truth.branches) expect(Object.keys(branch.crossings).sort()).toEqual(['deliveryShare', 'dutyRatio', 'elementDropKPa', 'nitrogen']);
});

test('a random fleet goes on from a file as if it had never stopped, and in pieces as at once', () => {
  const bytes = (one: World, steps: readonly number[], restore = false): string => {
    const hash = createHash('sha256');
    let living = one;
    for (const day of steps) {
      const batch = stepWorld(living, START_MS + day * DAY_MS);
      for (let row = 0; row < batch.atMs.length; row += 1) hash.update(`${batch.seriesIndex[row]} ${batch.atMs[row]} ${batch.value[row]} ${batch.receivedMs[row]}\n`);
      if (restore) living = JSON.parse(JSON.stringify(living)) as World;
    }
    return hash.digest('hex');
  };
  const whole = bytes(world(33), [9]);
  expect(bytes(world(33), [0.3, 1.71, 4, 4.001, 9])).toBe(whole);
  expect(bytes(world(33), [2.2, 5.5, 9], true)).toBe(whole);
});
