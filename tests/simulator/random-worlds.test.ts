// World: random fleets of several seeds; what they must be like to be worth a judgement.
import { expect, test } from 'vitest';
import { baseChannel } from '../../shared/channels.ts';
import { entrySchema } from '../../shared/entry.ts';
import { generatorsOf, parseRegistry } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { drawnVariants, FAULTS } from '../../simulator/faults/table.ts';
import { motorOf } from '../../simulator/plant/motor.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import { worldEntries } from '../../simulator/story-times.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

const START_MS = Date.UTC(2026, 0, 5);
const fleet = (seed: number, generators = 60) => randomScenario({ seed, generators, days: 180, startMs: START_MS });

test('randomScenario() gives the same fleet for the same seed, and another for another', () => {
  expect(fleet(3)).toEqual(fleet(3));
  expect(JSON.stringify(fleet(3))).not.toBe(JSON.stringify(fleet(4)));
  expect(JSON.parse(JSON.stringify(fleet(3)))).toEqual(fleet(3));
});

test('randomScenario() draws every cause and variant, and leaves about half in good order', () => {
  const generators = [1, 2, 3, 4, 5, 6, 7, 8].flatMap((seed) => fleet(seed).generators);
  const drawn = new Set(generators.flatMap((one) => one.faults.map((fault) => `${fault.cause}/${fault.variant}`)));
  const all = FAULTS.flatMap((kind) => drawnVariants(kind.cause).map((variant) => `${kind.cause}/${variant}`));
  expect(all.filter((one) => !drawn.has(one) && !one.endsWith('/frozen'))).toEqual([]);
  const faulty = generators.filter((one) => one.faults.length > 0).length / generators.length;
  // 480 draws at a half: 4 sd are 0.09.
  expect(Math.abs(faulty - 0.5)).toBeLessThan(0.09);
  expect(generators.some((one) => one.faults.length === 2)).toBe(true);
  for (const trait of [generators.some((one) => one.plant.feed.sieve !== undefined), generators.some((one) => one.plant.receiver !== undefined), generators.some((one) => one.clockAheadS !== undefined), generators.some((one) => one.faults.some((fault) => fault.badlyMended !== undefined)), generators.some((one) => one.visits.some((visit) => (visit.notReally ?? []).length > 0))]) expect(trait).toBe(true);
  expect(new Set(generators.map((one) => one.channels.map(baseChannel).join())).size).toBeGreaterThan(7);
  expect(new Set(generators.map((one) => one.reportEveryS))).toEqual(new Set([60, 120, 300, 600, 900, 3600]));
});

test('randomScenario() draws only from the causes asked for, or nothing', () => {
  const only = randomScenario({ seed: 5, generators: 30, days: 120, startMs: START_MS, faultyShare: 1, causes: ['leak', 'drain-stuck-open'] });
  expect(new Set(only.generators.flatMap((one) => one.faults.map((fault) => fault.cause)))).toEqual(new Set(['leak', 'drain-stuck-open']));
  expect(only.generators.every((one) => one.faults.length > 0)).toBe(true);
  expect(randomScenario({ seed: 5, generators: 30, days: 120, startMs: START_MS, faultyShare: 0 }).generators.flatMap((one) => one.faults)).toEqual([]);
});

test('a random fleet is registered, lives, and runs within the usual figures', () => {
  const scenario = randomScenario({ seed: 11, generators: 40, days: 60, startMs: START_MS, faultyShare: 0 });
  expect('registry' in parseRegistry(JSON.stringify(scenario.registry))).toBe(true);
  expect(generatorsOf(scenario.registry).map((one) => one.key)).toEqual(scenario.generators.map((one) => one.key));
  const world = startWorld({ scenario, seed: 2, startMs: START_MS });
  const before = world.generators.map((one) => ({ runS: one.plant.runS, starts: one.plant.starts }));
  const batch = stepWorld(world, START_MS + 20 * DAY_MS);
  expect(batch.value.every((value) => Number.isFinite(value))).toBe(true);
  for (const entry of worldEntries(world, -Infinity, START_MS + 60 * DAY_MS)) expect(entrySchema.parse(entry)).toEqual(entry);
  const duties = world.generators.map((one, index) => (one.plant.runS - before[index]!.runS) / (20 * 86_400)).sort((a, b) => a - b);
  // Common practice, no source: 1 to 25 % of the time, a refill after a test once in a while; tight and leaky sites both.
  expect(duties[0]!).toBeGreaterThan(0.008);
  expect(duties.at(-1)!).toBeLessThan(0.4);
  expect(duties[36]! / duties[4]!).toBeGreaterThan(4);
});

test('a random fleet in good order, looked after for half a year, has no compressor that runs all day', () => {
  // Tuning seeds whose generators once ran without a stop: regulators behind receivers stood under cut-out, and nobody came for the elements.
  const long = [20003, 20007].flatMap((seed) => {
    const scenario = randomScenario({ seed, generators: 25, days: 180, startMs: START_MS, faultyShare: 0 });
    const world = startWorld({ scenario: { ...scenario, generators: scenario.generators.map((one) => ({ ...one, channels: [], upsets: [] })) }, seed, startMs: START_MS });
    const before = world.generators.map((one) => motorOf(one.plant).runS);
    const most = before.map(() => 0);
    for (let day = 1; day <= 180; day += 1) {
      stepWorld(world, START_MS + day * DAY_MS);
      world.generators.forEach((one, index) => {
        const { runS } = motorOf(one.plant);
        most[index] = Math.max(most[index]!, (runS - before[index]!) / 86_400);
        before[index] = runS;
      });
    }
    return most;
  });
  expect(Math.max(...long)).toBeLessThan(0.5);
});

test('a habit makes healthy demand wander from day to day by about what was asked', () => {
  const { generators: [one], ...rest } = randomScenario({ seed: 21, generators: 1, days: 120, startMs: START_MS, faultyShare: 0 });
  const daily = (wander: number): number[] => {
    const world = startWorld({ scenario: { ...rest, generators: [{ ...one!, channels: ['running'], upsets: [], visits: [], habit: { wander } }] }, seed: 2, startMs: START_MS });
    const { plant } = world.generators[0]!;
    let lost = 0;
    return Array.from({ length: 80 }, (_, day) => {
      stepWorld(world, START_MS + (day + 1) * DAY_MS);
      const today = plant.book.pipeLostNL - lost;
      lost = plant.book.pipeLostNL;
      return Math.log(today);
    }).slice(1);
  };
  const sd = (values: readonly number[]): number => {
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
    return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length);
  };
  expect(sd(daily(0))).toBeLessThan(0.02);
  // A day's mean is smoother than its ends, and 80 days that remember each other are few.
  expect(sd(daily(0.12))).toBeGreaterThan(0.06);
  expect(sd(daily(0.12))).toBeLessThan(0.18);
});
