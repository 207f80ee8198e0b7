// World: the demo fleet and single generators; properties that must hold for every world.
import { createHash } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { demoFleet } from '../../simulator/demo-fleet.ts';
import type { FaultScenario } from '../../simulator/scenario.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { liveWorld, oneGenerator, START_MS, valuesOf } from './one-generator.ts';

const DEMO_START_MS = Date.UTC(2026, 6, 18, 8, 13);

function fingerprint(batches: readonly ReadingBatch[]): string {
  const hash = createHash('sha256');
  for (const batch of batches) {
    for (let row = 0; row < batch.atMs.length; row += 1) {
      const one = batch.series[batch.seriesIndex[row]!]!;
      hash.update(`${one.generator}/${one.channel} ${batch.atMs[row]} ${batch.value[row]} ${batch.receivedMs[row]}\n`);
    }
  }
  return hash.digest('hex');
}

function stepped(world: World, days: number, stepMs: number): ReadingBatch[] {
  const batches: ReadingBatch[] = [];
  const endMs = world.startMs + days * DAY_MS;
  while (world.nowMs < endMs) batches.push(stepWorld(world, Math.min(endMs, world.nowMs + stepMs)));
  return batches;
}

describe('stepWorld()', () => {
  const scenario = demoFleet(DEMO_START_MS);
  const start = (seed = 3): World => startWorld({ scenario, seed, startMs: DEMO_START_MS });
  const whole = fingerprint([stepWorld(start(), DEMO_START_MS + 2 * DAY_MS)]);

  test('gives the same bytes for the same seed, and others for another', () => {
    expect(fingerprint([stepWorld(start(), DEMO_START_MS + 2 * DAY_MS)])).toBe(whole);
    expect(fingerprint([stepWorld(start(4), DEMO_START_MS + 2 * DAY_MS)])).not.toBe(whole);
  });
  test('gives the same in pieces as at once', () => {
    expect(fingerprint(stepped(start(), 2, 47 * 60_000 + 13))).toBe(whole);
    expect(fingerprint(stepped(start(), 2, 7.3 * HOUR_MS))).toBe(whole);
  });
  test('goes on from a file as if it had never stopped', () => {
    const world = start();
    const first = stepWorld(world, DEMO_START_MS + 0.7 * DAY_MS);
    const restored = JSON.parse(JSON.stringify(world)) as World;
    expect(fingerprint([first, stepWorld(restored, DEMO_START_MS + 2 * DAY_MS)])).toBe(whole);
  });
  test('hands over in order of receipt, nothing from the future', () => {
    const world = start();
    const batch = stepWorld(world, DEMO_START_MS + DAY_MS);
    for (let row = 0; row < batch.atMs.length; row += 1) {
      expect(batch.receivedMs[row]!).toBeGreaterThan(batch.atMs[row]!);
      if (row > 0) expect(batch.receivedMs[row]!).toBeGreaterThanOrEqual(batch.receivedMs[row - 1]!);
    }
    expect(batch.receivedMs.at(-1)!).toBeLessThanOrEqual(DEMO_START_MS + DAY_MS);
    expect(() => stepWorld(world, DEMO_START_MS)).toThrow(RangeError);
  });
});

