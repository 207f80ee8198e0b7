import type { Channel } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { PresenceEvent } from '../shared/log-event.ts';
import type { QuarantineItem } from '../shared/quarantine.ts';
import type { BatchBuilder } from '../shared/reading-batch.ts';
import { parseTopic, type Topic } from '../shared/topics.ts';
import type { Acceptor, Judging } from './accept.ts';
import { decodePack, type SenmlRecord } from './decode-pack.ts';
import { MAX_PAYLOAD_BYTES, type Packet, payloadText, quarantineText } from './packet.ts';
import { readPresence } from './presence.ts';
import type { Refusal } from './refusal.ts';

/** What a packet holds, read but not yet judged. */
export type Opened =
  | { readonly kind: 'readings'; readonly generator: GeneratorKey; readonly records: readonly SenmlRecord[] }
  | { readonly kind: 'presence'; readonly event: PresenceEvent }
  | { readonly kind: 'cleared' }
  | { readonly kind: 'refused'; readonly generator: GeneratorKey | null; readonly refusal: Refusal };

/** Read topic and payload. A payload is decoded in full or not at all; what can't be read is refused with a reason. */
export function openPacket(packet: Packet): Opened {
  const topic = parseTopic(packet.topic);
  const generator = topic?.kind === 'readings' ? topic.generator : null;
  const refuse = (reason: Refusal['reason'], says: string): Opened => ({ kind: 'refused', generator, refusal: { reason, channel: null, says } });
  if (topic === undefined) return refuse('unknown-topic', `topic must be lull/v1/<site>/<generator>/readings or lull/v1/<site>/presence/<gateway>, with ids of a-z, 0-9 and "-": it is ${JSON.stringify(packet.topic.slice(0, 200))}.`);
  if (packet.payload.byteLength > MAX_PAYLOAD_BYTES) return refuse('too-large', `payload has ${packet.payload.byteLength} bytes; send at most ${MAX_PAYLOAD_BYTES} in one packet. Only its beginning is kept here.`);
  // An empty retained message is how MQTT takes a retained one back: it says nothing of its own.
  if (packet.payload.byteLength === 0 && topic.kind === 'presence') return { kind: 'cleared' };
  const text = payloadText(packet.payload);
  if (text === undefined) return refuse('malformed', 'payload must be JSON in UTF-8.');
  let parsed: unknown;
  try {
    parsed = JSON.parse(text);
  } catch (error) {
    return refuse('malformed', `payload must be JSON: ${error instanceof Error ? error.message : String(error)}.`);
  }
  return openParsed(topic, parsed, packet.receivedMs);
}

/** The same for a payload that is parsed already. */
export function openParsed(topic: Topic, payload: unknown, receivedMs: number, kept = false): Opened {
  if (topic.kind === 'presence') {
    const event = readPresence(payload, topic.site, topic.gateway, receivedMs);
    return 'says' in event ? { kind: 'refused', generator: null, refusal: { reason: 'malformed', channel: null, says: `${event.says}.` } } : { kind: 'presence', event };
  }
  const records = decodePack(payload, receivedMs, kept);
  if ('rejected' in records) return { kind: 'refused', generator: topic.generator, refusal: { reason: records.rejected, channel: null, says: `${records.says}.` } };
  return { kind: 'readings', generator: topic.generator, records };
}

/** Most items that one packet puts into quarantine; each carries the payload. */
const MAX_ITEMS_PER_PACKET = 32;

/** What was refused of one packet as quarantine items: one for each reason and channel, channels that are none of ours together. */
export function quarantineItems(packet: Packet, generator: GeneratorKey | null, refusals: readonly Refusal[]): QuarantineItem[] {
  if (refusals.length === 0) return [];
  const groups = new Map<string, { refusal: Refusal; count: number }>();
  for (const refusal of refusals) {
    const name = refusal.reason === 'unknown-channel' ? refusal.reason : `${refusal.reason} ${refusal.channel}`;
    const group = groups.get(name);
    if (group !== undefined) group.count += 1;
    else if (groups.size < MAX_ITEMS_PER_PACKET) groups.set(name, { refusal, count: 1 });
  }
  const payload = quarantineText(packet.payload);
  return [...groups.values()].map(({ refusal, count }) => ({
    id: 0,
    receivedMs: packet.receivedMs,
    topic: packet.topic.slice(0, 500),
    payload,
    reason: refusal.reason,
    says: count === 1 ? refusal.says : `${refusal.says} (${count} records of this packet)`,
    generator,
    channel: refusal.channel,
    releasedMs: null,
  }));
}

/** A packet judged: its rows are in the builder, the rest is here. */
export type Judged = {
  readonly packet: Packet;
  readonly generator: GeneratorKey | null;
  readonly readings: number;
  readonly refusals: readonly Refusal[];
  readonly decided: readonly Channel[];
  readonly presence: PresenceEvent | null;
  readonly relative: boolean;
};

/** Judge an opened packet; rows go into `into`. */
export function judgePacket(packet: Packet, opened: Opened, acceptor: Acceptor, judging: Judging, into: BatchBuilder): Judged {
  const nothing = { packet, generator: null, readings: 0, refusals: [], decided: [], presence: null, relative: false };
  if (opened.kind === 'cleared') return nothing;
  if (opened.kind === 'presence') return { ...nothing, presence: opened.event };
  if (opened.kind === 'refused') return { ...nothing, generator: opened.generator, refusals: [opened.refusal] };
  const accepted = acceptor.accept(opened.generator, opened.records, judging, into);
  return { ...nothing, generator: opened.generator, ...accepted, relative: opened.records.some((record) => record.relativeTime) };
}
