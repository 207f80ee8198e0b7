import { existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Config } from '../../shared/config.ts';
import { ConfigError } from '../../shared/errors.ts';
import { SILENT_LOG } from '../../shared/log.ts';
import type { InfluxTarget } from '../../shared/store/influxdb-server.ts';
import type { ReadingStore, SeriesSummary } from '../../shared/store/reading-store.ts';
import type { Context } from './command.ts';
import { influxTargetOf } from './influx-settings.ts';
import { refuseSecondServer } from './serve.ts';
import { openEmbeddedReadings, openInflux } from './stores.ts';

/** Copy the embedded readings of a data folder to InfluxDB. @throws {ConfigError} if none is configured. */
export async function moveToInflux(folder: string, config: Config, context: Context): Promise<void> {
  const target = wantedTarget(config, `${folder} holds embedded readings: set LULL_INFLUX_URL to copy them there`);
  refuseSecondServer(folder);
  const embedded = (): Promise<ReadingStore> => openEmbeddedReadings(folder, config.memoryMB, SILENT_LOG);
  const influx = (): Promise<ReadingStore> => openInflux(target, config, SILENT_LOG);
  await move({ from: { name: 'embedded', open: embedded }, to: { name: 'InfluxDB', open: influx }, place: placeOf(target), mark: join(folder, 'moving-to-influxdb.json') }, context);
}

/** Copy all readings from InfluxDB into the embedded store of a data folder. @throws {ConfigError} if no InfluxDB is configured. */
export async function moveToEmbedded(folder: string, config: Config, context: Context): Promise<void> {
  const target = wantedTarget(config, '--embedded copies readings from InfluxDB: set LULL_INFLUX_URL to where they are');
  refuseSecondServer(folder);
  mkdirSync(folder, { recursive: true });
  const embedded = (): Promise<ReadingStore> => openEmbeddedReadings(folder, config.memoryMB, SILENT_LOG);
  const influx = (): Promise<ReadingStore> => openInflux(target, config, SILENT_LOG);
  await move({ from: { name: 'InfluxDB', open: influx }, to: { name: 'embedded', open: embedded }, place: placeOf(target), mark: join(folder, 'moving-from-influxdb.json') }, context);
}

function wantedTarget(config: Config, otherwise: string): InfluxTarget {
  const target = influxTargetOf(config);
  if (target === undefined) throw new ConfigError(otherwise);
  return target;
}

function placeOf(target: InfluxTarget): string {
  return `${target.url} ${target.kind === 'bucket' ? target.bucket : target.database} ${target.retentionPolicy}`;
}

type Side = { readonly name: string; open(): Promise<ReadingStore> };
/** `place`: which server the mark is about. `mark`: the file that says how far it is. */
type Move = { readonly from: Side; readonly to: Side; readonly place: string; readonly mark: string };
type Copied = { readings: number; readonly refused: Map<string, number>; conflicts: number };

/**
 * Copy in order of receipt, so that one time says how far it is, and count both sides anew at the end. What is there
 * already is passed over: a copy that was stopped, or whose mark is lost, goes on without doubling anything.
 */
async function move(plan: Move, context: Context): Promise<void> {
  const stopping = context.stopSignal();
  const fromMs = readMark(plan);
  const copied: Copied = { readings: 0, refused: new Map(), conflicts: 0 };
  let sides = await copy(plan, fromMs, copied, context, stopping);
  // The mark promised more than there is, as when the other side was emptied meanwhile: once more, from the beginning.
  if (sides.missing.length > 0 && fromMs > 0) {
    copied.refused.clear();
    sides = await copy(plan, 0, copied, context, stopping);
  }
  context.terminal.clearProgress();
  context.terminal.out(`${copied.readings} readings copied; ${plan.from.name}: ${summaryOf(sides.from)}; ${plan.to.name}: ${summaryOf(sides.to)}`);
  for (const [says, count] of copied.refused) context.terminal.say(`${count} readings were refused: ${says}`);
  if (copied.conflicts > 0) context.terminal.say(`${copied.conflicts} readings had another value than the one kept there before and were left out`);
  if (sides.missing.length > 0) throw new Error(`${plan.to.name} has fewer readings than ${plan.from.name} in ${sides.missing.length} series: ${sides.missing.slice(0, 5).join(', ')}`);
  rmSync(plan.mark, { force: true });
}

type Counted = { readonly from: readonly SeriesSummary[]; readonly to: readonly SeriesSummary[]; readonly missing: readonly string[] };

async function copy(plan: Move, fromMs: number, copied: Copied, context: Context, stopping: AbortSignal): Promise<Counted> {
  const from = await plan.from.open();
  try {
    const to = await plan.to.open();
    try {
      const total = (await from.series()).reduce((sum, one) => sum + one.count, 0);
      const there = (await to.series()).reduce((sum, one) => sum + one.count, 0);
      for await (const batch of from.byReceipt({ fromMs, toMs: Number.MAX_SAFE_INTEGER })) {
        if (stopping.aborted) throw new Error('stopped; what was copied is kept, and the same command goes on from there');
        const result = await to.append(batch);
        copied.readings += result.kept.atMs.length;
        copied.conflicts += result.conflicts.length;
        for (const { says } of result.refused ?? []) copied.refused.set(says, (copied.refused.get(says) ?? 0) + 1);
        writeMark(plan, batch.receivedMs.at(-1) ?? fromMs);
        context.terminal.progress(`copying to ${plan.to.name}`, Math.min(0.999, (there + copied.readings) / Math.max(1, total)), `${copied.readings} readings`);
      }
    } finally {
      await to.close();
    }
    // Opened anew, so that what is counted is what the store holds and not what was handed to it.
    const again = await plan.to.open();
    try {
      return compare(await from.series(), await again.series());
    } finally {
      await again.close();
    }
  } finally {
    await from.close();
  }
}

function compare(from: readonly SeriesSummary[], to: readonly SeriesSummary[]): Counted {
  const counts = new Map(to.map((one) => [`${one.generator}/${one.channel}`, one.count]));
  const missing = from.flatMap((one) => {
    const name = `${one.generator}/${one.channel}`;
    const count = counts.get(name) ?? 0;
    return count < one.count ? [`${name} (${count} of ${one.count})`] : [];
  });
  return { from, to, missing };
}

function summaryOf(series: readonly SeriesSummary[]): string {
  return `${series.reduce((sum, one) => sum + one.count, 0)} readings in ${series.length} series`;
}

function readMark({ mark, place }: Move): number {
  if (!existsSync(mark)) return 0;
  try {
    const found = JSON.parse(readFileSync(mark, 'utf8')) as { place?: unknown; throughMs?: unknown };
    return found.place === place && typeof found.throughMs === 'number' ? found.throughMs : 0;
  } catch {
    return 0;
  }
}

/** Written beside and then renamed, so that a kill leaves the old or the new one. */
function writeMark({ mark, place }: Move, throughMs: number): void {
  writeFileSync(`${mark}.new`, JSON.stringify({ place, throughMs }));
  renameSync(`${mark}.new`, mark);
}
