// World: one generator after a visit that left a valve shut or a bleed open; by when that is to be known (design, section 5).
import { expect, test } from 'vitest';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import type { FaultScenario, GeneratorScenario } from '../../simulator/scenario.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { oneGenerator, START_MS } from './one-generator.ts';

const VISIT = { id: 'v', atDay: 10.4, hours: 1.5, replaced: ['drain'] } as const;
const FROM_DAY = 10.4 + 1.5 / 24;
function lived(fault: Partial<FaultScenario> & Pick<FaultScenario, 'cause'>, days: number, change: Partial<GeneratorScenario> = {}): World {
  const world = startWorld({ scenario: oneGenerator({ channels: ['running'], visits: [VISIT], faults: [{ severity: 'urgent', shape: 'step', fromDay: FROM_DAY, ...fault }], ...change }), seed: 5, startMs: START_MS });
  stepWorld(world, START_MS + days * DAY_MS);
  return world;
}
const hoursAfter = (iso: string): number => (Date.parse(iso) - START_MS - FROM_DAY * DAY_MS) / HOUR_MS;

test('worldTruth() wants a shut valve known when its first rest is longer than others, or half the margin is lost', () => {
  const world = lived({ cause: 'valve-left-shut' }, 14);
  const { dueAt } = worldTruth(world).faults[0]!;
  const rests = world.generators[0]!.restsMin.toSorted((a, b) => a - b).map((minutes) => minutes / 60);
  expect(world.generators[0]!.restsMin.length).toBeGreaterThan(50);
  // Longer than most rests, and no longer than the longest and a step of the simulator.
  expect(hoursAfter(dueAt!)).toBeGreaterThan(rests[Math.floor(0.9 * rests.length)]!);
  expect(hoursAfter(dueAt!)).toBeLessThan(rests.at(-1)! + 0.1);
});

test('worldTruth() wants it at half the margin where rests are too few to tell', () => {
  const early = lived({ cause: 'valve-left-shut', fromDay: 0.3 }, 4, { visits: [], plant: tight() });
  const due = early.generators[0]!.due[0]!.atMs!;
  const { plant } = early.scenario.generators[0]!;
  const again = lived({ cause: 'valve-left-shut', fromDay: 0.3 }, (due - START_MS) / DAY_MS, { visits: [], plant: tight() });
  const { plant: state } = again.generators[0]!;
  const gauge = (state.risers[0]!.pipeNL * 101.325 * (state.air.pipeC + 273.15)) / 273.15 / plant.risers[0]!.pipeLitres - 100.1;
  // Half of a quarter of 240 kPa.
  expect(Math.abs(gauge - 210)).toBeLessThan(1.5);
});

function tight(): GeneratorScenario['plant'] {
  const { plant } = oneGenerator().generators[0]!;
  return { ...plant, healthyTankLeakMm2: plant.healthyTankLeakMm2 / 50 };
}

test('worldTruth() wants an open bleed known by the end of the second whole cycle', () => {
  const world = lived({ cause: 'bleed-left-open', variant: 'tank' }, 12);
  const { dueAt } = worldTruth(world).faults[0]!;
  expect(hoursAfter(dueAt!)).toBeGreaterThan(0.3);
  expect(hoursAfter(dueAt!)).toBeLessThan(12);
  expect(worldTruth(lived({ cause: 'leak' }, 12)).faults[0]).not.toHaveProperty('dueAt');
  // Shut again before its time has come.
  expect(worldTruth(lived({ cause: 'bleed-left-open', variant: 'tank', severity: 'barely', toDay: FROM_DAY + 0.01 }, 12)).faults[0]!.dueAt).toBeNull();
});
