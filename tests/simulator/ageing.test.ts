// World: one generator that loads and wears by itself, on the plant's own state; and looks made by hand.
import { describe, expect, test } from 'vitest';
import { siteSchema } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { agedFaults, type AgeingFrame, halfWayAged } from '../../simulator/ageing.ts';
import { lookAtItself, type OwnLook } from '../../simulator/own-state.ts';
import { atmosphereKPa } from '../../simulator/plant/gas.ts';
import { noDepartures } from '../../simulator/plant/departures.ts';
import { settleFeed } from '../../simulator/plant/feed-train.ts';
import type { GeneratorScenario, Scenario } from '../../simulator/scenario.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { oneGenerator, START_MS } from './one-generator.ts';

function lived(change: Partial<GeneratorScenario>, days: number): World {
  const site = siteSchema.parse({ id: 'test-site', generators: [{ id: 'gen-1', ratedNLPerMin: 28 }] });
  const scenario: Scenario = { ...oneGenerator({ channels: ['running'], ...change }), registry: { sites: [site] } };
  const world = startWorld({ scenario, seed: 5, startMs: START_MS });
  stepWorld(world, START_MS + days * DAY_MS);
  return world;
}
const dayOf = (iso: string | null): number => (Date.parse(iso!) - START_MS) / DAY_MS;
const VISIT = { id: 'v', atDay: 20.4, hours: 2, replaced: ['intake-element', 'particulate-element', 'coalescing-element', 'carbon-element'] } as const;

describe('worldTruth() of a generator for which no fault was drawn', () => {
  test('is empty while elements are fresh and the compressor is good', () => {
    expect(worldTruth(lived({}, 30)).faults).toEqual([]);
  });

  test('lists elements that were spent when the world began, from its start until the visit that changed them', () => {
    const { faults } = worldTruth(lived({ loading: [0.3, 0.9, 0.95, 0.4], visits: [VISIT] }, 30));
    expect(faults).toMatchObject([{ cause: 'element-loading', shape: 'ramp', severity: 'plain', byItself: true, endedBy: 'v' }]);
    expect(dayOf(faults[0]!.onset)).toBe(0);
    expect(dayOf(faults[0]!.knowableAt)).toBeLessThan(0.01);
    expect(dayOf(faults[0]!.end)).toBeCloseTo(20.4 + 2 / 24, 3);
  });

  test('lists them not before they are due, and goes on listing parts that were logged and left', () => {
    // Reference: the drop of the settled train against that of clean elements, at the moment told.
    const change = { loading: [0.3, 0.7, 0.76, 0.3], visits: [{ ...VISIT, notReally: VISIT.replaced }], faults: [] } as const;
    const days = 120;
    const [fault] = worldTruth(lived(change, days)).faults;
    expect(fault).toMatchObject({ cause: 'element-loading', severity: 'plain', end: null, endedBy: null });
    const knowableDay = dayOf(fault!.knowableAt);
    expect(knowableDay).toBeGreaterThan(2);
    const dropAt = (day: number): number => {
      const { generators: [state], scenario: { generators: [{ plant }] } } = lived(change, day) as unknown as { generators: [World['generators'][number]]; scenario: { generators: [GeneratorScenario] } };
      const atmKPa = atmosphereKPa(plant.elevationM);
      const drop = (loading: typeof state.plant.loading): number => {
        const point = settleFeed(plant.feed, { condition: 1 - state.plant.wear, loading, overflowMl: 0 }, noDepartures(1), 20, atmKPa, (plant.cutInKPa + plant.cutOutKPa) / 2 + atmKPa);
        return point.dischargeAbsKPa - point.feedAbsKPa;
      };
      return drop(state.plant.loading) - drop([state.plant.loading[0], 0, 0, 0]);
    };
    expect(dropAt(knowableDay)).toBeGreaterThan(34.7);
    expect(dropAt(knowableDay - 6)).toBeLessThan(35);
  });

  test('lists a compressor that was worn when the world began, by the registered limit', () => {
    const world = lived({ runHours: 100, loading: [3.2, 0.1, 0.1, 0.1] }, 3);
    expect(worldTruth(world).faults).toMatchObject([{ cause: 'compressor-side', byItself: true, end: null }]);
    expect(dayOf(worldTruth(world).faults[0]!.onset)).toBe(0);
  });

  test('gives elements that a story loads fast to the story: knowable when due, ended by who changes them', () => {
    const story = lived({ loading: [0.1, 0.6, 0.6, 0.1], faults: [{ cause: 'element-loading', severity: 'urgent', shape: 'step', fromDay: 2 }], visits: [VISIT] }, 30);
    const { faults } = worldTruth(story);
    expect(faults).toHaveLength(1);
    expect(faults[0]).toMatchObject({ cause: 'element-loading', severity: 'urgent', endedBy: 'v' });
    expect(faults[0]).not.toHaveProperty('byItself');
    expect(dayOf(faults[0]!.onset)).toBe(2);
    expect(dayOf(faults[0]!.knowableAt)).toBeGreaterThan(5);
    expect(dayOf(faults[0]!.end)).toBeCloseTo(20.4 + 2 / 24, 3);
  });
});

