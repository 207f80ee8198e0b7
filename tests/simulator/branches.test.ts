// World: one generator with a growing leak, a loading element, a compressor that doesn't start; what happens if nobody goes.
import { expect, test } from 'vitest';
import { siteSchema } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { branchWorld } from '../../simulator/branches.ts';
import type { GeneratorScenario, Scenario } from '../../simulator/scenario.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { oneGenerator, START_MS } from './one-generator.ts';

function registered(change: Partial<GeneratorScenario>): Scenario {
  const site = siteSchema.parse({ id: 'test-site', generators: [{ id: 'gen-1', ratedNLPerMin: 28 }] });
  return { ...oneGenerator({ channels: ['running'], ...change }), registry: { sites: [site] } };
}

function lived(change: Partial<GeneratorScenario>, days: number): World {
  const world = startWorld({ scenario: registered(change), seed: 5, startMs: START_MS });
  stepWorld(world, START_MS + days * DAY_MS);
  return world;
}

const growing: Partial<GeneratorScenario> = {
  faults: [{ cause: 'leak', severity: 'urgent', shape: 'ramp', growth: 'quickening', fromDay: 20, growDays: 70, toDay: 62.4, endedBy: 'v' }, { cause: 'leak', variant: 'tank', severity: 'urgent', shape: 'ramp', fromDay: 20, growDays: 70, toDay: 62.4, endedBy: 'v' }],
  visits: [{ id: 'v', atDay: 62.4, hours: 2, replaced: ['o-rings'] }],
};

test('branchWorld() leaves the world as it is', () => {
  const world = lived(growing, 30);
  const before = JSON.stringify(world);
  branchWorld(world, 60);
  expect(JSON.stringify(world)).toBe(before);
});

// Reference: the same world without its visit, lived on day by day. Days 30 to 60 are lived one by one in the branch too,
// later ones one in three: hence 4 days.
test('branchWorld() foretells the day on which the world without a visit passes its limit', () => {
  const [branch] = branchWorld(lived(growing, 60));
  const alone = lived({ faults: growing.faults!.map(({ toDay: _to, endedBy: _by, ...fault }) => fault) }, 60);
  let crossed: number | undefined;
  for (let day = 60; day < 140 && crossed === undefined; day += 1) {
    const before = alone.generators[0]!.plant.runS;
    stepWorld(alone, START_MS + (day + 1) * DAY_MS);
    if ((alone.generators[0]!.plant.runS - before) / 86_400 > 0.5) crossed = day;
  }
  expect(crossed).toBeGreaterThan(62);
  const said = (Date.parse(branch!.crossings.dutyRatio!) - START_MS) / DAY_MS;
  expect(Math.abs(said - crossed!)).toBeLessThanOrEqual(4);
  // Limits are of days: each day past one loses 24 h. One odd day before the crossing may count too.
  expect(branch!.lossHours % 24).toBe(0);
  expect(Math.abs(branch!.lossHours / 24 - Math.max(0, 90 - said))).toBeLessThanOrEqual(2);
  // Running half of the time, it loads its elements too, later.
  expect(Date.parse(branch!.crossings.elementDropKPa!)).toBeGreaterThan(Date.parse(branch!.crossings.dutyRatio!));
});

test('branchWorld() counts hours over a limit in the next 30 days, and starts nothing that has not begun', () => {
  const early = branchWorld(lived({ ...growing, faults: growing.faults!.map((fault) => ({ ...fault, fromDay: 40 })) }, 30))[0]!;
  expect(early).toMatchObject({ site: 'test-site', generator: 'gen-1', lossHours: 0, crossings: { dutyRatio: null } });
  const dead = branchWorld(lived({ faults: [{ cause: 'not-starting', severity: 'urgent', shape: 'step', fromDay: 28 }] }, 30))[0]!;
  expect(dead.lossHours).toBe(720);
  // A contactor that sticks for an hour a day or two is past no limit of the day, and loses those hours.
  const sticking = branchWorld(lived({ faults: [{ cause: 'not-starting', severity: 'urgent', shape: 'comes-and-goes', fromDay: 28 }] }, 30))[0]!;
  expect(sticking.lossHours % 24).toBeGreaterThan(0);
  expect(sticking.lossHours).toBeLessThan(720);
  expect(dead.crossings.deliveryShare).toBe(new Date(START_MS + 30 * DAY_MS).toISOString());
  const fine = branchWorld(lived({}, 30))[0]!;
  expect(fine.lossHours).toBe(0);
  expect(Object.values(fine.crossings)).toEqual([null, null, null, null]);
});

test('branchWorld() sees elements reach their limit when nobody changes them', () => {
  const loading = branchWorld(lived({ loading: [0.3, 0.4, 0.4, 0.3], faults: [{ cause: 'element-loading', severity: 'urgent', shape: 'step', fromDay: 10 }] }, 30))[0]!;
  expect(loading.crossings.elementDropKPa).not.toBeNull();
  expect(Date.parse(loading.crossings.elementDropKPa!)).toBeGreaterThan(START_MS + 30 * DAY_MS);
});
