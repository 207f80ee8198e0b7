import { parentPort, workerData } from 'node:worker_threads';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import type { ReplayResult } from '../../shared/world-replay.ts';
import type { ReplaySource } from './replay-input.ts';
import { replayInput, type ReplayTold, type WorldReplayJob } from './world-replay.ts';

/* The thread in which one input is written down, decoded and folded; it ends with its answer, and is ended by whoever cancels. */
export type FromReplayWorker = ({ readonly kind: 'on-the-way' } & ReplayTold) | { readonly kind: 'next' } | { readonly kind: 'done'; readonly result: ReplayResult } | { readonly kind: 'failed'; readonly message: string };
/** The next batch of a stretch of history; null after the last one. */
export type ToReplayWorker = { readonly batch: ReadingBatch | null };

const port = parentPort;
if (port === null) throw new Error('Cannot run the replay worker as it must be started by the lull program');
const say = (message: FromReplayWorker): void => port.postMessage(message);

let wanted: ((batch: ReadingBatch | null) => void) | undefined;
port.on('message', ({ batch }: ToReplayWorker) => wanted?.(batch));
const source: ReplaySource = {
  next: () => new Promise((resolve) => {
    wanted = resolve;
    say({ kind: 'next' });
  }),
};

replayInput(workerData as WorldReplayJob, source, (told) => say({ kind: 'on-the-way', ...told }))
  .then((result) => say({ kind: 'done', result }))
  .catch((error: unknown) => say({ kind: 'failed', message: error instanceof Error ? (error.stack ?? error.message) : String(error) }));
