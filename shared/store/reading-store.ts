import type { Channel } from '../channels.ts';
import type { GeneratorKey } from '../ids.ts';
import type { ReadingBatch, Series } from '../reading-batch.ts';

/** A reading that came a second time with another value; the first was kept. */
export type Conflict = { readonly series: Series; readonly atMs: number; readonly keptValue: number; readonly refusedValue: number; readonly receivedMs: number };

/** A reading that the store will never take, such as one beyond a server's retention; `says` are the store's own words. */
export type RefusedReading = { readonly series: Series; readonly atMs: number; readonly value: number; readonly receivedMs: number; readonly says: string };

/** What became of a batch. `kept` holds just the rows that were new, in the order given; `doubled` counts equal repeats; `refused` is left out where nothing was. */
export type AppendResult = { readonly kept: ReadingBatch; readonly doubled: number; readonly conflicts: readonly Conflict[]; readonly refused?: readonly RefusedReading[] };

/** A span of one channel drawn as a column; `mean` is of the readings, not weighted by time. */
export type Bucket = { readonly fromMs: number; readonly count: number; readonly min: number; readonly mean: number; readonly max: number };

export type SeriesSummary = Series & { readonly firstAtMs: number; readonly lastAtMs: number; readonly count: number };

export type LatestReading = Series & { readonly atMs: number; readonly value: number; readonly receivedMs: number };

/**
 * Where readings are kept. Key: generator + channel + device time; the first value of a key wins,
 * also inside one batch. Spans are [fromMs, toMs). Every method rejects with a `StoreError` when
 * the store is down; nothing is half kept then, or a repeat of the same batch completes it.
 */
export type ReadingStore = {
  /** Resolves when the batch is on disk. Safe to repeat. Calls are carried out one after the other. */
  append(batch: ReadingBatch): Promise<AppendResult>;
  /** Readings of one generator in order of device time, then channel name. */
  byDeviceTime(query: { readonly generator: GeneratorKey; readonly fromMs: number; readonly toMs: number; readonly receivedBeforeMs?: number; readonly channels?: readonly Channel[] }): Promise<ReadingBatch>;
  /** The log: readings of all (or some) generators in order of receipt, then generator, device time and channel; in batches of at most 100,000. */
  byReceipt(query: { readonly fromMs: number; readonly toMs: number; readonly generators?: readonly GeneratorKey[] }): AsyncIterable<ReadingBatch>;
  /** One channel as at most `buckets` equal spans; empty spans are left out. States and counters too. */
  buckets(query: Series & { readonly fromMs: number; readonly toMs: number; readonly buckets: number }): Promise<readonly Bucket[]>;
  /** The newest reading (by device time) of each channel. From memory: cheap enough for every page. */
  latest(generators?: readonly GeneratorKey[]): Promise<readonly LatestReading[]>;
  series(): Promise<readonly SeriesSummary[]>;
  /** The newest `receivedMs` ever kept; 0 if none. */
  lastReceivedMs(): Promise<number>;
  /** Drop what is older than the retention, whole months at a time. */
  expire(beforeMs: number): Promise<void>;
  sizeBytes(): Promise<number>;
  close(): Promise<void>;
};
