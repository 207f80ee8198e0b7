import type { GeneratorKey } from '../ids.ts';
import type { Series } from '../reading-batch.ts';
import { DAY_MS, HOUR_MS } from '../time.ts';
import { bucketOf, type BucketSpan, bucketStartMs } from './bucket-span.ts';
import { PartialWrite } from './influxdb-errors.ts';
import { HOURLY, hourlyLine, isChannel, isGenerator, READING, timeBetween } from './influxdb-schema.ts';
import { seriesOfTags } from './influxdb-series.ts';
import type { InfluxServer } from './influxdb-server.ts';
import type { Bucket } from './reading-store.ts';

/** What is rolled up at once: 20,000 hours of one generator with seven channels, written in four requests. */
const STEP_MS = 120 * DAY_MS;
const LINES_PER_WRITE = 5000;

/** Write the hours of one generator's readings of a span. Written again, as after a crash before the readings were dropped, they take their own place. */
export async function rollUp(server: InfluxServer, generator: GeneratorKey, fromMs: number, toMs: number): Promise<void> {
  for (let stepMs = Math.floor(fromMs / HOUR_MS) * HOUR_MS; stepMs < toMs; stepMs += STEP_MS) {
    const lines: string[] = [];
    await server.query([`SELECT count(value), min(value), mean(value), max(value) FROM ${server.from(READING)} WHERE ${isGenerator([generator])} AND ${timeBetween(stepMs, Math.min(stepMs + STEP_MS, toMs))} GROUP BY time(1h), generator, channel fill(none)`], ({ tags, values }) => {
      const series = seriesOfTags(tags);
      if (series !== undefined) for (const [hourMs, count, min, mean, max] of values as readonly (readonly number[])[]) lines.push(hourlyLine(series, hourMs!, { count: count!, min: min!, mean: mean!, max: max! }));
    }, { patient: true });
    // Where the server drops by itself what is that old, it refuses the hours too; then charts begin where its retention does.
    for (let start = 0; start < lines.length; start += LINES_PER_WRITE) await server.write(lines.slice(start, start + LINES_PER_WRITE)).catch((error: unknown) => (error instanceof PartialWrite ? undefined : Promise.reject(error)));
  }
}

/** Up to when hours are rolled up; 0 if none are. */
export async function rolledUpTo(server: InfluxServer): Promise<number> {
  let toMs = 0;
  await server.query([`SELECT last(readings) FROM ${server.from(HOURLY)}`], ({ values }) => {
    toMs = (Math.floor(Number(values[0]?.[0] ?? -HOUR_MS) / HOUR_MS) + 1) * HOUR_MS;
  });
  return toMs;
}

/** Add the hours of expired months to buckets of the readings that are left. An hour counts in the bucket that its start lies in. */
export async function withRollups(server: InfluxServer, series: Series, span: BucketSpan, raw: readonly Bucket[]): Promise<Bucket[]> {
  const buckets = new Map<number, Bucket>(raw.map((one) => [Math.round(((one.fromMs - span.fromMs) * span.buckets) / (span.toMs - span.fromMs)), one]));
  await server.query([`SELECT readings, low, mean, high FROM ${server.from(HOURLY)} WHERE ${isGenerator([series.generator])} AND ${isChannel([series.channel])} AND ${timeBetween(Math.floor(span.fromMs / HOUR_MS) * HOUR_MS, span.toMs)}`], ({ values }) => {
    for (const [atMs, count, min, mean, max] of values as readonly (readonly number[])[]) {
      const hourMs = Math.floor(atMs! / HOUR_MS) * HOUR_MS;
      if (hourMs < span.fromMs) continue;
      const place = bucketOf(span, hourMs);
      const known = buckets.get(place);
      const total = (known?.count ?? 0) + count!;
      buckets.set(place, { fromMs: bucketStartMs(span, place), count: total, min: Math.min(known?.min ?? Infinity, min!), mean: ((known?.mean ?? 0) * (known?.count ?? 0) + mean! * count!) / total, max: Math.max(known?.max ?? -Infinity, max!) });
    }
  }, { patient: true });
  return [...buckets].sort(([a], [b]) => a - b).map(([, bucket]) => bucket);
}
