import type { Channel } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { LogEvent } from '../shared/log-event.ts';
import type { QuarantineItem, QuarantineReason } from '../shared/quarantine.ts';
import { batchBuilder } from '../shared/reading-batch.ts';
import type { RecordedPacket } from '../shared/recording/read-recording.ts';
import { MINUTE_MS } from '../shared/time.ts';
import type { Topic } from '../shared/topics.ts';
import { createAcceptor, type RegistryLookup } from './accept.ts';
import type { SenmlRecord } from './decode-pack.ts';
import { openParsed, quarantineItems } from './judge-packet.ts';
import { MOST_AHEAD_MINUTES, type Refusal } from './refusal.ts';

export type ImportParams = {
  readonly folder: string;
  /** Present time: a device time far ahead of it doesn't stand in for a missing `at`. */
  readonly nowMs: number;
  /** Where the recording itself has no registry for a generator. */
  readonly registry?: RegistryLookup;
  /** Only these generators; presence, registry and entries of the others are left out too. */
  readonly only?: (generator: GeneratorKey) => boolean;
  /** Stamp everything with this receipt instead of what the recording says: for generators that have a history here. */
  readonly receivedMs?: number;
  /** Every refused item as quarantine would keep it. */
  readonly onRefused?: (item: QuarantineItem) => void;
};

export type ImportCounts = { packets: number; readings: number; presence: number; entries: number; registryChanges: number; closings: number; passedOver: number; readonly refused: Map<QuarantineReason, number> };

/** Records that may wait until their `%` is clear. */
const MAX_UNCLEAR = 500_000;

/** Recorded packets on their way to events: judged, stamped, gathered into batches. */
export type Reader = {
  readonly length: number;
  /** Newest receipt so far. */
  readonly newestMs: number;
  /** No event is earlier than one handed over before it. */
  raise(atMs: number): number;
  take(packet: RecordedPacket, topic: Topic | undefined): LogEvent | undefined;
  flush(): Generator<LogEvent>;
  /** The last flush; what still waits for its unit is refused now. */
  end(): Generator<LogEvent>;
};

