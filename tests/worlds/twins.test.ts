// World: random world of tuning seed 13, six generators with faults over 60 days, beside the same world without them.
import { expect, test } from 'vitest';
import { DAY_MS } from '../../shared/time.ts';
import { dailyMeters } from '../../dashboard/commands/score-run-meters.ts';
import { startTwins } from '../../dashboard/commands/score-run-twins.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

const SEED = 13;
const DAYS = 60;
const START_MS = Date.UTC(2026, 0, 5);

function lived(scenario: Scenario) {
  const world = startWorld({ scenario, seed: SEED, startMs: START_MS });
  const meters = dailyMeters(world);
  const twins = startTwins(world);
  twins.note(0);
  for (let day = 1; day <= DAYS; day += 1) {
    stepWorld(world, START_MS + day * DAY_MS);
    meters.note();
    twins.note(day);
  }
  return { meters, twins: twins.twins(meters, DAYS) };
}

test('startTwins() tells what each generator would have done without its faults, and the same until the first of them', () => {
  const scenario = randomScenario({ seed: SEED, generators: 6, days: DAYS, startMs: START_MS, faultyShare: 1 });
  const { meters, twins } = lived(scenario);
  // Reference: a world of its own from the start, with the faults taken out of the scenario.
  const apart = lived({ ...scenario, generators: scenario.generators.map((one) => ({ ...one, faults: [], channels: [] })) });
  expect(apart.twins.size).toBe(0);
  expect([...twins.keys()].sort()).toEqual(scenario.generators.map((one) => one.key as string).sort());
  scenario.generators.forEach((one, index) => {
    const twin = twins.get(one.key)!;
    const first = Math.max(0, Math.floor(Math.min(...one.faults.map((fault) => fault.fromDay)) - 0.02));
    expect(twin.runS).toHaveLength(DAYS);
    expect(twin.runS.slice(0, first)).toEqual(meters.runS[index]!.slice(0, first));
    expect(twin.book.demandNLPerMin.slice(0, first)).toEqual(meters.books[index]!.demandNLPerMin.slice(0, first));
    // When a gateway looks moves the simulator's stretches by seconds: amounts agree to a thousandth, runs cut at midnight to some minutes.
    const sum = (values: readonly number[]): number => values.reduce((total, value) => total + value, 0);
    expect(Math.abs(sum(twin.book.demandNLPerMin) / sum(apart.meters.books[index]!.demandNLPerMin) - 1)).toBeLessThan(2e-3);
    expect(Math.abs(sum(twin.runS) - sum(apart.meters.runS[index]!))).toBeLessThan(0.01 * sum(twin.runS) + 900);
  });
});

test('dailyMeters() reads the compressor, which behind an air receiver runs at other times than product flows', () => {
  const scenario = randomScenario({ seed: SEED, generators: 40, days: DAYS, startMs: START_MS, faultyShare: 0 });
  const [behind] = scenario.generators.filter((one) => one.plant.receiver !== undefined);
  const world = startWorld({ scenario: { ...scenario, generators: [{ ...behind!, channels: [], upsets: [], visits: [] }] }, seed: SEED, startMs: START_MS });
  const meters = dailyMeters(world);
  const before = world.generators[0]!.plant.receiver!.runS;
  const membrane = world.generators[0]!.plant.runS;
  stepWorld(world, START_MS + 10 * DAY_MS);
  meters.note();
  const { plant } = world.generators[0]!;
  expect(plant.book.flowMin).toBeGreaterThan(30);
  expect(meters.runS[0]![0]!).toBe(plant.receiver!.runS - before);
  expect(meters.runS[0]![0]!).not.toBe(plant.runS - membrane);
  expect(meters.books[0]!.deliveryNLPerMin[0]! / scenario.registry.sites.flatMap((site) => site.generators.map((one) => ({ key: `${site.id}/${one.id}`, one }))).find(({ key }) => key === behind!.key)!.one.ratedNLPerMin!).toBeGreaterThan(0.8);
  expect(meters.books[0]!.nitrogen[0]).toBeGreaterThan(0.97);
});
