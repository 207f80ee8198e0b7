import type { QuarantineItem } from '../shared/quarantine.ts';
import { batchBuilder } from '../shared/reading-batch.ts';
import type { ReadingStore } from '../shared/store/reading-store.ts';
import type { Acceptor } from './accept.ts';
import type { Work } from './commit.ts';
import type { HeardBook } from './heard.ts';
import { type Judged, judgePacket, openPacket, quarantineItems } from './judge-packet.ts';
import { type KeptAs, underKeptId } from './kept-as.ts';
import type { Packet } from './packet.ts';
import { createRecentDoubles, DOUBLE_WITHIN_MS, storedBefore } from './recent-doubles.ts';

/** Judges packets that are committed together, and knows which of them came before. */
export type GroupJudge = {
  readonly all: (packets: readonly Packet[]) => Promise<Pick<Work, 'batch' | 'packets' | 'refused'>>;
  /** A packet with relative times is on disk; its repeat is no new one. */
  readonly remember: (packet: Packet) => void;
};

/** @param params.startedMs until 10 minutes after it, the memory of repeats is not complete and the store is asked. */
export function createGroupJudge(params: { readonly readings: ReadingStore; readonly acceptor: Acceptor; readonly heard: HeardBook; readonly keptAs: KeptAs; readonly startedMs: number }): GroupJudge {
  const { readings, acceptor, heard, keptAs, startedMs } = params;
  const doubles = createRecentDoubles();

  /** Whether a packet with relative times is the repeat of one that was taken. */
  async function isDouble(packet: Packet, inThisGroup: readonly Packet[]): Promise<boolean> {
    if (!packet.dup) return false;
    if (doubles.seen(packet) || inThisGroup.some((other) => other.topic === packet.topic && Buffer.compare(other.payload, packet.payload) === 0)) return true;
    if (packet.receivedMs - startedMs > DOUBLE_WITHIN_MS) return false;
    const opened = underKeptId(openPacket(packet), keptAs);
    if (opened.kind !== 'readings') return false;
    const alone = batchBuilder();
    judgePacket(packet, opened, acceptor, { receivedMs: packet.receivedMs, clockMs: packet.receivedMs }, alone);
    return storedBefore(readings, opened.generator, opened.records, alone.take(), packet.receivedMs);
  }

  return {
    remember: (packet) => doubles.remember(packet),
    async all(packets) {
      const into = batchBuilder();
      const judged: Judged[] = [];
      const refused: QuarantineItem[] = [];
      const relative: Packet[] = [];
      for (const packet of packets) {
        const opened = underKeptId(openPacket(packet), keptAs);
        if (opened.kind === 'readings') heard.hear(opened.generator, packet.receivedMs);
        const hasRelative = opened.kind === 'readings' && opened.records.some((record) => record.relativeTime);
        if (hasRelative && (await isDouble(packet, relative))) continue;
        if (hasRelative) relative.push(packet);
        const one = judgePacket(packet, opened, acceptor, { receivedMs: packet.receivedMs, clockMs: packet.receivedMs }, into);
        judged.push(one);
        refused.push(...quarantineItems(packet, one.generator, one.refusals));
      }
      return { batch: into.take(), packets: judged, refused };
    },
  };
}
