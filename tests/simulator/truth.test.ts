// World: the demo fleet over its 130 days of story, stepped coarsely; and single faults of the running.
import { describe, expect, test } from 'vitest';
import { entrySchema } from '../../shared/entry.ts';
import { generatorsOf } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { atmosphereKPa } from '../../simulator/plant/gas.ts';
import { DEMO_DAYS, demoFleet } from '../../simulator/demo-fleet.ts';
import { gatewayOnline, worldEntries, worldGateways, worldPresence } from '../../simulator/story-times.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { oneGenerator, START_MS } from './one-generator.ts';

const DEMO_START_MS = Date.UTC(2026, 6, 18, 14, 20);

describe('the demo fleet', () => {
  const scenario = demoFleet(DEMO_START_MS);
  const world: World = { ...startWorld({ scenario, seed: 1, startMs: DEMO_START_MS }), nowMs: DEMO_START_MS + DEMO_DAYS * DAY_MS };

  test('has 24 sites, 40 generators, one of them unclaimed, every riser and channel set told', () => {
    expect(scenario.registry.sites.length).toBe(24);
    expect(scenario.generators.length).toBe(40);
    const registered = new Set<string>(generatorsOf(scenario.registry).map((one) => one.key));
    expect(scenario.generators.filter((one) => !registered.has(one.key)).map((one) => one.key)).toEqual(['rope-walk/gen-9']);
    expect(new Set(scenario.generators.map((one) => one.channels.length)).size).toBeGreaterThanOrEqual(5);
    expect(scenario.generators.filter((one) => one.channels.join() === 'duty').length).toBe(2);
  });
  test('worldTruth() tells faults in progress and past, and no more than has happened', () => {
    const truth = worldTruth(world);
    expect(truth.faults.length).toBeGreaterThan(14);
    expect(truth.faults.filter((fault) => fault.end !== null).length).toBe(3);
    for (const fault of truth.faults) expect(Date.parse(fault.onset)).toBeLessThanOrEqual(world.nowMs);
    const young = worldTruth({ ...world, nowMs: DEMO_START_MS + 50 * DAY_MS });
    expect(young.faults.map((fault) => fault.cause)).toEqual(['compressor-side']);
  });
  test('worldEntries() gives visits and tests in order of becoming known, each valid', () => {
    const entries = worldEntries(world);
    expect(entries.length).toBeGreaterThanOrEqual(10);
    for (const entry of entries) expect(entrySchema.parse(entry)).toEqual(entry);
    const times = entries.map((entry) => Date.parse(entry.recordedAt));
    expect(times).toEqual([...times].sort((a, b) => a - b));
    const [first] = entries;
    expect(worldEntries(world, Date.parse(first!.recordedAt)).length).toBe(entries.length - 1);
  });
  test('worldPresence() says who came and who went; the silent gateway is off line at the end', () => {
    const events = worldPresence(world);
    const gateways = worldGateways(world);
    expect(events.filter((event) => event.atMs === DEMO_START_MS).length).toBe(gateways.length);
    const off = gateways.filter((gateway) => !gatewayOnline(world, gateway, world.nowMs)).map((gateway) => gateway.generators.join());
    expect(off).toEqual(['glass-arcade/gen-2']);
    for (const gateway of gateways) {
      const last = events.findLast((event) => event.gateway === gateway.gateway && event.site === gateway.site);
      expect(last!.online).toBe(!off.includes(gateway.generators.join()));
    }
  });
});

test('worldTruth() says from when a fault of the running could be known', () => {
  const known = (cause: 'not-starting' | 'runs-without-end' | 'stops-short'): number => {
    const world = startWorld({ scenario: oneGenerator({ faults: [{ cause, severity: 'urgent', shape: 'step', fromDay: 1 }] }), seed: 5, startMs: START_MS });
    stepWorld(world, START_MS + 3 * DAY_MS);
    return (Date.parse(worldTruth(world).faults[0]!.knowableAt!) - START_MS - DAY_MS) / 60_000;
  };
  // Not before the tank has fallen to cut-in; an hour of run; the first run that stops short.
  expect(known('not-starting')).toBeGreaterThanOrEqual(0);
  expect(known('not-starting')).toBeLessThan(180);
  expect(known('runs-without-end')).toBeGreaterThan(60);
  expect(known('runs-without-end')).toBeLessThan(240);
  expect(known('stops-short')).toBeLessThan(180);
});

test('worldTruth() calls a compressor that does not start knowable only once the tank is 10 kPa below cut-in', () => {
  const scenario = oneGenerator({ faults: [{ cause: 'not-starting', severity: 'urgent', shape: 'step', fromDay: 1 }] });
  const until = (ms: number): World => {
    const world = startWorld({ scenario, seed: 5, startMs: START_MS });
    stepWorld(world, ms);
    return world;
  };
  const knowableMs = until(START_MS + 3 * DAY_MS).generators[0]!.knowableMs[0]!;
  const { plant } = until(knowableMs).generators[0]!;
  const [{ plant: spec }] = scenario.generators as [(typeof scenario.generators)[number]];
  const gaugeKPa = (plant.tankNL * 101.325 * plant.tankK) / 273.15 / spec.tankLitres - atmosphereKPa(spec.elevationM);
  expect(gaugeKPa).toBeLessThan(plant.cutInKPa - 10);
  // It falls by 2 kPa a minute, and a world's generators run ahead by a beat or two.
  expect(gaugeKPa).toBeGreaterThan(plant.cutInKPa - 45);
});

test('worldTruth() calls a shut drain knowable when its bowl is full, and a frozen one not before it freezes', () => {
  const truth = (variant: 'shut' | 'frozen', days: number) => {
    const world = startWorld({ scenario: oneGenerator({ channels: ['running'], faults: [{ cause: 'drain-stuck-closed', variant, severity: 'barely', shape: 'step', fromDay: 1 }] }), seed: 5, startMs: START_MS });
    stepWorld(world, START_MS + days * DAY_MS);
    return { world, fault: worldTruth(world).faults[0]! };
  };
  const { world, fault } = truth('shut', 60);
  expect(world.generators[0]!.plant.waterMl).toBeGreaterThan(world.scenario.generators[0]!.plant.bowlMl);
  const day = Math.floor((Date.parse(fault.knowableAt!) - START_MS) / DAY_MS);
  expect(day).toBeGreaterThan(2);
  expect(truth('shut', day).world.generators[0]!.plant.waterMl).toBeLessThan(world.scenario.generators[0]!.plant.bowlMl);
  // The room is heated.
  expect(truth('frozen', 20).fault.knowableAt).toBeNull();
});
