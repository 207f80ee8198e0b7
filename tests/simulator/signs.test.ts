// World: one generator; what anybody beside it could see, whatever it comes from, and what may be said of an upset.
import { describe, expect, test } from 'vitest';
import type { BaseChannel, Channel } from '../../shared/channels.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { creepShows, UPSETS } from '../../simulator/faults/upsets.ts';
import type { GeneratorScenario } from '../../simulator/scenario.ts';
import { longestNormalMin } from '../../simulator/signs.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { oneGenerator, START_MS } from './one-generator.ts';

function lived(change: Partial<GeneratorScenario>, days: number, seed = 5): World {
  const world = startWorld({ scenario: oneGenerator({ channels: ['running'], ...change }), seed, startMs: START_MS });
  stepWorld(world, START_MS + days * DAY_MS);
  return world;
}
const upsetsOf = (world: World, kind: string) => worldTruth(world).upsets.filter((upset) => upset.kind === kind);
const dayOf = (iso: string): number => (Date.parse(iso) - START_MS) / DAY_MS;

describe('worldTruth() tells signs that are what they say, whatever they come from', () => {
  test('a run past its limit: from an hour of run, and until it ends', () => {
    const world = lived({ faults: [{ cause: 'leak', severity: 'urgent', shape: 'step', fromDay: 3, toDay: 5 }, { cause: 'leak', variant: 'tank', severity: 'urgent', shape: 'step', fromDay: 3, toDay: 5 }, { cause: 'compressor-side', severity: 'urgent', shape: 'step', fromDay: 3, toDay: 5 }] }, 8);
    const runs = upsetsOf(world, 'long-run');
    expect(runs).toMatchObject([{ maySay: ['runs-without-end'] }]);
    expect(dayOf(runs[0]!.from)).toBeGreaterThan(3 + 1 / 24);
    expect(dayOf(runs[0]!.from)).toBeLessThan(3.2);
    expect(dayOf(runs[0]!.to)).toBeGreaterThan(5);
    expect(dayOf(runs[0]!.to)).toBeLessThan(5.2);
  });

  test('none in good order', () => {
    const world = lived({ habit: { wander: 0.14, use: { timesPerDay: 3, minutes: 10, openingMm: 0.5 } } }, 20);
    expect(world.generators[0]!.signs).toEqual([]);
    expect(longestNormalMin(world.generators[0]!.runsMin)).toBeGreaterThan(3);
    expect(world.generators[0]!.runsMin.length).toBe(30);
  });

  test('a stop below cut-out while somebody locks it out in a run, until it stops as it should', () => {
    // Two days of lock-outs so many that one of them falls into a run.
    const upsets = Array.from({ length: 60 }, (_, index) => ({ kind: 'lock-out' as const, fromDay: 2 + index / 30, hours: 0.2 }));
    const stops = upsetsOf(lived({ upsets }, 6), 'stopped-short');
    expect(stops.length).toBeGreaterThan(0);
    for (const stop of stops) {
      expect(stop.maySay).toEqual(['stops-short']);
      expect(dayOf(stop.from)).toBeGreaterThan(2);
      expect(dayOf(stop.to)).toBeLessThan(6);
    }
  });

  test('a power cut is no stop below cut-out: the mains say it themselves', () => {
    const upsets = Array.from({ length: 60 }, (_, index) => ({ kind: 'power-cut' as const, fromDay: 2 + index / 30, hours: 0.2 }));
    expect(upsetsOf(lived({ upsets }, 6), 'stopped-short')).toEqual([]);
  });

  test('a protector that opens in each run is one spell, not twenty a day', () => {
    const world = lived({ faults: [{ cause: 'stops-short', severity: 'marked', shape: 'step', fromDay: 1 }] }, 4);
    expect(world.generators[0]!.signs.length).toBeGreaterThan(10);
    expect(upsetsOf(world, 'stopped-short').length).toBeLessThan(world.generators[0]!.signs.length / 3);
  });
});

test('longestNormalMin() leaves out what was long by chance: the third longest of thirty', () => {
  expect(longestNormalMin([])).toBe(0);
  expect(longestNormalMin([5, 4, 6])).toBe(6);
  expect(longestNormalMin([...Array.from({ length: 27 }, () => 5), 75, 7, 40])).toBe(7);
});

describe('an upset excuses what an honest observer could take it for, and no more', () => {
  const sends = (...sent: Channel[]) => (...asked: BaseChannel[]): boolean => asked.some((channel) => (sent as string[]).includes(channel));

  test('less where a channel tells what it is', () => {
    expect(UPSETS['cold-snap'].maySay(sends('running'))).toEqual(['leak']);
    expect(UPSETS['cold-snap'].maySay(sends('running', 'pipe-temperature'))).toEqual([]);
    expect(UPSETS['power-cut'].maySay(sends('running', 'power'))).toEqual(['no-power']);
    expect(UPSETS['counter-reset'].maySay(sends('running', 'tank-pressure'))).toEqual([]);
    for (const { maySay } of Object.values(UPSETS)) expect(maySay(sends('running'))).not.toContain('undetermined');
  });

  test('a moved and logged band for a day, not for the rest of the world', () => {
    const [moved] = upsetsOf(lived({ upsets: [{ kind: 'set-point', fromDay: 2.5, hours: 24_000, size: 20 }] }, 10), 'set-point');
    expect(Date.parse(moved!.to) - Date.parse(moved!.from)).toBe(24 * HOUR_MS);
  });

  test('a creeping seat only where it passes more than its riser loses', () => {
    const { plant } = oneGenerator().generators[0]!;
    const tight = { ...plant, risers: plant.risers.map((riser) => ({ ...riser, healthyLeakMm2: riser.healthyLeakMm2 / 100 })) };
    const creep = { kind: 'regulator-creep' as const, fromDay: 1, hours: 100 };
    expect(creepShows(plant, creep)).toBe(false);
    expect(creepShows(tight, creep)).toBe(true);
    expect(upsetsOf(lived({ upsets: [creep] }, 2), 'regulator-creep')[0]!.maySay).toEqual([]);
    expect(upsetsOf(lived({ plant: tight, channels: ['running', 'system-pressure'], upsets: [creep] }, 2), 'regulator-creep')[0]!.maySay).toContain('sensor-fault');
  });
});