export function createReader(params: ImportParams, counts: ImportCounts, registry: RegistryLookup): Reader {
  const acceptor = createAcceptor(registry);
  const into = batchBuilder();
  const unclear = new Map<string, { generator: GeneratorKey; channel: Channel; waiting: { records: readonly SenmlRecord[]; packet: RecordedPacket; receivedMs: number; refusal: Refusal }[] }>();
  let unclearCount = 0;
  let lastMs = Number.NEGATIVE_INFINITY;
  let newestDeviceMs = Number.NaN;
  let refusedHere = new Map<string, { generator: GeneratorKey; reason: QuarantineReason; count: number }>();
  const latestMs = params.nowMs + MOST_AHEAD_MINUTES * MINUTE_MS;
  const raise = (atMs: number): number => (lastMs = Math.max(lastMs, atMs));

  function refuse(packet: RecordedPacket, receivedMs: number, generator: GeneratorKey | null, refusals: readonly Refusal[]): void {
    if (refusals.length === 0) return;
    const bytes = Buffer.from(JSON.stringify(packet.payload));
    for (const item of quarantineItems({ topic: packet.topic, payload: bytes, dup: false, receivedMs }, generator, refusals)) {
      counts.refused.set(item.reason, (counts.refused.get(item.reason) ?? 0) + 1);
      params.onRefused?.(item);
      if (generator === null) continue;
      const name = `${generator} ${item.reason}`;
      const here = refusedHere.get(name) ?? { generator, reason: item.reason, count: 0 };
      here.count += 1;
      refusedHere.set(name, here);
    }
  }

  /** Values whose `%` isn't clear wait; the rest of what was refused is refused. */
  function waitOrRefuse(packet: RecordedPacket, receivedMs: number, generator: GeneratorKey, records: readonly SenmlRecord[], refusals: readonly Refusal[]): void {
    const [waiting, refused] = [refusals.filter(({ reason }) => reason === 'unit-unclear' && unclearCount < MAX_UNCLEAR), refusals.filter(({ reason }) => reason !== 'unit-unclear' || unclearCount >= MAX_UNCLEAR)];
    refuse(packet, receivedMs, generator, refused);
    for (const refusal of waiting) {
      const channel = refusal.channel as Channel;
      const series = unclear.get(`${generator}/${channel}`) ?? { generator, channel, waiting: [] };
      unclear.set(`${generator}/${channel}`, series);
      series.waiting.push({ records: records.filter((record) => record.channel === channel), packet, receivedMs, refusal });
      unclearCount += 1;
    }
  }

  function release(generator: GeneratorKey, channel: Channel, receivedMs: number): void {
    const series = unclear.get(`${generator}/${channel}`);
    if (series === undefined) return;
    unclear.delete(`${generator}/${channel}`);
    unclearCount -= series.waiting.length;
    for (const { records, packet } of series.waiting) {
      const accepted = acceptor.accept(generator, records, { receivedMs, clockMs: undefined, only: channel }, into);
      counts.readings += accepted.readings;
      refuse(packet, receivedMs, generator, accepted.refusals);
    }
  }

  function takeReadings(packet: RecordedPacket, generator: GeneratorKey, records: readonly SenmlRecord[], stamp: () => number): void {
    if (packet.atMs === undefined) {
      for (const { atMs, relativeTime, problem } of records) if (!relativeTime && problem === undefined && atMs <= latestMs && !(atMs <= newestDeviceMs)) newestDeviceMs = atMs;
    }
    const receivedMs = stamp();
    const accepted = acceptor.accept(generator, records, { receivedMs, clockMs: undefined, kept: packet.kept }, into);
    counts.readings += accepted.readings;
    if (accepted.refusals.length > 0) waitOrRefuse(packet, receivedMs, generator, records, accepted.refusals);
    for (const channel of accepted.decided) release(generator, channel, receivedMs);
  }

  function* flush(): Generator<LogEvent> {
    if (into.length > 0) yield { kind: 'readings', batch: into.take() };
    const refused = refusedHere;
    refusedHere = new Map();
    for (const one of refused.values()) yield { kind: 'quarantine', atMs: lastMs, ...one };
  }

  return {
    get length() {
      return into.length;
    },
    get newestMs() {
      return lastMs;
    },
    raise,
    flush,
    take(packet, topic) {
      // Relative times count from when the packet arrived, even where another receipt is stamped.
      const arrivedMs = packet.atMs ?? newestDeviceMs;
      const stamp = (): number => raise(params.receivedMs ?? (Number.isNaN(packet.atMs ?? newestDeviceMs) ? 0 : (packet.atMs ?? newestDeviceMs)));
      if (topic === undefined) {
        refuse(packet, stamp(), null, [{ reason: 'unknown-topic', channel: null, says: `topic ${JSON.stringify(packet.topic.slice(0, 200))} is none of ours.` }]);
        return undefined;
      }
      const opened = openParsed(topic, packet.payload, arrivedMs, packet.kept);
      if (opened.kind === 'refused') {
        refuse(packet, stamp(), opened.generator, [opened.refusal]);
      } else if (opened.kind === 'presence') {
        if (opened.event.generators.length > 0 && !opened.event.generators.some((generator) => params.only?.(generator) !== false)) return undefined;
        counts.presence += 1;
        return { kind: 'presence', event: { ...opened.event, atMs: stamp() } };
      } else if (opened.kind === 'readings') {
        takeReadings(packet, opened.generator, opened.records, stamp);
      }
      return undefined;
    },
    *end() {
      for (const { generator, waiting } of unclear.values()) for (const { packet, refusal } of waiting) refuse(packet, raise(lastMs), generator, [refusal]);
      unclear.clear();
      yield* flush();
    },
  };
}
