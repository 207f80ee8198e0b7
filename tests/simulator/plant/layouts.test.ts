// World: the same generator built directly, with sieve beds, and behind an air receiver; the plants' own books, and what is sent.
import { describe, expect, test } from 'vitest';
import type { Channel } from '../../../shared/channels.ts';
import type { ReadingBatch } from '../../../shared/reading-batch.ts';
import { DAY_MS } from '../../../shared/time.ts';
import { amountNL } from '../../../simulator/plant/gas.ts';
import { untilTurnMs, type SieveSpec, sieveProduct, swingFactor } from '../../../simulator/plant/sieve.ts';
import type { FaultScenario } from '../../../simulator/scenario.ts';
import { channelsOf, type GeneratorSketch, plantOf } from '../../../simulator/site-plant.ts';
import { startWorld, stepWorld, type World } from '../../../simulator/world.ts';
import { oneGenerator, START_MS, valuesOf } from '../one-generator.ts';

const SKETCH: GeneratorSketch = { id: 'gen-1', climate: 'foothill', elevationM: 100, ratedNLPerMin: 28, ratedNitrogen: 0.987, tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, setKPa: 240, dutyRatio: 0.08, tankShare: 0.1, risers: [2300], headroomKPa: 150, piping: 'indoors', stepped: false };

function lived(change: Partial<GeneratorSketch>, faults: readonly FaultScenario[] = [], days = 5, reportEveryS = 60): { world: World; batch: ReadingBatch; minutes: number } {
  const plant = plantOf({ ...SKETCH, ...change });
  const scenario = oneGenerator({ plant, channels: channelsOf('full', ['riser-1'], plant.receiver !== undefined), faults, reportEveryS });
  const world = startWorld({ scenario, seed: 5, startMs: START_MS });
  const batch = stepWorld(world, START_MS + days * DAY_MS);
  return { world, batch, minutes: days * 1440 };
}
const RUN_S = 360_000;
const fault = (cause: FaultScenario['cause'], severity: FaultScenario['severity'] = 'marked', fromDay = 0): FaultScenario => ({ cause, severity, shape: 'step', fromDay });

