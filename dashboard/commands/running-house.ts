import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type IngestSource, startIngest } from '../../ingest/ingest.ts';
import type { Config } from '../../shared/config.ts';
import type { Entry } from '../../shared/entry.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { Log } from '../../shared/log.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DAY_MS } from '../../shared/time.ts';
import { type Server, startServer } from '../server/server.ts';
import { type AnalysisLink, startAnalysisLink } from './analysis-link.ts';
import type { ScaledClock } from './clock.ts';
import { keptCampaigns } from './kept-campaigns.ts';
import { patientReads } from './patient-reads.ts';
import type { CurrentRegistry } from './registry-source.ts';
import { createReplayRunner } from './replay-runner.ts';
import { removeRunFile, writeRunFile } from './run-file.ts';
import { statusLine } from './status-line.ts';
import { type KeptReadings, openReadings, openRecords, type ReadingsWants, recordsFileIn } from './stores.ts';
import { startNoticePump } from './notice-pump.ts';
import { tlsFilesOf } from './tls-files.ts';
import { startTickPump } from './tick-pump.ts';

/** The stores, and the fold beside them: what is needed before anything is taken in. */
export type Foundation = { readonly dataFolder: string; readonly readings: KeptReadings; readonly records: RecordStore; readonly link: AnalysisLink; readonly failed: Promise<Error>; close(): Promise<void> };

/**
 * Open the stores of a data folder, and start analysis on them; it has folded what they hold when this resolves.
 * @throws {StoreError} if another process has the readings.
 */
export async function layFoundation(dataFolder: string, config: Config, log: Log, prepare: (records: RecordStore) => Promise<void>, wants: ReadingsWants = {}): Promise<Foundation> {
  // The readings first: the embedded store's lock tells whether another process works on this folder.
  const readings = await openReadings(dataFolder, config, log, wants);
  const closing = new AbortController();
  let records: RecordStore | undefined;
  try {
    records = await openRecords(recordsFileIn(dataFolder));
    await prepare(records);
    let fail: (error: Error) => void = () => undefined;
    const failed = new Promise<Error>((resolve) => {
      fail = resolve;
    });
    const link = await startAnalysisLink({ recordsFile: recordsFileIn(dataFolder), readings: patientReads(readings, log, closing.signal), settings: config.analysis, log, onFailure: (error) => fail(error) });
    const opened = records;
    return {
      dataFolder, readings, records, link, failed,
      async close() {
        closing.abort();
        await link.close();
        await readings.close();
        await opened.close();
      },
    };
  } catch (error) {
    await readings.close();
    await records?.close();
    throw error;
  }
}

export type HouseParams = {
  readonly foundation: Foundation;
  readonly config: Config;
  readonly clock: ScaledClock;
  readonly log: Log;
  readonly registry: CurrentRegistry;
  readonly simulated: boolean;
  readonly version: string;
  readonly source: IngestSource;
};

/** A running house: it takes readings in, ticks, and shows. */
export type House = { readonly url: string; readonly mqttUrl: string; /** An entry was kept elsewhere than by the pages. */ entered(entry: Entry): void; readonly failed: Promise<Error>; stop(): Promise<void> };

const TIDY_EVERY_MS = DAY_MS;
/** The first tidying comes a while after the start, when nobody waits for pages any more. Wall time. */
const FIRST_TIDY_MS = 10 * 60_000;

