// World: the demo fleet. History is made at the first start while a person waits: 130 days must come in 15 s on one core,
// which is 460,000 readings a second. Processor time, not time of day, and half of it, so that a busy machine doesn't fail the test.
import { expect, test } from 'vitest';
import { DAY_MS } from '../../shared/time.ts';
import { demoFleet } from '../../simulator/demo-fleet.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

const START_MS = Date.UTC(2026, 6, 18, 8);

test('stepWorld() makes 230,000 readings a second of processor time, and more', () => {
  const world = startWorld({ scenario: demoFleet(START_MS), seed: 1, startMs: START_MS });
  stepWorld(world, START_MS + 5 * DAY_MS);
  const before = process.cpuUsage();
  const { length } = stepWorld(world, START_MS + 25 * DAY_MS).atMs;
  const used = process.cpuUsage(before);
  expect(length).toBeGreaterThan(900_000);
  expect(length / ((used.user + used.system) / 1e6)).toBeGreaterThan(230_000);
});
