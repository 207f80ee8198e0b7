import { parentPort, workerData } from 'node:worker_threads';
import type { ReplayResult } from '../../shared/world-replay.ts';
import { replayWorld, type WorldReplayJob } from './world-replay.ts';

/* The thread in which one invented world is lived through and folded; it ends with its answer, and is ended by whoever cancels. */
export type FromReplayWorker = { readonly kind: 'on-the-way'; readonly ratio: number } | { readonly kind: 'done'; readonly result: ReplayResult } | { readonly kind: 'failed'; readonly message: string };

const port = parentPort;
if (port === null) throw new Error('Cannot run the replay worker as it must be started by the lull program');
const say = (message: FromReplayWorker): void => port.postMessage(message);

replayWorld(workerData as WorldReplayJob, (ratio) => say({ kind: 'on-the-way', ratio }))
  .then((result) => say({ kind: 'done', result }))
  .catch((error: unknown) => say({ kind: 'failed', message: error instanceof Error ? (error.stack ?? error.message) : String(error) }));
