import type { Packet as ShownPacket } from '../shared/api.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import { isoFromMs } from '../shared/time.ts';
import { type Packet, quarantineText } from './packet.ts';
import type { Refusal } from './refusal.ts';

const PACKETS_PER_GENERATOR = 20;
const MAX_GENERATORS = 2000;
/** Enough to see what a gateway sends; 20 whole packets of 256 KiB for 2,000 generators would be 10 GB. */
const MAX_SHOWN_CHARACTERS = 2000;

/** The last packets of each generator, as the page of a gateway shows them. */
export type RecentPackets = {
  add(generator: GeneratorKey, packet: Packet, readings: number, refusals: readonly Refusal[]): void;
  /** Newest first. */
  of(generator: GeneratorKey): readonly ShownPacket[];
};

export function createRecentPackets(): RecentPackets {
  const byGenerator = new Map<GeneratorKey, ShownPacket[]>();
  return {
    add(generator, packet, readings, refusals) {
      const packets = byGenerator.get(generator) ?? [];
      byGenerator.delete(generator);
      byGenerator.set(generator, packets);
      const payload = quarantineText(packet.payload.subarray(0, MAX_SHOWN_CHARACTERS * 4)).slice(0, MAX_SHOWN_CHARACTERS);
      packets.push({ at: isoFromMs(packet.receivedMs), topic: packet.topic, payload, readings, refused: refusals.slice(0, 20).map(({ reason, says }) => ({ reason, says })) });
      if (packets.length > PACKETS_PER_GENERATOR) packets.shift();
      if (byGenerator.size > MAX_GENERATORS) byGenerator.delete(byGenerator.keys().next().value as GeneratorKey);
    },
    of: (generator) => [...(byGenerator.get(generator) ?? [])].reverse(),
  };
}