/** Start ingest, ticks and pages on a foundation. @throws {ConfigError} for ports that are taken. */
export async function startHouse(params: HouseParams): Promise<House> {
  const { foundation, config, clock, log, registry } = params;
  const { readings, records, link } = foundation;
  const { tls } = tlsFilesOf(config, process.cwd());
  const failed = deferredError();
  void foundation.failed.then((error) => failed.fail(error));

  const ingest = await startIngest({
    readings: withRoom(readings, link),
    records,
    registry: (generator) => registry.generator(generator),
    keptAs: (published) => registry.keptAs(published),
    clock,
    log,
    onEvent: (event) => link.feed(event),
    source: params.source,
  });
  let server: Server | undefined;
  const pump = startTickPump({ link, committedThroughMs: () => ingest.committedThroughMs(), onTick: () => server?.ticked(), onFailure: (error) => failed.fail(error) });
  const entered = (entry: Entry): void => pump.tell(Date.parse(entry.recordedAt), { kind: 'entry', atMs: Date.parse(entry.recordedAt), entry });
  const notices = startNoticePump({ records, config, clock, log, registry, simulated: params.simulated });
  const replays = createReplayRunner({
    settings: config.analysis, clock, log, scratchFolder: join(foundation.dataFolder, 'replay-scratch'),
    stores: { readings, records, registry: () => registry.generators() }, campaigns: () => keptCampaigns(join(foundation.dataFolder, 'score')),
  });
  try {
    server = await startServer({
      host: config.httpHost,
      port: config.httpPort,
      ...(tls !== undefined && { tls }),
      webFolder: fileURLToPath(new URL('../../web', import.meta.url)),
      readings,
      records,
      registry: { current: () => registry.generators() },
      ingest: {
        recentPackets: (generator) => ingest.recentPackets(generator),
        sentUnit: (generator, channel) => ingest.sentUnit(generator, channel),
        heard: (generator) => ingest.heard(generator),
        typeIn: (topic, payload) => ingest.typeIn(topic, payload),
        release: (ids, by) => ingest.release(ids, by),
      },
      status: statusLine({ clock, simulated: params.simulated, version: params.version, dataFolder: foundation.dataFolder, readings, records, registry, ingest, link }),
      notices,
      clock,
      log,
      simulated: params.simulated,
      onEntry: entered,
      onJob: (nowMs) => link.jobs(nowMs),
      replays,
      onRegistryChange: (change) => {
        registry.apply(change);
        pump.tell(change.recordedAtMs, { kind: 'registry', atMs: change.recordedAtMs, change });
        server?.registryChanged();
      },
      onClosing: (action) => pump.tell(action.atMs, { kind: 'closing', atMs: action.atMs, action }),
    });
  } catch (error) {
    await notices.stop();
    await pump.stop();
    await ingest.stop();
    throw error;
  }
  const running = server;
  const seen = new Set<GeneratorKey>((await readings.series()).map((one) => one.generator));
  const forget = ingest.onCommitted((batch: ReadingBatch) => {
    running.committed(batch);
    const newcomers = batch.series.filter((one) => !seen.has(one.generator));
    for (const { generator } of newcomers) seen.add(generator);
    // Whoever is heard for the first time is listed at once, not only at the next tick.
    if (newcomers.length > 0) running.registryChanged();
  });
  const tidy = startTidying(foundation, config, clock, log);
  const url = `${tls === undefined ? 'http' : 'https'}://${config.httpHost.includes(':') ? `[${config.httpHost}]` : config.httpHost}:${running.port}`;
  const mqttUrl = params.source.kind === 'broker' ? withoutSecrets(params.source.url) : `mqtt://${params.source.host}:${ingest.port}`;
  writeRunFile(foundation.dataFolder, { pid: process.pid, url, mqttUrl, startedAt: new Date(clock.nowMs()).toISOString(), simulated: params.simulated, ...(tls !== undefined && { cert: tls.cert }) });

  return {
    url,
    mqttUrl,
    entered,
    failed: failed.promise,
    async stop() {
      tidy.stop();
      forget();
      await ingest.stop();
      await pump.stop();
      await notices.stop();
      await replays.stop();
      await running.stop();
      removeRunFile(foundation.dataFolder, process.pid);
    },
  };
}

/** A URL as it may be shown: user and password out. */
function withoutSecrets(url: string): string {
  return url.replace(/\/\/[^@/]*@/, '//');
}

/** Readings are kept only while analysis has room for them: then ingest waits, and the broker keeps what comes. */
function withRoom(readings: ReadingStore, link: AnalysisLink): ReadingStore {
  return {
    ...readings,
    async append(batch) {
      await link.room();
      return readings.append(batch);
    },
  };
}

/** Once a day: closed months are sorted, what is too old goes. By the wall's clock, as it is about this machine's load. */
function startTidying({ readings, records }: Foundation, config: Config, clock: ScaledClock, log: Log): { stop(): void } {
  const tidy = async (): Promise<void> => {
    try {
      const nowMs = clock.nowMs();
      await readings.expire(nowMs - config.keepReadingsDays * DAY_MS);
      await readings.tidy?.(nowMs);
      await records.trimQuarantine(nowMs);
    } catch (error) {
      log.warn('the stores could not be tidied; it is tried again tomorrow', { error });
    }
  };
  const first = setTimeout(() => void tidy(), FIRST_TIDY_MS);
  const daily = setInterval(() => void tidy(), TIDY_EVERY_MS);
  return {
    stop() {
      clearTimeout(first);
      clearInterval(daily);
    },
  };
}

function deferredError(): { readonly promise: Promise<Error>; fail(error: Error): void } {
  let fail: (error: Error) => void = () => undefined;
  const promise = new Promise<Error>((resolve) => {
    fail = resolve;
  });
  return { promise, fail: (error) => fail(error) };
}
