import type { Channel } from '../shared/channels.ts';
import { QUALITY, type ReadingBatch, type Series } from '../shared/reading-batch.ts';
import { HOUR_MS } from '../shared/time.ts';
import { advanceGenerator } from './generator.ts';
import { type GeneratorState, type Prepared, prepareGenerator, ROW, startGenerator } from './generator-state.ts';
import type { GeneratorScenario, Scenario } from './scenario.ts';

/** Longest stretch that is sorted at once: keeps what waits small, and a row's place and time fit into one number. */
const CHUNK_MS = 6 * HOUR_MS;

/** A fleet that lives: plain JSON, so that it can be put into a file and go on another day. */
export type World = { readonly scenario: Scenario; readonly seed: number; readonly startMs: number; nowMs: number; generators: GeneratorState[] };

type PreparedWorld = { readonly generators: readonly { readonly scenario: GeneratorScenario; readonly prepared: Prepared; /** Of each sensor the series that it goes into; then, where names are exchanged, that of the other generator. */ readonly seriesOf: readonly number[] }[]; readonly series: readonly Series[] };
/** What follows from a scenario, so that it isn't worked out at every step; a world read from a file gets its own anew. */
const preparedWorlds = new WeakMap<Scenario, PreparedWorld>();

function prepared(scenario: Scenario): PreparedWorld {
  let made = preparedWorlds.get(scenario);
  if (made === undefined) {
    const series: Series[] = [];
    for (const one of scenario.generators) for (const channel of one.channels) series.push({ generator: one.key, channel });
    const seriesAt = (generator: string, channel: Channel): number => series.findIndex((one) => one.generator === generator && one.channel === channel);
    const generators = scenario.generators.map((one) => {
      const other = one.faults.find((fault) => fault.otherGenerator !== undefined)?.otherGenerator;
      const seriesOf = [one.key, ...(other === undefined ? [] : [other])].flatMap((key) => one.channels.map((channel) => seriesAt(key, channel)));
      if (seriesOf.includes(-1)) throw new RangeError(`Cannot exchange the names of ${one.key} and ${other} as both must send the same channels: one does not`);
      return { scenario: one, prepared: prepareGenerator(one), seriesOf };
    });
    made = { generators, series };
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
 * The batch's series are all of the world's, whether or not they have rows in it.
 * @throws {RangeError} if `toMs` lies before the world's present.
 */
export function stepWorld(world: World, toMs: number): ReadingBatch {
  if (!(toMs >= world.nowMs)) throw new RangeError(`Cannot step world as its time must not go back from ${world.nowMs}: current value is ${toMs}`);
  const { generators, series } = prepared(world.scenario);
  const out = emptied(whole);
  while (world.nowMs < toMs) {
    const targetMs = Math.min(toMs, world.nowMs + CHUNK_MS);
    const arrived = emptied(chunk);
    const packs: Pack[] = [];
    for (let index = 0; index < generators.length; index += 1) {
      const { scenario, prepared: ready, seriesOf } = generators[index]!;
      const state = world.generators[index]!;
      advanceGenerator(state, scenario, ready, world.startMs, targetMs);
      release(state, seriesOf, targetMs, arrived, packs);
    }
    inOrder(packs, arrived, world.nowMs, out);
    world.nowMs = targetMs;
  }
  const { length } = out;
  return { series, seriesIndex: out.seriesIndex.slice(0, length), atMs: out.atMs.slice(0, length), value: out.value.slice(0, length), quality: new Uint8Array(length).fill(QUALITY.plain), receivedMs: out.receivedMs.slice(0, length) };
}

/** Columns that grow by doubling; the batch's own shape, so that nothing is packed twice. */
type Columns = { length: number; seriesIndex: Uint32Array; atMs: Float64Array; value: Float64Array; receivedMs: Float64Array };
/** What a chunk and a whole step gather; used again at every step, because arrays of megabytes keep the collector busy. What is handed over is cut out of them. */
const chunk = columns(256);
const whole = columns(256);

function emptied(rows: Columns): Columns {
  rows.length = 0;
  return rows;
}

/** Rows of one generator with one receipt. */
type Pack = { readonly receivedMs: number; readonly from: number; to: number };

function columns(size: number): Columns {
  return { length: 0, seriesIndex: new Uint32Array(size), atMs: new Float64Array(size), value: new Float64Array(size), receivedMs: new Float64Array(size) };
}

function push(into: Columns, seriesIndex: number, atMs: number, value: number, receivedMs: number): void {
  if (into.length === into.atMs.length) {
    const wider = columns(into.length * 2);
    wider.seriesIndex.set(into.seriesIndex);
    wider.atMs.set(into.atMs);
    wider.value.set(into.value);
    wider.receivedMs.set(into.receivedMs);
    Object.assign(into, { seriesIndex: wider.seriesIndex, atMs: wider.atMs, value: wider.value, receivedMs: wider.receivedMs });
  }
  const row = into.length;
  into.seriesIndex[row] = seriesIndex;
  into.atMs[row] = atMs;
  into.value[row] = value;
  into.receivedMs[row] = receivedMs;
  into.length = row + 1;
}

/** Move the rows that have arrived by `targetMs` out of a generator's queue, and note where its packs lie. */
function release(state: GeneratorState, seriesOf: readonly number[], targetMs: number, into: Columns, packs: Pack[]): void {
  const { pending } = state;
  let kept = 0;
  let pack: Pack | undefined;
  for (let row = 0; row < pending.length; row += ROW) {
    const receivedMs = pending[row + 3]!;
    if (receivedMs <= targetMs) {
      if (pack === undefined || pack.receivedMs !== receivedMs) {
        pack = { receivedMs, from: into.length, to: into.length };
        packs.push(pack);
      }
      push(into, seriesOf[pending[row]!]!, pending[row + 1]!, pending[row + 2]!, receivedMs);
      pack.to = into.length;
    } else {
      for (let column = 0; column < ROW; column += 1) pending[kept + column] = pending[row + column]!;
      kept += ROW;
    }
  }
  pending.length = kept;
}

const PLACES = 2 ** 27;

/** Packs by receipt; those of one millisecond stay as they came: by generator, then in the order sent. Sorting plain numbers is several times faster than sorting objects. */
function inOrder(packs: readonly Pack[], rows: Columns, fromMs: number, into: Columns): void {
  const keys = new Float64Array(packs.length);
  for (let index = 0; index < keys.length; index += 1) keys[index] = (packs[index]!.receivedMs - fromMs) * PLACES + index;
  keys.sort();
  for (const key of keys) {
    const { from, to } = packs[key % PLACES]!;
    for (let row = from; row < to; row += 1) push(into, rows.seriesIndex[row]!, rows.atMs[row]!, rows.value[row]!, rows.receivedMs[row]!);
  }
}
