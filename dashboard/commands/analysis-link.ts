import { Worker } from 'node:worker_threads';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import type { RankingReport } from '../../shared/finding.ts';
import type { Log } from '../../shared/log.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import { buffersOf, type FromWorker, type ToWorker, weightOf, type WorkerStart } from './analysis-messages.ts';

/** How many readings may be on their way to the worker before `room` waits. */
const MOST_WAITING = 300_000;

/** The analysis, as the main thread sees it. */
export type AnalysisLink = {
  /** Send an event on its way. `give` moves the columns instead of copying them. */
  feed(event: LogEvent, give?: boolean): void;
  /** Resolves when there is room for more; whoever takes readings in waits for it first. Rejects once the analysis failed. */
  room(): Promise<void>;
  /** Nothing more will come that was received before this; resolves when its ticks are done. */
  advanceTo(receivedMs: number): Promise<void>;
  /** Keep the fold's state, so that a restart needn't fold again. */
  save(): Promise<void>;
  /** A job was left in the record store: let it be answered now. */
  jobs(nowMs: number): void;
  lastTickMs(): number;
  report(): RankingReport;
  /** Readings that wait for the fold. */
  waiting(): number;
  close(): Promise<void>;
};

type Params = {
  readonly recordsFile: string;
  readonly readings: Pick<ReadingStore, 'byDeviceTime' | 'byReceipt'>;
  readonly settings: AnalysisSettings;
  readonly log: Log;
  /** The worker failed; nothing is lost, because everything it was fed is in the stores, but nothing more is folded. */
  onFailure(error: Error): void;
};

/** Start the worker; resolves when it has restored its state and folded what the stores received since. */
export async function startAnalysisLink(params: Params): Promise<AnalysisLink> {
  const workerData: WorkerStart = { recordsFile: params.recordsFile, settings: params.settings };
  const worker = new Worker(new URL('./analysis-worker.js', import.meta.url), { workerData });
  const post = (message: ToWorker, moved: ArrayBuffer[] = []): void => worker.postMessage(message, moved);
  const logs = logReader(params.readings);
  const asked = new Map<number, { resolve(): void; reject(error: Error): void }>();
  const room: (() => void)[] = [];
  let state = { lastTickMs: 0, report: { at: null, ranking: [], findings: [] } as RankingReport };
  let lastId = 0;
  /** What is on its way, and what ended it. */
  const flow: { weight: number; failure: Error | undefined } = { weight: 0, failure: undefined };
  let ready: { resolve(): void; reject(error: Error): void } | undefined;
  let closed: (() => void) | undefined;

  const failWith = (error: Error): void => {
    if (flow.failure !== undefined) return;
    flow.failure = error;
    ready?.reject(error);
    for (const one of asked.values()) one.reject(error);
    asked.clear();
    for (const go of room.splice(0)) go();
    closed?.();
    params.onFailure(error);
  };
  const answer = (id: number, batch: Promise<ReadingBatch | null>): void => {
    batch.then(
      (found) => post({ kind: 'answer', id, batch: found }, buffersOf(found)),
      (error: unknown) => post({ kind: 'answer', id, batch: null, error: error instanceof Error ? error.message : String(error) }),
    );
  };

  worker.on('message', (message: FromWorker) => {
    switch (message.kind) {
      case 'ready':
        state = message;
        ready?.resolve();
        break;
      case 'taken':
        flow.weight -= message.weight;
        if (flow.weight < MOST_WAITING) for (const go of room.splice(0)) go();
        break;
      case 'done':
        state = message;
        asked.get(message.id)?.resolve();
        asked.delete(message.id);
        break;
      case 'log':
        params.log[message.level](message.message, message.fields);
        break;
      case 'read':
        answer(message.id, params.readings.byDeviceTime(message.query));
        break;
      case 'read-log':
        answer(message.id, logs.next(message.id, message.query));
        break;
      case 'stop-log':
        logs.stop(message.id);
        break;
      case 'failed':
        failWith(Object.assign(new Error(`the analysis stopped: ${message.message}`), { stack: message.stack }));
        break;
      case 'closed':
        closed?.();
        break;
    }
  });
  worker.on('error', (error) => failWith(error instanceof Error ? error : new Error(String(error))));
  worker.on('exit', () => failWith(new Error('the analysis worker ended')));

  const request = (make: (id: number) => ToWorker): Promise<void> =>
    new Promise((resolve, reject) => {
      if (flow.failure !== undefined) return reject(flow.failure);
      lastId += 1;
      asked.set(lastId, { resolve, reject });
      post(make(lastId));
    });
  await new Promise<void>((resolve, reject) => {
    ready = { resolve, reject };
  });

  return {
    async room() {
      while (flow.weight >= MOST_WAITING && flow.failure === undefined) await new Promise<void>((resolve) => room.push(resolve));
      if (flow.failure !== undefined) throw flow.failure;
    },
    feed(event, give = false) {
      flow.weight += weightOf(event);
      post({ kind: 'event', event }, give && event.kind === 'readings' ? buffersOf(event.batch) : []);
    },
    advanceTo: (receivedMs) => request((id) => ({ kind: 'advance', id, receivedMs })),
    save: () => request((id) => ({ kind: 'save', id })),
    jobs: (nowMs) => post({ kind: 'jobs', nowMs }),
    lastTickMs: () => state.lastTickMs,
    report: () => state.report,
    waiting: () => flow.weight,
    async close() {
      if (flow.failure === undefined) {
        await new Promise<void>((resolve) => {
          closed = resolve;
          post({ kind: 'close' });
        });
        // What follows is the end we asked for, no failure.
        flow.failure ??= new Error('the analysis is closed');
      }
      await worker.terminate();
    },
  };
}

/** Reads of the log that go on from batch to batch, by the id of the worker's question. */
function logReader(readings: Pick<ReadingStore, 'byReceipt'>): { next(id: number, query: Parameters<ReadingStore['byReceipt']>[0] | undefined): Promise<ReadingBatch | null>; stop(id: number): void } {
  const open = new Map<number, AsyncIterator<ReadingBatch>>();
  return {
    async next(id, query) {
      const reader = query === undefined ? open.get(id) : readings.byReceipt(query)[Symbol.asyncIterator]();
      if (reader === undefined) return null;
      open.set(id, reader);
      const step = await reader.next();
      if (step.done !== true) return step.value;
      open.delete(id);
      return null;
    },
    stop(id) {
      const reader = open.get(id);
      open.delete(id);
      void reader?.return?.();
    },
  };
}
