import { createHash } from 'node:crypto';
import type { GeneratorKey } from '../shared/ids.ts';
import { QUALITY, type ReadingBatch } from '../shared/reading-batch.ts';
import type { ReadingStore } from '../shared/store/reading-store.ts';
import { MINUTE_MS } from '../shared/time.ts';
import type { SenmlRecord } from './decode-pack.ts';
import type { Packet } from './packet.ts';

/** A packet sent again within so long, with MQTT's DUP flag, is the same packet. */
export const DOUBLE_WITHIN_MS = 10 * MINUTE_MS;
const MAX_REMEMBERED = 100_000;

/**
 * Packets with times relative to now can't be told from their repeats by device time: the same bytes would be
 * dated anew. So the bytes of such packets are remembered for 10 minutes.
 */
export type RecentDoubles = {
  /** Whether these bytes came on this topic within 10 minutes before. */
  seen(packet: Packet): boolean;
  remember(packet: Packet): void;
};

export function createRecentDoubles(): RecentDoubles {
  const seenMs = new Map<string, number>();
  return {
    seen(packet) {
      const atMs = seenMs.get(digestOf(packet));
      return atMs !== undefined && packet.receivedMs - atMs <= DOUBLE_WITHIN_MS;
    },
    remember(packet) {
      const digest = digestOf(packet);
      seenMs.delete(digest);
      seenMs.set(digest, packet.receivedMs);
      for (const [oldest, atMs] of seenMs) {
        if (seenMs.size <= MAX_REMEMBERED && packet.receivedMs - atMs <= DOUBLE_WITHIN_MS) break;
        seenMs.delete(oldest);
      }
    },
  };
}

function digestOf(packet: Packet): string {
  return createHash('sha1').update(packet.topic).update('\0').update(packet.payload).digest('base64');
}

/**
 * Whether the store already holds these relative records as one packet of the last 10 minutes: what tells a repeat
 * after a restart, when the memory is empty. A packet is known by its device times as seen from its receipt.
 *
 * @param kept what the records would be kept as, in rows.
 */
export async function storedBefore(readings: ReadingStore, generator: GeneratorKey, records: readonly SenmlRecord[], kept: ReadingBatch, receivedMs: number): Promise<boolean> {
  const earliestMs = Math.min(...kept.atMs) - DOUBLE_WITHIN_MS;
  if (kept.atMs.length === 0 || !records.every((record) => record.relativeTime)) return false;
  const stored = await readings.byDeviceTime({ generator, fromMs: earliestMs, toMs: Math.max(...kept.atMs) + 1 });
  const nameOf = (batch: ReadingBatch, row: number): string => `${batch.series[batch.seriesIndex[row]!]!.channel} ${batch.atMs[row]! - batch.receivedMs[row]!} ${batch.value[row]!}`;
  const byReceipt = new Map<number, Set<string>>();
  for (let row = 0; row < stored.atMs.length; row += 1) {
    const at = stored.receivedMs[row]!;
    if ((stored.quality[row]! & QUALITY.timeResolvedAtReceipt) === 0 || receivedMs - at > DOUBLE_WITHIN_MS) continue;
    const rows = byReceipt.get(at) ?? new Set<string>();
    rows.add(nameOf(stored, row));
    byReceipt.set(at, rows);
  }
  const wanted = Array.from(kept.atMs, (_, row) => nameOf(kept, row));
  return [...byReceipt.values()].some((rows) => wanted.every((name) => rows.has(name)));
}