describe('an air receiver', () => {
  const healthy = lived({ receiverLitres: 150 });
  const motor = (one: { world: World }) => one.world.generators[0]!.plant.receiver!;
  const plantS = (one: { world: World }): number => one.world.generators[0]!.plant.runS - RUN_S;

  test('keeps every normal litre of air', () => {
    for (const one of [healthy, lived({ receiverLitres: 150 }, [fault('drain-stuck-open'), fault('runs-without-end', 'urgent', 3)])]) {
      const receiver = motor(one);
      const { receiver: spec, elevationM } = one.world.scenario.generators[0]!.plant;
      const first = startWorld({ scenario: one.world.scenario, seed: 5, startMs: START_MS }).generators[0]!.plant.receiver!.airNL;
      expect(Math.abs(first + receiver.gainedNL - receiver.drawnNL - receiver.lostNL - receiver.airNL)).toBeLessThan(1e-6);
      expect(receiver.airNL).toBeLessThan(amountNL(spec!.cutOutKPa + 125 + 101.325, spec!.litres, 283));
      expect(elevationM).toBe(100);
    }
  });
  test('parts running from producing: a drain that stays open costs compressor hours and no delivery', () => {
    const drained = lived({ receiverLitres: 150 }, [fault('drain-stuck-open')]);
    const share = (one: { world: World }): number => (motor(one).runS - RUN_S) / plantS(one);
    expect(Math.abs(plantS(drained) / plantS(healthy) - 1)).toBeLessThan(0.02);
    expect(share(drained)).toBeGreaterThan(2 * share(healthy));
    // The compressor is sized to give more than the membrane takes.
    expect(share(healthy)).toBeGreaterThan(0.5);
    expect(share(healthy)).toBeLessThan(1);
  });
  test('a worn compressor runs longer for the same nitrogen', () => {
    const worn = lived({ receiverLitres: 150 }, [fault('compressor-side', 'urgent')]);
    expect(motor(worn).runS - RUN_S).toBeGreaterThan(1.1 * (motor(healthy).runS - RUN_S));
    expect(Math.abs(plantS(worn) / plantS(healthy) - 1)).toBeLessThan(0.02);
  });
  test('fills the tank to cut-out even through spent elements, however wide its band: its regulator stands high enough', () => {
    const wide = { ...SKETCH, receiverLitres: 150, cutInKPa: 550, cutOutKPa: 750, headroomKPa: 30 };
    const scenario = oneGenerator({ plant: plantOf(wide), channels: ['running', 'producing'], loading: [0.5, 0.9, 0.9, 0.9] });
    const world = startWorld({ scenario, seed: 5, startMs: START_MS });
    stepWorld(world, START_MS + 5 * DAY_MS);
    const { plant } = world.generators[0]!;
    expect(plant.starts - 700).toBeGreaterThan(10);
    expect((plant.runS - RUN_S) / (5 * 86_400)).toBeLessThan(0.2);
    expect(plant.book.productNL / plant.book.flowMin / wide.ratedNLPerMin).toBeGreaterThan(0.7);
  });
  test('sends both states at their moments, and the pressure before the elements under its regulator', () => {
    const times = (channel: Channel): number[] => {
      const { batch } = healthy;
      const at: number[] = [];
      let last = -1;
      for (let row = 0; row < batch.atMs.length; row += 1) {
        if (batch.series[batch.seriesIndex[row]!]!.channel !== channel) continue;
        if (last >= 0 && batch.value[row] !== last) at.push(batch.atMs[row]!);
        last = batch.value[row]!;
      }
      return at;
    };
    expect(times('producing').length).toBeGreaterThan(100);
    expect(times('running').length).toBeGreaterThan(100);
    expect(times('running')).not.toEqual(times('producing'));
    const set = healthy.world.scenario.generators[0]!.plant.receiver!.feedSetKPa;
    expect(Math.max(...valuesOf(healthy.batch, 'discharge-pressure'))).toBeLessThan(set + 4);
  });
  test('a compressor that does not start empties it, and delivery dies', () => {
    const dead = lived({ receiverLitres: 150 }, [fault('not-starting', 'urgent', 1)]);
    const { plant } = dead.world.generators[0]!;
    expect(plant.receiver!.running).toBe(false);
    expect(plant.book.productNL).toBeLessThan(0.5 * healthy.world.generators[0]!.plant.book.productNL);
    expect(dead.world.generators[0]!.knowableMs[0]).toBeGreaterThan(START_MS + DAY_MS);
  });
});

