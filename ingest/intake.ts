import { setTimeout as sleep } from 'node:timers/promises';
import { StoreError } from '../shared/errors.ts';
import type { Log } from '../shared/log.ts';
import { MINUTE_MS, tickAfter } from '../shared/time.ts';
import type { Packet } from './packet.ts';

/** Something that waits for its commit. `done` is called once, when it is on disk or was given up (`error`). */
export type Waiting = {
  readonly receivedMs: number;
  readonly packet: Packet | null;
  /** For what is no packet, such as a release. */
  readonly task: (() => Promise<void>) | null;
  readonly done: (error?: Error) => void;
  abandoned: boolean;
};

/** The one queue through which all that arrives is committed, in order of receipt. */
export type Intake = {
  add(waiting: Waiting): void;
  /** Nobody waits for it any more and it will come again: it need not be committed. */
  abandon(waiting: Waiting): void;
  /** Packets that arrived and are not committed. */
  readonly length: number;
  /** Receipt of the oldest that isn't committed yet. */
  readonly oldestMs: number | undefined;
  readonly storeWritable: boolean;
  /** Why the store takes nothing; empty while it does. */
  readonly storeSays: string;
  /** Finish what is being committed, give up what waits. */
  stop(withinMs: number): Promise<void>;
};

/** Most packets in one commit: what the disk takes in some 10 ms. */
const MOST_PER_COMMIT = 500;
const FIRST_PAUSE_MS = 100;
const LONGEST_PAUSE_MS = 10_000;

/**
 * Take what waits, commit it together, acknowledge, and again. Whoever comes while a commit runs shares the next one,
 * so the queue groups by itself without a timer. While the store is down, nothing is acknowledged and nothing dropped.
 *
 * @param start prepares a group of packets and gives the function that commits it, which is called until it succeeds.
 *   An error that is no `StoreError` means that a group can't be stored as it is: it is committed packet by packet,
 *   and a packet that fails alone goes to `refuse`.
 */
export function createIntake(params: { readonly start: (packets: readonly Packet[]) => Promise<() => Promise<void>>; readonly refuse: (packet: Packet, error: unknown) => Promise<() => Promise<void>>; readonly log: Log }): Intake {
  const { log } = params;
  let queue: Waiting[] = [];
  let abandoned = 0;
  let current: readonly Waiting[] = [];
  let running: Promise<void> | undefined;
  let writable = true;
  let says = '';
  const stopping = new AbortController();

  async function untilDone(step: () => Promise<void>): Promise<void> {
    let pauseMs = FIRST_PAUSE_MS;
    let failed = 0;
    for (;;) {
      try {
        await step();
        if (!writable) log.info('The store takes readings again.');
        writable = true;
        says = '';
        return;
      } catch (error) {
        if (!(error instanceof StoreError)) throw error;
        if (failed % Math.ceil(MINUTE_MS / LONGEST_PAUSE_MS) === 0) log.error(`The store takes nothing; nothing is acknowledged and nothing dropped until it does: ${messageOf(error)}`);
        writable = false;
        says = messageOf(error);
        failed += 1;
        await sleep(pauseMs, undefined, { signal: stopping.signal });
        pauseMs = Math.min(pauseMs * 2, LONGEST_PAUSE_MS);
      }
    }
  }

  async function commitPackets(packets: readonly Packet[]): Promise<void> {
    try {
      // Preparing may ask the store too, and is then repeated with the rest.
      let step: (() => Promise<void>) | undefined;
      await untilDone(async () => {
        step ??= await params.start(packets);
        await step();
      });
    } catch (error) {
      if (stopping.signal.aborted) throw error;
      if (packets.length > 1) {
        for (const packet of packets) await commitPackets([packet]);
        return;
      }
      log.error(`A packet could not be stored and went to quarantine: ${messageOf(error)}`, { topic: packets[0]!.topic });
      const step = await params.refuse(packets[0]!, error);
      await untilDone(step);
    }
  }

  function takeGroup(): Waiting[] {
    const first = queue.shift()!;
    const group = [first];
    if (first.packet === null) return group;
    while (group.length < MOST_PER_COMMIT && queue[0]?.packet != null && tickAfter(queue[0].receivedMs) === tickAfter(first.receivedMs)) group.push(queue.shift()!);
    return group;
  }

  async function run(): Promise<void> {
    while (queue.length > 0 && !stopping.signal.aborted) {
      const group = takeGroup().filter((waiting) => !waiting.abandoned);
      current = group;
      let failure: Error | undefined;
      try {
        const task = group[0]?.task;
        if (task != null) await untilDone(task);
        else if (group.length > 0) await commitPackets(group.map((waiting) => waiting.packet!));
      } catch (error) {
        failure = error instanceof Error ? error : new Error(String(error));
      }
      current = [];
      for (const waiting of group) answer(waiting, failure);
    }
    for (const waiting of queue.splice(0)) answer(waiting, new Error('ingest was stopped'));
    running = undefined;
  }

  /** A connection that fails at its acknowledgement must not stop the queue. */
  function answer(waiting: Waiting, failure: Error | undefined): void {
    try {
      waiting.done(failure);
    } catch (error) {
      log.error(`An acknowledgement failed: ${messageOf(error)}`);
    }
  }

  return {
    abandon(waiting) {
      waiting.abandoned = true;
      abandoned += 1;
      // Looking through the queue each time would cost too much while it is long.
      if (abandoned * 2 < queue.length) return;
      queue = queue.filter((one) => !one.abandoned);
      abandoned = 0;
    },
    add(waiting) {
      queue.push(waiting);
      running ??= Promise.resolve().then(run);
    },
    get length() {
      return queue.length + current.length;
    },
    get oldestMs() {
      return (current[0] ?? queue[0])?.receivedMs;
    },
    get storeWritable() {
      return writable;
    },
    get storeSays() {
      return says;
    },
    async stop(withinMs) {
      stopping.abort();
      await Promise.race([running, sleep(withinMs, undefined, { ref: false })]);
    },
  };
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