// Identity: what a plant made is what it holds and what left it; to the rounding of sums of 1e5 NL in doubles.
test('advancePlant() keeps every normal litre, with many faults on', () => {
  const faults: FaultScenario[] = [
    { cause: 'leak', severity: 'plain', shape: 'ramp', fromDay: 1, growDays: 10 }, { cause: 'leak', variant: 'tank', severity: 'barely', shape: 'step', fromDay: 3 },
    { cause: 'check-valve-leaking', severity: 'plain', shape: 'step', fromDay: 5 }, { cause: 'drain-stuck-open', severity: 'plain', shape: 'comes-and-goes', fromDay: 2 },
    { cause: 'runs-without-end', severity: 'plain', shape: 'step', fromDay: 20, toDay: 21 }, { cause: 'stops-short', severity: 'marked', shape: 'step', fromDay: 23, toDay: 26 }, { cause: 'supply-bypassed', severity: 'urgent', shape: 'step', fromDay: 27, toDay: 28 },
  ];
  const scenario = oneGenerator({ faults, upsets: [{ kind: 'trip-test', fromDay: 12.4, hours: 80 }, { kind: 'power-cut', fromDay: 18, hours: 3 }] });
  const world = startWorld({ scenario, seed: 9, startMs: START_MS });
  const { plant } = world.generators[0]!;
  const content = (): number => plant.tankNL + plant.risers.reduce((sum, riser) => sum + riser.pipeNL, 0);
  const before = content();
  const tankBefore = plant.tankNL;
  for (let day = 1; day <= 30; day += 1) {
    stepWorld(world, START_MS + day * DAY_MS);
    const { book } = plant;
    const left = book.tankLeakNL + book.backNL + book.reliefNL + book.pipeLostNL;
    expect(Math.abs(before + book.productNL + book.otherNL - left - content())).toBeLessThan(1e-6);
    expect(Math.abs(tankBefore + book.productNL - book.tankLeakNL - book.backNL - book.reliefNL - book.suppliedNL - plant.tankNL)).toBeLessThan(1e-6);
  }
  for (const part of ['productNL', 'tankLeakNL', 'backNL', 'reliefNL', 'pipeLostNL', 'otherNL', 'intakeNL', 'ventedNL'] as const) expect(plant.book[part], part).toBeGreaterThan(0);
});

// Common practice, no source: duty 1..25 %, runs 3..20 min, rests 20 min..3 days, 0.5..40 cycles a day, piping within its band.
test('the demo fleet in good order lives within the usual figures', () => {
  const scenario = demoFleet(DEMO_START_MS);
  const world = startWorld({ scenario, seed: 3, startMs: DEMO_START_MS });
  const before = world.generators.map((one) => ({ runS: one.plant.runS, starts: one.plant.starts }));
  stepWorld(world, DEMO_START_MS + 10 * DAY_MS);
  world.generators.forEach(({ plant }, index) => {
    const { key } = scenario.generators[index]!;
    const runS = plant.runS - before[index]!.runS;
    const starts = plant.starts - before[index]!.starts;
    const duty = runS / (10 * 86_400);
    expect(duty, key).toBeGreaterThan(0.01);
    expect(duty, key).toBeLessThan(0.25);
    expect(runS / starts / 60, key).toBeGreaterThan(3);
    expect(runS / starts / 60, key).toBeLessThan(20);
    expect(starts / 10, key).toBeGreaterThan(0.5);
    expect(starts / 10, key).toBeLessThan(40);
  });
});

// Reference: the same plant looked at ten times as often; a start or stop must not depend on when a gateway looks.
test('starts and stops stand at their moment, whatever the period of reports', () => {
  const slow = liveWorld(oneGenerator({ reportEveryS: 3600, channels: ['running'] }), 3);
  const quick = liveWorld(oneGenerator({ reportEveryS: 60, channels: ['running'] }), 3);
  const changes = (batch: ReadingBatch): number[] => {
    const at: number[] = [];
    for (let row = 1; row < batch.atMs.length; row += 1) if (batch.value[row] !== batch.value[row - 1]) at.push(batch.atMs[row]!);
    return at;
  };
  const a = changes(slow.batch);
  const b = changes(quick.batch);
  expect(a.length).toBeGreaterThan(60);
  expect(Math.abs(a.length - b.length)).toBeLessThanOrEqual(1);
  // The gap of the first day's moments stays small; what grows later is the switch's own scatter meeting another pressure.
  for (let index = 0; index < 20; index += 1) expect(Math.abs(a[index]! - b[index]!)).toBeLessThan(5000);
});

