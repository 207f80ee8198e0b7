import { createWriteStream, type WriteStream } from 'node:fs';
import { mkdir, writeFile } from 'node:fs/promises';
import { once } from 'node:events';
import { finished } from 'node:stream/promises';
import { join } from 'node:path';
import { channelRule } from '../channels.ts';
import { type GatewayId, type GeneratorKey, splitGeneratorKey } from '../ids.ts';
import type { PresenceEvent } from '../log-event.ts';
import type { ReadingBatch } from '../reading-batch.ts';
import type { SiteRecord } from '../registry.ts';
import type { ReadingStore } from '../store/reading-store.ts';
import type { RecordStore } from '../store/record-store.ts';
import { isoFromMs, tickAfter } from '../time.ts';
import { presenceTopic, readingsTopic } from '../topics.ts';
import { keptSymbol } from '../units.ts';

export type ExportParams = {
  readonly folder: string;
  readonly readings: Pick<ReadingStore, 'byReceipt'>;
  readonly records: Pick<RecordStore, 'presenceSince' | 'entries' | 'registryChanges' | 'actions' | 'quarantined'>;
  /** Span of receipt [fromMs, toMs). */
  readonly fromMs: number;
  readonly toMs: number;
  readonly generators?: readonly GeneratorKey[];
  readonly onProgress?: (readings: number) => void;
};
export type ExportCounts = { readonly readings: number; readonly packets: number; readonly presence: number; readonly events: number; readonly visits: number; readonly sites: number };

const RECORDS_PER_PACK = 5000;
const BUFFER_CHARACTERS = 1024 * 1024;
const QUARANTINE_PAGE = 1000;

/** Write the log that replay reads: readings as kept and in order of receipt, presence, registry, entries, closings, quarantine counts. */
export async function exportRecording(params: ExportParams): Promise<ExportCounts> {
  await mkdir(params.folder, { recursive: true });
  const presence = (await params.records.presenceSince(params.fromMs)).filter((event) => event.atMs < params.toMs);
  const { readings, packets } = await writeReadings(params, presence);
  const wanted = params.generators === undefined ? undefined : new Set<string>(params.generators);
  const entries = (await params.records.entries({ recordedFromMs: params.fromMs })).filter((entry) => Date.parse(entry.recordedAt) < params.toMs && wanted?.has(`${entry.site}/${entry.generator}`) !== false);
  await writeFile(join(params.folder, 'visits.json'), `${JSON.stringify(entries, undefined, 1)}\n`);
  const { events, sites } = await writeEvents(params, wanted);
  return { readings, packets, presence: presence.length, events, visits: entries.length, sites };
}

