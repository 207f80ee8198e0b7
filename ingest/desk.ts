import type { Packet as ShownPacket, ReleaseAnswer } from '../shared/api.ts';
import type { Channel } from '../shared/channels.ts';
import type { GeneratorKey } from '../shared/ids.ts';
import type { Log } from '../shared/log.ts';
import type { LogEvent, PresenceEvent } from '../shared/log-event.ts';
import { batchBuilder, type ReadingBatch } from '../shared/reading-batch.ts';
import type { ReadingStore } from '../shared/store/reading-store.ts';
import type { RecordStore } from '../shared/store/record-store.ts';
import { type Clock, HOUR_MS } from '../shared/time.ts';
import { parseTopic } from '../shared/topics.ts';
import { createAcceptor, type RegistryLookup } from './accept.ts';
import { type Committed, startCommit, type Work } from './commit.ts';
import { createRateCounter } from './counters.ts';
import { eventsOf } from './events.ts';
import type { GapState } from '../shared/reporting.ts';
import { createHeardBook, type Heard } from './heard.ts';
import { createIntake, type Waiting } from './intake.ts';
import { createGroupJudge } from './judge-group.ts';
import { type Judged, openPacket, quarantineItems } from './judge-packet.ts';
import { AS_PUBLISHED, type KeptAs, underKeptId } from './kept-as.ts';
import type { PercentState } from './percent.ts';
import { samePresence } from './presence.ts';
import { createReceipt } from './receipt.ts';
import { createRecentPackets } from './recent-packets.ts';
import { releaseItems, releaseSeries } from './release.ts';

export type DeskParams = { readonly readings: ReadingStore; readonly records: RecordStore; readonly registry: RegistryLookup; /** Left out: each under the id that it arrives with. */ readonly keptAs?: KeptAs; readonly clock: Clock; readonly log: Log; readonly onEvent: (event: LogEvent) => void };

/** Where packets are handed in and leave as readings on disk: decode, judge, commit, tell analysis. Knows no network. */
export type Desk = {
  /** Hand in a packet; `done()` when it is on disk and may be acknowledged, `done(error)` when it was given up. */
  readonly take: (packet: { readonly topic: string; readonly payload: Uint8Array; readonly dup: boolean }, done: (error?: Error) => void) => Waiting;
  /** What was handed in will come again: it need not be kept for its sender. */
  readonly abandon: (waiting: Waiting) => void;
  readonly release: (ids: readonly number[], by: string) => Promise<ReleaseAnswer>;
  readonly onCommitted: (listener: (batch: ReadingBatch) => void) => () => void;
  /** The generator under which what arrives on this topic is kept; `undefined` for a topic of no generator. */
  readonly keptUnder: (topic: string) => GeneratorKey | undefined;
  readonly recentPackets: (generator: GeneratorKey) => readonly ShownPacket[];
  readonly sentUnit: (generator: GeneratorKey, channel: Channel) => string | null;
  readonly heard: (generator: GeneratorKey) => Heard | undefined;
  /** Everything received before this is committed and handed on; nothing will be stamped earlier any more. */
  readonly committedThroughMs: () => number;
  readonly status: () => { readonly storeWritable: boolean; readonly storeSays: string; readonly queueLength: number; readonly readingsPerMinute: number; readonly lastReadingMs: number | null; readonly quarantinedSinceStart: number };
  readonly stop: () => Promise<void>;
};

/** Scopes of `RecordStore.savedSettings` that belong to ingest. */
const PERCENT_SCOPE = 'ingest-percent-as';
const HEARD_SCOPE = 'ingest-heard';
const STOP_WITHIN_MS = 3000;
const TRIM_EVERY_ITEMS = 1000;