describe('sieve beds', () => {
  const spec: SieveSpec = { bedNLPerMinKPa: 0.04, ratedNLPerMin: 28, ratedOxygen: 0.013, ratedFeedAbsKPa: 875, swingS: 60 };
  test('swingFactor() is nothing in the pause, and 1 on average, with turns where untilTurnMs() says', () => {
    let sum = 0;
    for (let ms = 0; ms < 60_000; ms += 10) sum += swingFactor(spec, ms) / 6000;
    expect(sum).toBeCloseTo(1, 3);
    let atMs = 0;
    for (let turn = 0; turn < 40; turn += 1) {
      const before = swingFactor(spec, atMs);
      atMs += untilTurnMs(spec, atMs);
      expect(swingFactor(spec, atMs)).not.toBe(before);
    }
    expect(atMs).toBeCloseTo(20 * 60_000, 0);
  });
  test('sieveProduct() is purer at less flow, and gives more and less pure gas as beds lose capacity', () => {
    const at = (capacity: number, feedNL: number) => sieveProduct(spec, capacity, feedNL, 875, 101.325);
    expect(at(1, 50).oxygen).toBeLessThan(at(1, 58).oxygen);
    expect(at(0.8, 58).productNL).toBeGreaterThan(at(1, 58).productNL);
    expect(at(0.8, 58).oxygen).toBeGreaterThan(at(1, 58).oxygen);
    // Rated: half of the feed comes through, at the rated oxygen.
    expect(sieveProduct({ ...spec, bedNLPerMinKPa: 28 / (875 - 101.325) }, 1, 56, 875, 101.325).oxygen).toBeCloseTo(0.013, 6);
  });
  test('a plant with beds delivers what its rating says, in turns that its feed pressure shows', () => {
    const membrane = lived({});
    const sieve = lived({ kind: 'sieve', swingS: 45 }, [], 5, 10);
    const delivery = (one: { world: World }): number => one.world.generators[0]!.plant.book.productNL / one.world.generators[0]!.plant.book.flowMin;
    expect(Math.abs(delivery(sieve) / delivery(membrane) - 1)).toBeLessThan(0.06);
    const feed = valuesOf(sieve.batch, 'feed-pressure').filter((value) => value > 600);
    const drops = feed.filter((value, index) => index > 0 && value < feed[index - 1]! - 80).length;
    // 45 s a swing in runs of about six minutes: eight swings a run, of which a report each 10 s sees most.
    expect(drops / (sieve.world.generators[0]!.plant.starts - 700)).toBeGreaterThan(4);
  });
  test('beds that lose capacity are less pure and give more', () => {
    const weak = lived({ kind: 'sieve' }, [{ cause: 'membrane-decline', variant: 'fouled', severity: 'marked', shape: 'step', fromDay: 0 }]);
    const fresh = lived({ kind: 'sieve' });
    const { plant } = weak.world.generators[0]!;
    expect(plant.productOxygen).toBeGreaterThan(1.2 * fresh.world.generators[0]!.plant.productOxygen);
    expect(plant.book.productNL / plant.book.flowMin).toBeGreaterThan(fresh.world.generators[0]!.plant.book.productNL / fresh.world.generators[0]!.plant.book.flowMin);
  });
});

describe('drains, rooms and regulators', () => {
  test('a drain freezes in a cold cabinet only, and lets its water go when it thaws', () => {
    const frozen: FaultScenario = { cause: 'drain-stuck-closed', variant: 'frozen', severity: 'plain', shape: 'step', fromDay: 0 };
    const water = (coldRoom: boolean): number[] => {
      const plant = plantOf({ ...SKETCH, climate: 'subarctic', coldRoom });
      const world = startWorld({ scenario: oneGenerator({ plant, channels: ['running'], faults: [frozen] }), seed: 5, startMs: Date.UTC(2026, 0, 10) });
      return Array.from({ length: 300 }, (_, hour) => {
        stepWorld(world, world.startMs + (hour + 1) * 6 * 3_600_000);
        return world.generators[0]!.plant.waterMl;
      });
    };
    const cold = water(true);
    expect(Math.max(...cold)).toBeGreaterThan(0);
    expect(cold.at(-1)).toBe(0);
    expect(Math.max(...water(false))).toBe(0);
  });
  test('a timed drain costs some delivery', () => {
    const delivery = (one: { world: World }): number => one.world.generators[0]!.plant.book.productNL / one.world.generators[0]!.plant.book.flowMin;
    const ratio = delivery(lived({ timedDrain: true })) / delivery(lived({}));
    expect(ratio).toBeLessThan(0.999);
    expect(ratio).toBeGreaterThan(0.93);
  });
  test('a weak regulator lets the piping droop, and a leaking seat lets it creep', () => {
    const system = (one: { batch: ReadingBatch }): number => {
      const values = valuesOf(one.batch, 'system-pressure');
      return values.reduce((sum, value) => sum + value, 0) / values.length;
    };
    expect(system(lived({ regulatorNLPerMinKPa: 1 }))).toBeLessThan(system(lived({})) - 1);
    const plant = plantOf(SKETCH);
    const world = startWorld({ scenario: oneGenerator({ plant, upsets: [{ kind: 'regulator-creep', fromDay: 1, hours: 96, size: 0.3 }] }), seed: 5, startMs: START_MS });
    expect(Math.max(...valuesOf(stepWorld(world, START_MS + DAY_MS), 'system-pressure'))).toBeLessThan(243);
    expect(Math.max(...valuesOf(stepWorld(world, START_MS + 5 * DAY_MS), 'system-pressure'))).toBeGreaterThan(246);
  });
});