/** Lines are gathered and written in pieces; the disk sets the pace. */
class LineWriter {
  readonly #stream: WriteStream;
  #buffer = '';
  lines = 0;
  constructor(path: string) {
    this.#stream = createWriteStream(path);
  }
  async write(line: string): Promise<void> {
    this.#buffer += `${line}\n`;
    this.lines += 1;
    if (this.#buffer.length >= BUFFER_CHARACTERS) await this.#flush();
  }
  async #flush(): Promise<void> {
    const room = this.#stream.write(this.#buffer);
    this.#buffer = '';
    if (!room) await once(this.#stream, 'drain');
  }
  async end(): Promise<void> {
    await this.#flush();
    this.#stream.end();
    await finished(this.#stream);
  }
}

async function writeReadings(params: ExportParams, presence: readonly PresenceEvent[]): Promise<{ readings: number; packets: number }> {
  const writer = new LineWriter(join(params.folder, 'readings.ndjson'));
  let readings = 0;
  let packets = 0;
  let nextPresence = 0;
  const writePresence = async (untilMs: number): Promise<void> => {
    for (; nextPresence < presence.length && presence[nextPresence]!.atMs <= untilMs; nextPresence += 1) await writer.write(presenceLine(presence[nextPresence]!));
  };
  const query = { fromMs: params.fromMs, toMs: params.toMs, ...(params.generators === undefined ? {} : { generators: params.generators }) };
  for await (const batch of params.readings.byReceipt(query)) {
    for (let from = 0; from < batch.atMs.length; ) {
      const to = endOfPack(batch, from);
      await writePresence(batch.receivedMs[from]!);
      await writer.write(packLine(batch, from, to));
      packets += 1;
      from = to;
    }
    readings += batch.atMs.length;
    params.onProgress?.(readings);
  }
  await writePresence(Number.POSITIVE_INFINITY);
  await writer.end();
  return { readings, packets };
}

/** Rows of one generator that were received together are one pack. */
function endOfPack(batch: ReadingBatch, from: number): number {
  const generator = batch.series[batch.seriesIndex[from]!]!.generator;
  const receivedMs = batch.receivedMs[from]!;
  let to = from + 1;
  while (to < batch.atMs.length && to - from < RECORDS_PER_PACK && batch.receivedMs[to] === receivedMs && batch.series[batch.seriesIndex[to]!]!.generator === generator) to += 1;
  return to;
}

/**
 * Readings as a SenML pack in kept units, marked `kept` so that nothing is converted twice. Times are exact to the
 * millisecond: base time and time are added in seconds and rounded when read. `q` carries quality flags other than 0.
 */
function packLine(batch: ReadingBatch, from: number, to: number): string {
  const { generator } = batch.series[batch.seriesIndex[from]!]!;
  const baseMs = batch.atMs[from]!;
  const payload: Record<string, string | number | boolean>[] = [];
  for (let row = from; row < to; row += 1) {
    const { channel } = batch.series[batch.seriesIndex[row]!]!;
    const unit = keptSymbol(channelRule(channel).quantity);
    const value = batch.value[row]!;
    payload.push({
      ...(row === from ? { bn: `${splitGeneratorKey(generator).generator}:`, bt: baseMs / 1000 } : {}),
      n: channel,
      ...(batch.atMs[row] === baseMs ? {} : { t: (batch.atMs[row]! - baseMs) / 1000 }),
      ...(unit === null ? { vb: value === 1 } : { u: unit, v: value }),
      ...(batch.quality[row] === 0 ? {} : { q: batch.quality[row]! }),
    });
  }
  return JSON.stringify({ topic: readingsTopic(generator), payload, at: isoFromMs(batch.receivedMs[from]!), kept: true });
}

function presenceLine(event: PresenceEvent): string {
  const generators = event.generators.map((key) => splitGeneratorKey(key).generator);
  return JSON.stringify({ topic: presenceTopic(`${event.site}/` as GeneratorKey, event.gateway as GatewayId), payload: { online: event.online, generators }, at: isoFromMs(event.atMs), kept: true });
}

async function writeEvents(params: ExportParams, wanted: ReadonlySet<string> | undefined): Promise<{ events: number; sites: number }> {
  const changes = (await params.records.registryChanges()).filter((change) => change.recordedAtMs < params.toMs);
  const timed = [
    ...changes.map((change) => ({ atMs: change.recordedAtMs, line: { kind: 'registry', validFrom: isoFromMs(change.validFromMs), by: change.by, site: change.site } as object })),
    ...(await params.records.actions({ fromMs: params.fromMs })).filter(({ atMs, action }) => atMs < params.toMs && (action === 'close' || action === 'reopen')).map(({ atMs, ...action }) => ({ atMs, line: { kind: 'closing', ...action } as object })),
    ...(await quarantineEvents(params, wanted)),
  ].sort((a, b) => a.atMs - b.atMs);
  const writer = new LineWriter(join(params.folder, 'events.ndjson'));
  for (const { atMs, line } of timed) await writer.write(JSON.stringify({ at: isoFromMs(atMs), ...line }));
  await writer.end();
  const sites = new Map<string, SiteRecord>(changes.map(({ site }) => [site.id, site]));
  await writeFile(join(params.folder, 'sites.json'), `${JSON.stringify({ sites: [...sites.values()] }, undefined, 1)}\n`);
  return { events: writer.lines, sites: sites.size };
}

/** Counts of what was refused, by generator, reason and tick: all that analysis looks at. */
async function quarantineEvents(params: ExportParams, wanted: ReadonlySet<string> | undefined): Promise<{ atMs: number; line: object }[]> {
  const counts = new Map<string, { atMs: number; line: { kind: 'quarantine'; generator: string; reason: string; count: number } }>();
  for (let afterId = 0; ; ) {
    const items = await params.records.quarantined({ afterId, limit: QUARANTINE_PAGE });
    for (const { generator, reason, receivedMs } of items) {
      if (generator === null || receivedMs < params.fromMs || receivedMs >= params.toMs || wanted?.has(generator) === false) continue;
      const name = `${tickAfter(receivedMs)} ${generator} ${reason}`;
      const known = counts.get(name) ?? { atMs: receivedMs, line: { kind: 'quarantine', generator, reason, count: 0 } };
      known.line.count += 1;
      known.atMs = Math.max(known.atMs, receivedMs);
      counts.set(name, known);
    }
    if (items.length < QUARANTINE_PAGE) break;
    afterId = items.at(-1)!.id;
  }
  return [...counts.values()];
}
