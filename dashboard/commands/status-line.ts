import { statfsSync } from 'node:fs';
import type { Status } from '../../shared/api.ts';
import type { CurrentRegistry } from './registry-source.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DAY_MS, isoFromMs, TICK_MS } from '../../shared/time.ts';
import type { AnalysisLink } from './analysis-link.ts';
import type { ScaledClock } from './clock.ts';
import type { Heard } from '../../ingest/heard.ts';
import type { Ingest } from '../../ingest/ingest.ts';

const LOW_DISK_BYTES = 2e9;
/** Counting what waits in quarantine and what the stores weigh is asked for by every page; once in 10 s is enough. */
const SLOW_EVERY_MS = 10_000;
/** A generator is silent after so many of its reporting intervals. */
const SILENT_AFTER_INTERVALS = 3;
/** Readings on their way to the fold above which the desk is told that the lists are behind. */
const MANY_WAITING = 100_000;

/** So many of the newest notices are looked through for failures. */
const NOTICES_LOOKED_AT = 500;

export type StatusParts = {
  readonly clock: ScaledClock;
  readonly simulated: boolean;
  readonly version: string;
  readonly dataFolder: string;
  readonly readings: ReadingStore;
  readonly records: RecordStore;
  readonly registry: CurrentRegistry;
  readonly ingest: Ingest;
  readonly link: AnalysisLink;
};

/** The one line that watches the watcher. */
export function statusLine(parts: StatusParts): () => Promise<Status> {
  const slow = slowFigures(parts);
  return async () => {
    const { clock, ingest, link, registry } = parts;
    const nowMs = clock.nowMs();
    const figures = await slow(nowMs);
    const { brokerConnected, brokerSays, ...desk } = ingest.status();
    const keys = new Set([...figures.heardKeys, ...registry.generators().map((one) => one.key)]);
    const reporting = [...keys].filter((key) => reports(ingest.heard(key), nowMs)).length;
    const status = {
      nowAt: isoFromMs(nowMs),
      simulated: parts.simulated,
      timeScale: clock.scale,
      version: parts.version,
      lastTickAt: link.lastTickMs() > 0 ? isoFromMs(link.lastTickMs()) : null,
      lastReadingAt: desk.lastReadingMs === null ? null : isoFromMs(desk.lastReadingMs),
      generators: keys.size,
      generatorsReporting: reporting,
      brokerConnected,
      brokerSays,
      storeWritable: desk.storeWritable,
      storeSays: desk.storeSays,
      queueLength: desk.queueLength,
      readingsPerMinute: desk.readingsPerMinute,
      quarantined: figures.quarantined,
      diskFreeBytes: figures.diskFreeBytes,
      storeBytes: figures.storeBytes,
    };
    return { ...status, wants: wantsOf(status, link, nowMs, figures.noticesGivenUp) };
  };
}

function reports(heard: Heard | undefined, nowMs: number): boolean {
  return heard !== undefined && nowMs - heard.lastHeardMs <= SILENT_AFTER_INTERVALS * heard.reportEveryS * 1000;
}

function wantsOf(status: Omit<Status, 'wants'>, link: AnalysisLink, nowMs: number, noticesGivenUp: number): string[] {
  const wants: string[] = [];
  if (!status.brokerConnected) wants.push(`no broker: ${status.brokerSays}`);
  if (!status.storeWritable) wants.push(`the store takes nothing; nothing is acknowledged and the broker keeps what comes${status.storeSays ? ` (${status.storeSays})` : ''}`);
  if (status.diskFreeBytes !== null && status.diskFreeBytes < LOW_DISK_BYTES) wants.push(`only ${(status.diskFreeBytes / 1e9).toFixed(1)} GB free on the disk`);
  if (status.generators > 0 && status.generatorsReporting === 0) wants.push('no generator reports');
  // A tick that is late by a whole one, on the clock that the fold runs on.
  if (link.lastTickMs() > 0 && nowMs - link.lastTickMs() > 2 * TICK_MS + 60_000 * status.timeScale) wants.push('the lists are behind: analysis is still working through what came in');
  else if (link.waiting() > MANY_WAITING) wants.push(`${link.waiting()} readings wait for the analysis`);
  if (noticesGivenUp > 0) wants.push(`${noticesGivenUp === 1 ? 'a notice' : `${noticesGivenUp} notices`} could not be sent in the last 7 days (see Notices)`);
  return wants;
}

function slowFigures(parts: StatusParts): (nowMs: number) => Promise<{ quarantined: number; noticesGivenUp: number; diskFreeBytes: number | null; storeBytes: number; heardKeys: readonly RegisteredKey[] }> {
  let known: { readonly atMs: number; readonly figures: { quarantined: number; noticesGivenUp: number; diskFreeBytes: number | null; storeBytes: number; heardKeys: RegisteredKey[] } } | undefined;
  return async (nowMs) => {
    if (known !== undefined && Math.abs(nowMs - known.atMs) < SLOW_EVERY_MS * parts.clock.scale) return known.figures;
    const [counts, notices, readingBytes, recordBytes, latest] = await Promise.all([parts.records.quarantineCounts(), parts.records.notices({ limit: NOTICES_LOOKED_AT }), parts.readings.sizeBytes(), parts.records.sizeBytes(), parts.readings.latest()]);
    const figures = {
      quarantined: counts.reduce((sum, one) => sum + one.count, 0),
      noticesGivenUp: notices.filter((one) => one.state === 'given-up' && one.kind !== 'test' && nowMs - one.madeMs < 7 * DAY_MS).length,
      diskFreeBytes: diskFree(parts.dataFolder),
      storeBytes: readingBytes + recordBytes,
      heardKeys: [...new Set(latest.map((one) => one.generator))],
    };
    known = { atMs: nowMs, figures };
    return figures;
  };
}

type RegisteredKey = Parameters<Ingest['heard']>[0];

function diskFree(folder: string): number | null {
  try {
    const disk = statfsSync(folder);
    return disk.bavail * disk.bsize;
  } catch {
    return null;
  }
}