test('lookAtItself() sees what is worn and loaded, and nothing of faults or of the weather', () => {
  const world = lived({}, 2);
  const [{ plant }] = world.scenario.generators as [GeneratorScenario];
  const state = world.generators[0]!.plant;
  const fresh = lookAtItself({ ...state, wear: 0, loading: [0, 0, 0, 0] }, plant);
  expect(fresh).toMatchObject({ overCleanKPa: 0, deliveryShare: 1, byElements: 0, byCompressor: 0, purityByElements: 0, purityByCompressor: 0 });
  expect(lookAtItself({ ...state, wear: 0, loading: [0, 0, 0, 0], air: { ...state.air, roomC: -20 }, waterMl: 5000 }, plant)).toEqual(fresh);
  const worn = lookAtItself({ ...state, wear: 0.05, loading: [0, 0, 0, 0] }, plant);
  expect(worn.byElements).toBe(0);
  expect(worn.deliveryShare).toBeCloseTo(1 - worn.byCompressor, 2);
  expect(worn.byCompressor).toBeGreaterThan(0.06);
});

const look = (day: number, more: Partial<OwnLook>): OwnLook => ({ atMs: START_MS + day * DAY_MS, overCleanKPa: 0, deliveryShare: 1, byElements: 0, byCompressor: 0, nitrogen: 0.985, purityByElements: 0, purityByCompressor: 0, ...more });
function frame(looks: readonly OwnLook[], visits: GeneratorScenario['visits'] = []): AgeingFrame {
  const [generator] = oneGenerator({ visits }).generators;
  return { looks, generator: generator!, limits: { deliveryShare: 0.7, nitrogen: 0.98 }, startMs: START_MS, dayMs: (day) => START_MS + day * DAY_MS };
}

describe('agedFaults()', () => {
  test('counts a tenth of delivery lost since it was last seen to, and not what was lost before', () => {
    const losing = (from: number, to: number): OwnLook[] => [look(0, { byCompressor: from, deliveryShare: 1 - from }), look(50, { byCompressor: to, deliveryShare: 1 - to })];
    expect(agedFaults(frame(losing(0.05, 0.16)))).toMatchObject([{ cause: 'compressor-side', deliveryLoss: 0.16, severity: 'plain' }]);
    expect(agedFaults(frame(losing(0.1, 0.16)))).toEqual([]);
  });

  test('names each cause that has a good part in a limit that is passed', () => {
    const both = look(0, { deliveryShare: 0.68, byCompressor: 0.2, byElements: 0.15 });
    expect(agedFaults(frame([both])).map((one) => one.cause).sort()).toEqual(['compressor-side', 'element-loading']);
    expect(agedFaults(frame([{ ...both, byElements: 0.05 }])).map((one) => one.cause)).toEqual(['compressor-side']);
    expect(agedFaults(frame([look(0, { nitrogen: 0.978, purityByCompressor: 0.004, purityByElements: 0.001 })])).map((one) => one.cause)).toEqual(['compressor-side']);
    expect(agedFaults(frame([look(0, { nitrogen: 0.978 })]))).toEqual([]);
  });

  test('begins anew after the visit that changed the part, and says which', () => {
    const visits = [{ id: 'intake', atDay: 60, hours: 1, replaced: ['intake-element'] as const }];
    const looks = [look(0, {}), look(50, { byCompressor: 0.12, deliveryShare: 0.88 }), look(60.1, { byCompressor: 0.02, deliveryShare: 0.98 }), look(90, { byCompressor: 0.13, deliveryShare: 0.87 })];
    const found = agedFaults(frame(looks, visits));
    expect(found).toMatchObject([{ endedBy: 'intake' }, { endMs: null }]);
    expect((found[1]!.onsetMs - START_MS) / DAY_MS).toBeCloseTo(60 + 1 / 24, 6);
  });
});

describe('halfWayAged()', () => {
  const losing = (lost: number, day: number): OwnLook => look(day, { byCompressor: lost, deliveryShare: 1 - lost });

  test('tells what is half-way to its bar, no fault yet, till it is changed', () => {
    const visits = [{ id: 'intake', atDay: 60, hours: 1, replaced: ['intake-element'] as const }];
    const worn = frame([losing(0, 0), losing(0.04, 20), losing(0.06, 40), losing(0.01, 60.1), losing(0.03, 80)], visits);
    expect(agedFaults(worn)).toEqual([]);
    expect(halfWayAged(worn)).toEqual([{ cause: 'compressor-side', fromMs: START_MS + 40 * DAY_MS, toMs: START_MS + Math.round((60 + 1 / 24) * DAY_MS) }]);
  });

  test('is silent of less, and of the other part', () => {
    expect(halfWayAged(frame([losing(0, 0), losing(0.045, 40)]))).toEqual([]);
    expect(halfWayAged(frame([look(0, { overCleanKPa: 10 }), look(30, { overCleanKPa: 18 })]))).toMatchObject([{ cause: 'element-loading', toMs: Infinity }]);
  });
});
