// Issue: "Screens", the engineer's page: a fault over real history is simulated again with its stored days as drivers. Identity: what leads a plant comes out of it.
import { expect, test } from 'vitest';
import type { DayRow } from '../../shared/cycle.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { generatorsOf, siteSchema } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { layDriven } from '../../simulator/driven.ts';
import { noDepartures } from '../../simulator/plant/departures.ts';
import { rebuiltScenario } from '../../simulator/rebuilt.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';

const START_MS = Date.UTC(2026, 4, 4);
const site = siteSchema.parse({ id: 'yard', generators: [{ id: 'gen-1', tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, reportEveryS: 300, risers: [{ id: 'north', setKPa: 230, pipeLitres: 1800 }] }] });
const [registered] = generatorsOf({ sites: [site] });

function day(at: number, demand: number | null, delivery: number, more: Partial<DayRow> = {}): DayRow {
  const startMs = START_MS + at * DAY_MS;
  return {
    generator: 'yard/gen-1' as GeneratorKey, day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 0, restS: 0, starts: 20, dutyRatio: demand === null ? null : demand / delivery, unit: 'NL/min',
    demand: demand === null ? null : { value: demand, se: 0.1 }, delivery: demand === null ? null : { value: delivery, se: 0.2 }, longestRunS: 0, longestRestS: 0, cutInKPa: 550, cutOutKPa: 700, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: null, systemKPa: null, roomC: 18, pipeC: 12, humidityPercent: null, holdingRatio: 1, heard: {}, ...more,
  };
}

/** Running share of each day, from the hour meter of the plant itself. */
function duties(days: readonly DayRow[], count: number): number[] {
  const scenario = rebuiltScenario({ name: 'again', startMs: START_MS, remembered: [{ registered: registered!, channels: ['running', 'tank-pressure', 'system-pressure', 'system-pressure.north', 'system-pressure.gone'], days }] });
  expect(scenario.generators[0]?.channels).toEqual(['running', 'tank-pressure', 'system-pressure', 'system-pressure.north']);
  expect(scenario.registry.sites).toEqual([site]);
  const world = startWorld({ scenario, seed: 7, startMs: START_MS });
  return Array.from({ length: count }, (_, index) => {
    const before = world.generators[0]!.plant.runS;
    stepWorld(world, START_MS + (index + 1) * DAY_MS);
    return (world.generators[0]!.plant.runS - before) / 86_400;
  });
}

test('rebuiltScenario() gives each day the demand and the delivery that were stored', () => {
  const days = [3, 3, 6, 6, 3, 3, 3, 3].map((demand, at) => day(at, demand, at < 6 ? 26 : 20));
  const out = duties(days, 8);
  // Bowls and housing are filled before each run delivers, which stored delivery leaves out: up to 8 % more, and a day cuts a cycle.
  for (const [at, ratio] of [3 / 26, 3 / 26, 6 / 26, 6 / 26, 3 / 26, 3 / 26, 3 / 20, 3 / 20].entries()) expect(Math.abs(out[at]! / ratio - 1.04)).toBeLessThan(0.1);
});

test('rebuiltScenario() takes the duty ratio where flows are only ratios, and the rating where nothing else is known', () => {
  const days = [0.1, 0.1, 0.2, 0.2].map((dutyRatio, at) => day(at, null, 1, { unit: 'relative', dutyRatio, delivery: { value: 0.12, se: 0.01 } }));
  const out = duties(days, 4);
  for (const [at, ratio] of [0.1, 0.1, 0.2, 0.2].entries()) expect(Math.abs(out[at]! / ratio - 1.04)).toBeLessThan(0.12);
});

test('a day of which nothing is known is silent, whether it is stored empty or not at all', () => {
  const days = [day(0, 3, 26), day(1, null, 26), day(2, 3, 26), day(4, 3, 26)];
  const scenario = rebuiltScenario({ name: 'again', startMs: START_MS, remembered: [{ registered: registered!, channels: ['running', 'tank-pressure'], days }] });
  expect(scenario.generators[0]?.driven?.map((span) => [span.fromDay, span.silent])).toEqual([[0, false], [1, true], [2, false], [3, true], [4, false]]);
  const batch = stepWorld(startWorld({ scenario, seed: 7, startMs: START_MS }), START_MS + 5 * DAY_MS);
  const heard = [0, 0, 0, 0, 0];
  for (const atMs of batch.atMs) heard[Math.floor((atMs - START_MS) / DAY_MS)]! += 1;
  // What departs is looked at every five minutes, so that the first moments of a silent day may still be heard.
  expect(heard.map((count) => (count > 250 ? 'heard' : count <= 6 ? 'silent' : count))).toEqual(['heard', 'silent', 'heard', 'silent', 'heard']);
});

test('layDriven() holds the nearest span outside of its days', () => {
  const driven = [{ fromDay: 2, toDay: 3, wander: 2, flowLoss: 0.1, silent: false }, { fromDay: 3, toDay: 4, wander: 3, flowLoss: 0.2, silent: true }];
  const at = (when: number): readonly unknown[] => {
    const dep = noDepartures(1);
    return [layDriven(dep, driven, when), dep.wander, dep.flowLoss, dep.silent];
  };
  expect([at(0), at(2.5), at(3), at(9)]).toEqual([[true, 2, 0.1, false], [true, 2, 0.1, false], [true, 3, 0.2, true], [true, 3, 0.2, true]]);
  expect(layDriven(noDepartures(1), [], 3)).toBe(false);
});