describe('upsets and gateways', () => {
  test('a trip test is followed by one run of hours', () => {
    const { batch } = liveWorld(oneGenerator({ upsets: [{ kind: 'trip-test', fromDay: 1.4, hours: 80 }] }), 3);
    let longest = 0;
    let since = Number.NaN;
    for (let row = 0; row < batch.atMs.length; row += 1) {
      if (batch.series[batch.seriesIndex[row]!]!.channel !== 'running') continue;
      if (batch.value[row] === 1 && Number.isNaN(since)) since = batch.atMs[row]!;
      if (batch.value[row] === 0 && !Number.isNaN(since)) {
        longest = Math.max(longest, batch.atMs[row]! - since);
        since = Number.NaN;
      }
    }
    expect(longest / HOUR_MS).toBeGreaterThan(2);
    expect(longest / HOUR_MS).toBeLessThan(12);
    expect(Math.min(...valuesOf(batch, 'system-pressure'))).toBeLessThan(5);
  });
  test('a cold snap draws nitrogen into piping out of doors', () => {
    const plain = liveWorld(oneGenerator(), 6).world.generators[0]!.plant.book.suppliedNL;
    const outdoors = oneGenerator().generators[0]!.plant;
    const plant = { ...outdoors, surroundings: { ...outdoors.surroundings, piping: { heldC: 12, outdoorShare: 0.85, lagH: 4 } } };
    const still = liveWorld(oneGenerator({ plant }), 6).world.generators[0]!.plant.book.suppliedNL;
    const snapped = liveWorld(oneGenerator({ plant, upsets: [{ kind: 'cold-snap', fromDay: 2, hours: 72 }] }), 6).world.generators[0]!.plant.book.suppliedNL;
    expect(snapped).toBeGreaterThan(still + 30);
    expect(plain).toBeGreaterThan(0);
  });
  test('a late burst keeps every reading and brings it in order after the outage', () => {
    const calm = liveWorld(oneGenerator(), 3).batch;
    const late = liveWorld(oneGenerator({ upsets: [{ kind: 'late-burst', fromDay: 0.5, hours: 40 }] }), 3).batch;
    const set = (batch: ReadingBatch): Set<string> => new Set(Array.from(batch.atMs, (at, row) => `${at} ${batch.series[batch.seriesIndex[row]!]!.channel} ${batch.value[row]}`));
    const inEnd = START_MS + 2.9 * DAY_MS;
    const before = [...set(calm)].filter((one) => Number(one.split(' ')[0]) < inEnd);
    const after = set(late);
    expect(before.filter((one) => !after.has(one))).toEqual([]);
    const delays = Array.from(late.atMs, (at, row) => late.receivedMs[row]! - at);
    expect(Math.max(...delays)).toBeGreaterThan(39 * HOUR_MS);
  });
  test('packs get lost and doubled in the share asked for', () => {
    const calm = liveWorld(oneGenerator(), 5).batch.atMs.length;
    expect(liveWorld(oneGenerator({ lossRatio: 0.2 }), 5).batch.atMs.length / calm).toBeCloseTo(0.8, 1);
    expect(liveWorld(oneGenerator({ doubleRatio: 0.2 }), 5).batch.atMs.length / calm).toBeCloseTo(1.2, 1);
  });
  test('elements changed at a visit are clean again, unless they were only logged', () => {
    const visit = { id: 'v', atDay: 1.4, hours: 1.5, replaced: ['coalescing-element' as const] };
    const loading = [0.8, 0.8, 0.8, 0.8] as const;
    const changed = liveWorld(oneGenerator({ loading, visits: [visit] }), 2).world.generators[0]!.plant;
    const logged = liveWorld(oneGenerator({ loading, visits: [{ ...visit, notReally: ['coalescing-element'] }] }), 2).world.generators[0]!.plant;
    expect(changed.loading[2]).toBeLessThan(0.01);
    expect(logged.loading[2]).toBeGreaterThan(0.8);
    expect(changed.loading[1]).toBeGreaterThan(0.8);
  });
});
