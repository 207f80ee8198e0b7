import type { GeneratorKey } from '../shared/ids.ts';
import { batchBuilder, QUALITY, type ReadingBatch, type Series } from '../shared/reading-batch.ts';
import { HOUR_MS } from '../shared/time.ts';
import { advanceGenerator, type GeneratorState, type Prepared, prepareGenerator, ROW, startGenerator } from './generator.ts';
import type { GeneratorScenario, Scenario } from './scenario.ts';

/** Longest stretch that is sorted at once: keeps what waits small, and a row's place and time fit into one number. */
const CHUNK_MS = 6 * HOUR_MS;

/** A fleet that lives: plain JSON, so that it can be put into a file and go on another day. */
export type World = { readonly scenario: Scenario; readonly seed: number; readonly startMs: number; nowMs: number; generators: GeneratorState[] };

type PreparedWorld = { readonly generators: readonly { readonly scenario: GeneratorScenario; readonly prepared: Prepared; readonly series: readonly Series[] }[] };
/** What follows from a scenario, so that it isn't worked out at every step; a world read from a file gets its own anew. */
const preparedWorlds = new WeakMap<Scenario, PreparedWorld>();

function prepared(scenario: Scenario): PreparedWorld {
  let made = preparedWorlds.get(scenario);
  if (made === undefined) {
    made = { generators: scenario.generators.map((one) => ({ scenario: one, prepared: prepareGenerator(one), series: one.channels.map((channel) => ({ generator: one.key, channel })) })) };
    preparedWorlds.set(scenario, made);
  }
  return made;
}

/** Start a world. The same scenario, seed and start make the same readings, however it is stepped. */
export function startWorld(params: { readonly scenario: Scenario; readonly seed: number; readonly startMs: number }): World {
  const { scenario, seed, startMs } = params;
  return { scenario, seed, startMs, nowMs: startMs, generators: scenario.generators.map((one) => startGenerator(one, seed, startMs)) };
}

/**
 * Move the world to `toMs` and hand over what was received until then, in order of receipt; rows of equal receipt and
 * generator are one pack. Generators run ahead by a beat, so that nothing of device time up to `toMs` is still unknown.
 * @throws {RangeError} if `toMs` lies before the world's present.
 */
export function stepWorld(world: World, toMs: number): ReadingBatch {
  if (!(toMs >= world.nowMs)) throw new RangeError(`Cannot step world as its time must not go back from ${world.nowMs}: current value is ${toMs}`);
  const { generators } = prepared(world.scenario);
  const builder = batchBuilder();
  while (world.nowMs < toMs) {
    const targetMs = Math.min(toMs, world.nowMs + CHUNK_MS);
    const rows: Arrived = { series: [], atMs: [], value: [], receivedMs: [] };
    for (let index = 0; index < generators.length; index += 1) {
      const { scenario, prepared: ready, series } = generators[index]!;
      const state = world.generators[index]!;
      advanceGenerator(state, scenario, ready, world.startMs, targetMs);
      release(state, series, targetMs, rows);
    }
    inOrder(rows, world.nowMs, (row) => builder.add(rows.series[row]!, rows.atMs[row]!, rows.value[row]!, QUALITY.plain, rows.receivedMs[row]!));
    world.nowMs = targetMs;
  }
  return builder.take();
}

type Arrived = { series: Series[]; atMs: number[]; value: number[]; receivedMs: number[] };

/** Move the rows that have arrived by `targetMs` out of a generator's queue. */
function release(state: GeneratorState, series: readonly Series[], targetMs: number, into: Arrived): void {
  const { pending } = state;
  let kept = 0;
  for (let row = 0; row < pending.length; row += ROW) {
    if (pending[row + 3]! <= targetMs) {
      into.series.push(series[pending[row]!]!);
      into.atMs.push(pending[row + 1]!);
      into.value.push(pending[row + 2]!);
      into.receivedMs.push(pending[row + 3]!);
    } else {
      for (let column = 0; column < ROW; column += 1) pending[kept + column] = pending[row + column]!;
      kept += ROW;
    }
  }
  pending.length = kept;
}

const PLACES = 2 ** 27;

/** Rows by receipt; those of one millisecond stay as they came: by generator, then in the order sent. Sorting plain numbers is several times faster than sorting indexes. */
function inOrder(rows: Arrived, fromMs: number, take: (row: number) => void): void {
  const keys = new Float64Array(rows.atMs.length);
  for (let row = 0; row < keys.length; row += 1) keys[row] = (rows.receivedMs[row]! - fromMs) * PLACES + row;
  keys.sort();
  for (const key of keys) take(key % PLACES);
}

/** The generators of a world, with or without a registry entry. */
export function worldGenerators(world: World): GeneratorKey[] {
  return world.scenario.generators.map((one) => one.key);
}
