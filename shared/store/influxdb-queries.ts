import { type Channel, parseChannel } from '../channels.ts';
import type { GeneratorKey } from '../ids.ts';
import { EMPTY_BATCH, type ReadingBatch, type Series } from '../reading-batch.ts';
import { type BucketSpan, bucketsInOrder, bucketStartMs } from './bucket-span.ts';
import { emptyColumns, mergedByTime, type SeriesColumns, takeRows } from './influxdb-columns.ts';
import { isChannel, isGenerator, READING, receivedBetween, selectReadings, timeBetween } from './influxdb-schema.ts';
import type { InfluxServer } from './influxdb-server.ts';
import type { Bucket } from './reading-store.ts';

export type TimeQuery = { readonly generator: GeneratorKey; readonly fromMs: number; readonly toMs: number; readonly receivedFromMs?: number; readonly receivedBeforeMs?: number; readonly channels?: readonly Channel[] };

/** Readings of one generator in order of device time, then channel. */
export async function readByDeviceTime(server: InfluxServer, query: TimeQuery): Promise<ReadingBatch> {
  if (query.channels?.length === 0 || !(query.toMs > query.fromMs)) return EMPTY_BATCH;
  const where = [isGenerator([query.generator]), timeBetween(query.fromMs, query.toMs)];
  if (query.channels !== undefined) where.push(isChannel(query.channels));
  if (query.receivedBeforeMs !== undefined || query.receivedFromMs !== undefined) where.push(receivedBetween(query.receivedFromMs ?? -Infinity, query.receivedBeforeMs ?? Infinity));
  const parts = new Map<Channel, SeriesColumns>();
  await server.query([selectReadings(server.from(READING), where.join(' AND '))], (rows) => {
    const channel = parseChannel(rows.tags['channel'] ?? '');
    if (channel === undefined) return;
    const part = parts.get(channel) ?? emptyColumns({ generator: query.generator, channel }, rows.values.length);
    parts.set(channel, part);
    takeRows(part, rows);
  }, { patient: true });
  return mergedByTime([...parts.values()]);
}

/**
 * Above this many buckets the server's windows, whole nanoseconds wide, could part a reading from its bucket: the edge of
 * bucket b lies b/n ns too early at most, and an edge that is no whole ms lies at least 1/n ms after one.
 */
const MOST_WINDOWS = 1000;
const NS_PER_MS = 1_000_000;
/** The server gives the start of a window in whole ms: in narrower ones that would hide which bucket it is. */
const NARROWEST_WINDOW_NS = 4 * NS_PER_MS;

/** One series in equal spans. The server adds up, unless there are so many spans that reading all is as cheap. */
export async function readBuckets(server: InfluxServer, series: Series, span: BucketSpan): Promise<Bucket[]> {
  const windowNs = Math.floor(((span.toMs - span.fromMs) * NS_PER_MS) / span.buckets);
  const where = `${isGenerator([series.generator])} AND ${isChannel([series.channel])} AND ${timeBetween(span.fromMs, span.toMs)}`;
  if (span.buckets > MOST_WINDOWS || windowNs < NARROWEST_WINDOW_NS || !Number.isSafeInteger(windowNs) || !Number.isInteger(span.fromMs)) return bucketsInOrder(span, await readValues(server, where));
  const offsetNs = (BigInt(span.fromMs) * BigInt(NS_PER_MS)) % BigInt(windowNs);
  const found: Bucket[] = [];
  await server.query([`SELECT count(value), min(value), mean(value), max(value) FROM ${server.from(READING)} WHERE ${where} GROUP BY time(${windowNs}ns, ${offsetNs}ns) fill(none)`], ({ values }) => {
    for (const [atMs, count, min, mean, max] of values as readonly (readonly number[])[]) {
      // The window's start comes back in ms, rounded down: it lies within a ms of its bucket's.
      const bucket = Math.round(((atMs! - span.fromMs) * NS_PER_MS) / windowNs);
      found.push({ fromMs: bucketStartMs(span, bucket), count: count!, min: min!, mean: mean!, max: max! });
    }
  }, { patient: true });
  return found;
}

async function readValues(server: InfluxServer, where: string): Promise<(readonly [number, number])[]> {
  const found: (readonly [number, number])[] = [];
  await server.query([`SELECT value FROM ${server.from(READING)} WHERE ${where}`], ({ values }) => {
    for (const [atMs, value] of values as readonly (readonly number[])[]) found.push([atMs!, value!]);
  }, { patient: true });
  return found;
}
