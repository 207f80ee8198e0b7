import type { Channel } from '../../shared/channels.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { DAY_MS } from '../../shared/time.ts';
import { demoPlant } from '../../simulator/demo-fleet.ts';
import type { GeneratorScenario, Scenario } from '../../simulator/scenario.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';

/** Midnight, so that days of a scenario begin with the world. */
export const START_MS = Date.UTC(2026, 2, 2);
export const KEY = 'test-site/gen-1' as GeneratorKey;
const CHANNELS: readonly Channel[] = ['running', 'run-time', 'starts', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'system-pressure', 'nitrogen', 'room-temperature', 'pipe-temperature', 'humidity'];

/** A fleet of one plain generator: 28 NL/min, 115 L, 550 to 700 kPa, one riser of 2,300 L, at rest nine tenths of the time. */
export function oneGenerator(change: Partial<GeneratorScenario> = {}): Scenario {
  const plant = demoPlant({ climate: 'foothill', elevationM: 100 }, { id: 'gen-1', channels: 'full', ratedNLPerMin: 28, tankLitres: 115, dutyRatio: 0.08, risers: [2300], headroomKPa: 150, piping: 'indoors' }, false);
  const generator: GeneratorScenario = { key: KEY, gateway: 'gw-test', plant, channels: CHANNELS, nitrogenAt: 'product', reportEveryS: 300, loading: [0.1, 0.1, 0.1, 0.1], runHours: 100, faults: [], upsets: [], visits: [], lossRatio: 0, doubleRatio: 0, ...change };
  return { name: 'one', registry: { sites: [] }, generators: [generator] };
}

export type Means = { readonly demandNLPerMin: number; readonly deliveryNLPerMin: number; readonly dutyRatio: number; readonly startsPerDay: number; readonly runMin: number; readonly discharge: number; readonly feed: number; readonly drop: number; readonly nitrogen: number; readonly system: number; readonly tank: number };

/** Live `days`, and give the means of what really was in the days [from, days), from the plant's own book, not from its sensors. */
export function meansOf(scenario: Scenario, days: number, from: number, seed = 5): Means {
  const world = startWorld({ scenario, seed, startMs: START_MS });
  stepWorld(world, START_MS + from * DAY_MS);
  const before = structuredClone(world.generators[0]!.plant);
  const readings = stepWorld(world, START_MS + days * DAY_MS);
  const { plant } = world.generators[0]!;
  const minutes = (plant.atMs - before.atMs) / 60_000;
  const runMin = (plant.runS - before.runS) / 60;
  const gone = (state: typeof plant): number => state.book.tankLeakNL + state.book.backNL + state.book.suppliedNL;
  const running = whileRunning(readings);
  return {
    demandNLPerMin: (gone(plant) - gone(before)) / minutes, deliveryNLPerMin: (plant.book.productNL - before.book.productNL) / Math.max(1e-9, runMin), dutyRatio: runMin / minutes, startsPerDay: ((plant.starts - before.starts) * 1440) / minutes, runMin: runMin / Math.max(1, plant.starts - before.starts),
    discharge: running('discharge-pressure'), feed: running('feed-pressure'), drop: running('discharge-pressure') - running('feed-pressure'), nitrogen: mean(valuesOf(readings, 'nitrogen')), system: mean(valuesOf(readings, 'system-pressure')), tank: mean(valuesOf(readings, 'tank-pressure')),
  };
}

/** Values of a channel in order of receipt. */
export function valuesOf(batch: ReadingBatch, channel: Channel): number[] {
  const found: number[] = [];
  for (let row = 0; row < batch.atMs.length; row += 1) if (batch.series[batch.seriesIndex[row]!]!.channel === channel) found.push(batch.value[row]!);
  return found;
}

/** Mean of a pressure where the compressor was well under way: above 300 kPa before the elements. */
function whileRunning(batch: ReadingBatch): (channel: Channel) => number {
  const at = new Map<number, Map<Channel, number>>();
  for (let row = 0; row < batch.atMs.length; row += 1) {
    const one = at.get(batch.atMs[row]!) ?? new Map<Channel, number>();
    one.set(batch.series[batch.seriesIndex[row]!]!.channel, batch.value[row]!);
    at.set(batch.atMs[row]!, one);
  }
  const together = [...at.values()].filter((one) => (one.get('discharge-pressure') ?? 0) > 300 && one.has('feed-pressure') && (one.get('feed-pressure') ?? 0) > 300);
  return (channel) => mean(together.map((one) => one.get(channel) ?? Number.NaN).filter((value) => !Number.isNaN(value)));
}

export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

export function liveWorld(scenario: Scenario, days: number, seed = 5): { world: World; batch: ReadingBatch } {
  const world = startWorld({ scenario, seed, startMs: START_MS });
  return { world, batch: stepWorld(world, START_MS + days * DAY_MS) };
}
