import { parentPort, workerData } from 'node:worker_threads';
import { type Analysis, openAnalysis } from '../../analysis/analysis.ts';
import { answerJobs } from '../../analysis/answer-jobs.ts';
import type { Log } from '../../shared/log.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import { type FromWorker, type ToWorker, weightOf, type WorkerStart } from './analysis-messages.ts';
import { openRecords } from './stores.ts';

/*
 * The thread in which analysis folds the log, so that a long fold stops neither ingest nor the pages.
 * Messages are worked through one after the other, in the order in which they were sent.
 */
const port = parentPort;
if (port === null) throw new Error('Cannot run the analysis worker as it must be started by the lull program');
const say = (message: FromWorker): void => port.postMessage(message);

const log: Log = {
  info: (message, fields = {}) => say({ kind: 'log', level: 'info', message, fields: sendable(fields) }),
  warn: (message, fields = {}) => say({ kind: 'log', level: 'warn', message, fields: sendable(fields) }),
  error: (message, fields = {}) => say({ kind: 'log', level: 'error', message, fields: sendable(fields) }),
};

/** Fields may hold what can't be sent between threads; such a value is sent as its text. */
function sendable(fields: Readonly<Record<string, unknown>>): Record<string, unknown> {
  return Object.fromEntries(Object.entries(fields).map(([name, value]) => [name, value instanceof Error ? value.message : typeof value === 'function' || typeof value === 'symbol' ? String(value) : value]));
}

/** Questions to the main thread that wait for their answer. */
const waiting = new Map<number, { readonly resolve: (batch: ReadingBatch | null) => void; readonly reject: (error: Error) => void }>();
let lastId = 0;

function ask(message: Extract<FromWorker, { kind: 'read' | 'read-log' }>): Promise<ReadingBatch | null> {
  return new Promise((resolve, reject) => {
    waiting.set(message.id, { resolve, reject });
    say(message);
  });
}

const readings: Pick<ReadingStore, 'byDeviceTime' | 'byReceipt'> = {
  async byDeviceTime(query) {
    const batch = await ask({ kind: 'read', id: (lastId += 1), query });
    if (batch === null) throw new Error('the main thread gave no readings');
    return batch;
  },
  async *byReceipt(query) {
    const id = (lastId += 1);
    let finished = false;
    try {
      for (let batch = await ask({ kind: 'read-log', id, query }); batch !== null; batch = await ask({ kind: 'read-log', id })) yield batch;
      finished = true;
    } finally {
      if (!finished) say({ kind: 'stop-log', id });
    }
  },
};

const start = workerData as WorkerStart;
const records = await openRecords(start.recordsFile);
let analysis: Analysis | undefined;

/** Jobs are answered from the stores, one round after the other, and don't wait for the fold. */
let jobs: Promise<void> = Promise.resolve();
function lookForJobs(nowMs: number): void {
  jobs = jobs.then(() => answerJobs({ records, readings, log }, nowMs)).then(() => undefined, (error: unknown) => log.warn('jobs could not be read; they wait for the next tick', { error }));
}

async function carryOut(message: Exclude<ToWorker, { kind: 'answer' | 'jobs' }>): Promise<void> {
  if (analysis === undefined) return;
  if (message.kind === 'event') {
    const weight = weightOf(message.event);
    await analysis.feed(message.event);
    say({ kind: 'taken', weight });
  } else if (message.kind === 'close') {
    await analysis.save();
    await jobs;
    await records.close();
    say({ kind: 'closed' });
    port?.close();
  } else {
    if (message.kind === 'advance') {
      await analysis.advanceTo(message.receivedMs);
      // One that another process left is found here.
      lookForJobs(message.receivedMs);
    }
    if (message.kind === 'save') await analysis.save();
    say({ kind: 'done', id: message.id, lastTickMs: analysis.lastTickMs(), report: analysis.report() });
  }
}

function fail(error: unknown): void {
  const known = error instanceof Error ? error : new Error(String(error));
  say({ kind: 'failed', message: known.message, stack: [known.stack, known.cause instanceof Error ? known.cause.stack : ''].join('\n') });
}

async function open(): Promise<void> {
  analysis = await openAnalysis({ records, readings, settings: start.settings, log });
  say({ kind: 'ready', lastTickMs: analysis.lastTickMs(), report: analysis.report() });
}

let chain: Promise<void> = Promise.resolve();
let broken = false;
port.on('message', (message: ToWorker) => {
  if (message.kind === 'answer') {
    const asked = waiting.get(message.id);
    waiting.delete(message.id);
    if (message.error === undefined) asked?.resolve(message.batch);
    else asked?.reject(new Error(message.error));
    return;
  }
  if (message.kind === 'jobs') return lookForJobs(message.nowMs);
  chain = chain
    .then(() => (broken ? undefined : carryOut(message)))
    .catch((error: unknown) => {
      broken = true;
      fail(error);
    });
});

// After a failure nothing more is folded: the log in the store is whole, and the next start goes on from the last save.
chain = open().catch((error: unknown) => {
  broken = true;
  fail(error);
});

