import { type Channel, channelRule } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { PresenceEvent } from '../shared/log-event.ts';
import type { QuarantineItem } from '../shared/quarantine.ts';
import { type ReadingBatch, selectRows, type Series } from '../shared/reading-batch.ts';
import type { AppendResult, Conflict, ReadingStore, RefusedReading } from '../shared/store/reading-store.ts';
import type { RecordStore } from '../shared/store/record-store.ts';
import { isoFromMs } from '../shared/time.ts';
import { readingsTopic } from '../shared/topics.ts';
import { keptSymbol } from '../shared/units.ts';
import type { Judged } from './judge-packet.ts';
import { type Packet, quarantineText } from './packet.ts';

/** What is to be on disk before anything of it is acknowledged. */
export type Work = {
  readonly batch: ReadingBatch;
  readonly packets: readonly Judged[];
  readonly refused: readonly QuarantineItem[];
  readonly presence: readonly PresenceEvent[];
  /** Small settings: scope, name, value. */
  readonly settings: readonly (readonly [string, string, string])[];
};

export type Committed = { readonly kept: ReadingBatch; readonly quarantined: readonly QuarantineItem[] };

/** One piece of work and how far it got. `step` goes on from where the last call failed. */
export type Commit = { readonly step: () => Promise<Committed> };

/**
 * Carry out one piece of work in the order that loses nothing (design, section 4.2): mark what becomes dirty, store
 * the readings, keep what was refused. A failure leaves it where it is; a repeat goes on from there, so that nothing
 * is quarantined twice and what was kept is still known.
 */
export function startCommit(work: Work, readings: ReadingStore, records: RecordStore): Commit {
  let marked = false;
  let tried = false;
  let appended: AppendResult | undefined;
  let quarantined: readonly QuarantineItem[] | undefined;
  let saved = 0;
  const step = async (): Promise<Committed> => {
    const { batch } = work;
    const rows = batch.atMs.length;
    if (!marked && rows > 0) await records.markDirty(generatorsOf(batch), batch.receivedMs[0]!);
    marked = true;
    if (appended === undefined && rows > 0) {
      const again = tried;
      tried = true;
      const result = await readings.append(batch);
      appended = again ? { ...result, kept: await keptSinceFirstTry(batch, readings) } : result;
    }
    const kept = appended?.kept ?? batch;
    if (quarantined === undefined) {
      const items = [...work.refused, ...conflictItems(appended?.conflicts ?? [], work.packets), ...refusedItems(appended?.refused ?? [], work.packets)];
      if (items.length > 0) await records.quarantine(items);
      quarantined = items;
    }
    const rest = [...work.presence.map((event) => () => records.savePresence(event)), ...work.settings.map(([scope, name, value]) => () => records.saveSetting(scope, name, value))];
    for (; saved < rest.length; saved += 1) await rest[saved]!();
    return { kept, quarantined };
  };
  return { step };
}

function generatorsOf(batch: ReadingBatch): GeneratorKey[] {
  return [...new Set(batch.series.map((series) => series.generator))];
}

/** A store may have kept a part before it failed, and then calls that part doubled: so what is there with our receipt is ours. */
async function keptSinceFirstTry(batch: ReadingBatch, readings: ReadingStore): Promise<ReadingBatch> {
  const nameOf = (of: ReadingBatch, row: number): string => {
    const series = of.series[of.seriesIndex[row]!]!;
    return `${series.generator}/${series.channel} ${of.atMs[row]!} ${of.receivedMs[row]!} ${of.value[row]!}`;
  };
  const stored = new Set<string>();
  for await (const part of readings.byReceipt({ fromMs: batch.receivedMs[0]!, toMs: batch.receivedMs.at(-1)! + 1, generators: generatorsOf(batch) })) {
    for (let row = 0; row < part.atMs.length; row += 1) stored.add(nameOf(part, row));
  }
  const rows: number[] = [];
  for (let row = 0; row < batch.atMs.length; row += 1) if (stored.delete(nameOf(batch, row))) rows.push(row);
  return selectRows(batch, rows);
}

/** The packet that a reading came in: of several with one receipt, that which names its channel. */
function packetOf(packets: readonly Judged[], { generator, channel }: Series, receivedMs: number): Packet | undefined {
  const from = packets.filter(({ packet, generator: sender }) => sender === generator && packet.receivedMs === receivedMs);
  return (from.length < 2 ? from[0] : (from.find(({ packet }) => Buffer.from(packet.payload).includes(channel)) ?? from[0]))?.packet;
}

/** A packet as quarantine keeps it, or where it is no longer at hand a pack of the values, in the units that they are kept in. */
function payloadOf(packet: Packet | undefined, generator: GeneratorKey, values: readonly { readonly channel: Channel; readonly atMs: number; readonly value: number }[]): Pick<QuarantineItem, 'topic' | 'payload'> {
  if (packet !== undefined) return { topic: packet.topic, payload: quarantineText(packet.payload) };
  const records = values.map(({ channel, atMs, value }) => {
    const unit = keptSymbol(channelRule(channel).quantity);
    return { n: channel, t: atMs / 1000, ...(unit === null ? { vb: value === 1 } : { u: unit, v: value }) };
  });
  return { topic: readingsTopic(generator), payload: JSON.stringify(records) };
}

/** A kept value for people: with its unit, and without the crumbs of binary fractions (698.8000000000001). */
function withUnit(channel: Channel, value: number): string {
  const { keptUnit } = channelRule(channel);
  const digits = String(Number(value.toPrecision(12)));
  return keptUnit === '0/1' || keptUnit === 'ratio' ? digits : `${digits} ${keptUnit}`;
}

function conflictItems(conflicts: readonly Conflict[], packets: readonly Judged[]): QuarantineItem[] {
  return conflicts.map(({ series, atMs, keptValue, refusedValue, receivedMs }) => ({
    id: 0,
    receivedMs,
    ...payloadOf(packetOf(packets, series, receivedMs), series.generator, [{ channel: series.channel, atMs, value: refusedValue }]),
    reason: 'conflicting-value',
    says: `${series.channel} at ${isoFromMs(atMs)} was ${withUnit(series.channel, keptValue)} and came again as ${withUnit(series.channel, refusedValue)}; the first stays. Look for two devices that send as one, or a clock that was set back.`,
    generator: series.generator,
    channel: series.channel,
    releasedMs: null,
  }));
}

/** What the store will never take as it is, with its own words: one item for a packet, however many of its readings that are. */
export function refusedItems(refused: readonly RefusedReading[], packets: readonly Judged[] = []): QuarantineItem[] {
  const groups = new Map<Packet | string, [RefusedReading, ...RefusedReading[]]>();
  for (const one of refused) {
    const from = packetOf(packets, one.series, one.receivedMs) ?? `${one.series.generator} ${one.receivedMs}`;
    const group = groups.get(from);
    if (group === undefined) groups.set(from, [one]);
    else group.push(one);
  }
  return [...groups].map(([from, group]) => {
    const [{ series, atMs, receivedMs, says }] = group;
    return {
      id: 0,
      receivedMs,
      ...payloadOf(typeof from === 'string' ? undefined : from, series.generator, group.map((one) => ({ channel: one.series.channel, atMs: one.atMs, value: one.value }))),
      reason: 'store-refused',
      says: `the store refused ${group.length === 1 ? '' : `${group.length} readings, the first of them `}${series.channel} at ${isoFromMs(atMs)}: ${says}`,
      generator: series.generator,
      channel: group.every((one) => one.series.channel === series.channel) ? series.channel : null,
      releasedMs: null,
    } satisfies QuarantineItem;
  });
}