/** @throws {StoreError} if the stores can't be read. */
export async function openDesk(params: DeskParams): Promise<Desk> {
  const { readings, records, registry, clock, log } = params;
  const percent = new Map([...(await records.savedSettings(PERCENT_SCOPE))].map(([name, json]) => [name, JSON.parse(json) as PercentState]));
  const savedHeard = [...(await records.savedSettings(HEARD_SCOPE))].map(([name, json]) => [name as GeneratorKey, JSON.parse(json) as GapState] as const);
  const presence = new Map((await records.presence()).map((event) => [`${event.site}/${event.gateway}`, event]));
  const lastReceivedMs = await readings.lastReceivedMs();

  const acceptor = createAcceptor(registry, percent);
  const heard = createHeardBook(registry, savedHeard);
  for (const latest of await readings.latest()) if ((heard.of(latest.generator)?.lastHeardMs ?? 0) < latest.receivedMs) heard.hear(latest.generator, latest.receivedMs);
  const receipt = createReceipt(clock, lastReceivedMs);
  const startedMs = receipt.stamp();
  const keptAs = params.keptAs ?? AS_PUBLISHED;
  const judge = createGroupJudge({ readings, acceptor, heard, keptAs, startedMs });
  const recent = createRecentPackets();
  const rate = createRateCounter(clock);
  const listeners = new Set<(batch: ReadingBatch) => void>();
  let lastReadingMs: number | null = lastReceivedMs > 0 ? lastReceivedMs : null;
  let quarantinedSinceStart = 0;
  let quarantinedSinceTrim = 0;
  let heardSavedMs = startedMs;

  const intake = createIntake({
    log,
    start: async (packets) => {
      const group = await judge.all(packets);
      return commitOf({ ...group, presence: newPresence(group.packets), settings: takeSettings() });
    },
    refuse: async (packet, error) => {
      const opened = underKeptId(openPacket(packet), keptAs);
      const generator = opened.kind === 'readings' || opened.kind === 'refused' ? opened.generator : null;
      const says = `the store refused it: ${error instanceof Error ? error.message : String(error)}. Please report this with the payload.`;
      return commitOf({ batch: batchBuilder().take(), packets: [], presence: [], settings: [], refused: quarantineItems(packet, generator, [{ reason: 'store-refused', channel: null, says }]) });
    },
  });

  /** Presence that says something new; a retained message repeats itself at each subscription. */
  function newPresence(judged: readonly Judged[]): PresenceEvent[] {
    const newest = new Map(presence);
    return judged.flatMap(({ presence: event }) => {
      if (event === null) return [];
      const name = `${event.site}/${event.gateway}`;
      const before = newest.get(name);
      newest.set(name, event);
      return before !== undefined && samePresence(before, event) ? [] : [event];
    });
  }

  function takeSettings(): Work['settings'] {
    const percentLines = [...acceptor.percentChanged].map((name) => [PERCENT_SCOPE, name, JSON.stringify(acceptor.percent.get(name))] as const);
    acceptor.percentChanged.clear();
    if (clock.nowMs() - heardSavedMs < HOUR_MS) return percentLines;
    heardSavedMs = clock.nowMs();
    return [...percentLines, ...heardLines()];
  }
  const heardLines = () => heard.takeChanged().map(([generator, state]) => [HEARD_SCOPE, generator, JSON.stringify(state)] as const);

  /** The step that commits `work` and then tells those who listen, once. */
  function commitOf(work: Work): () => Promise<void> {
    const commit = startCommit(work, readings, records);
    return async () => {
      const committed = await commit.step();
      tell(work, committed);
      if (quarantinedSinceTrim >= TRIM_EVERY_ITEMS) {
        quarantinedSinceTrim = 0;
        records.trimQuarantine(clock.nowMs()).catch((error: unknown) => log.warn(`Could not trim the quarantine: ${String(error)}`));
      }
    };
  }

  function tell(work: Work, { kept, quarantined }: Committed): void {
    for (const one of work.packets) {
      if (one.relative) judge.remember(one.packet);
      if (one.generator !== null) recent.add(one.generator, one.packet, one.readings, one.refusals);
      for (const channel of one.decided) if (one.generator !== null) queueRelease(one.generator, channel);
    }
    quarantinedSinceStart += quarantined.length;
    quarantinedSinceTrim += quarantined.length;
    rate.add(kept.atMs.length);
    for (const event of eventsOf(kept, work.presence, quarantined)) tellOne(() => params.onEvent(event));
    for (const event of work.presence) presence.set(`${event.site}/${event.gateway}`, event);
    if (kept.atMs.length === 0) return;
    lastReadingMs = kept.receivedMs.at(-1)!;
    for (const listener of listeners) tellOne(() => listener(kept));
  }

  /** What is on disk is on disk: a listener that fails must not have it taken for refused. Dirty marks bring it up again. */
  function tellOne(tellIt: () => void): void {
    try {
      tellIt();
    } catch (error) {
      log.error(`Readings are kept, but whoever listens failed: ${error instanceof Error ? error.message : String(error)}`);
    }
  }

  function addTask(task: (receivedMs: number) => Promise<void>, done: (error?: Error) => void): void {
    const receivedMs = receipt.stamp();
    intake.add({ receivedMs, packet: null, task: () => task(receivedMs), done, abandoned: false });
  }

  const releaseParams = { records, acceptor, keptAs, commit: (work: Work) => commitOf(work)() };
  function queueRelease(generator: GeneratorKey, channel: Channel): void {
    addTask((receivedMs) => releaseSeries({ ...releaseParams, receivedMs, generator, channel }), (error) => {
      if (error !== undefined) log.warn(`What waited for the unit of ${generator} ${channel} was not released: ${error.message}`);
      else log.info(`The unit of ${generator} ${channel} is clear now; what waited for it was released.`);
    });
  }

  return {
    take(packet, done) {
      const receivedMs = receipt.stamp();
      const waiting: Waiting = { receivedMs, packet: { ...packet, receivedMs }, task: null, done, abandoned: false };
      intake.add(waiting);
      return waiting;
    },
    abandon: (waiting) => intake.abandon(waiting),
    release: (ids, by) =>
      new Promise((resolve, reject) => {
        let answer: ReleaseAnswer = { released: 0, stillRefused: ids.length };
        addTask(async (receivedMs) => {
          answer = await releaseItems({ ...releaseParams, receivedMs, ids, by });
        }, (error) => (error === undefined ? resolve(answer) : reject(error)));
      }),
    onCommitted(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    keptUnder(topic) {
      const parsed = parseTopic(topic);
      return parsed?.kind === 'readings' ? keptAs(parsed.generator) : undefined;
    },
    recentPackets: (generator) => recent.of(generator),
    sentUnit: acceptor.sentUnit,
    heard: (generator) => heard.of(generator),
    committedThroughMs: () => intake.oldestMs ?? receipt.stamp(),
    status: () => ({ storeWritable: intake.storeWritable, storeSays: intake.storeSays, queueLength: intake.length, readingsPerMinute: rate.perMinute(), lastReadingMs, quarantinedSinceStart }),
    async stop() {
      await intake.stop(STOP_WITHIN_MS);
      await Promise.all(heardLines().map(([scope, name, value]) => records.saveSetting(scope, name, value))).catch((error: unknown) => log.warn(`Could not save when generators were heard: ${String(error)}`));
    },
  };
}
