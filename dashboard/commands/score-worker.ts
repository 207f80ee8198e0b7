import { parentPort } from 'node:worker_threads';
import { runWorld, type WorldJob, type WorldResult } from './score-run.ts';

/* A thread that scores worlds, one after the other, as the main thread hands them over. */
export type FromScoreWorker = { readonly kind: 'on-the-way'; readonly seed: number; readonly ratio: number } | { readonly kind: 'done'; readonly result: WorldResult } | { readonly kind: 'failed'; readonly seed: number; readonly message: string };

const port = parentPort;
if (port === null) throw new Error('Cannot run the score worker as it must be started by the lull program');
const say = (message: FromScoreWorker): void => port.postMessage(message);

port.on('message', (job: WorldJob) => {
  runWorld(job, () => performance.now(), (ratio) => say({ kind: 'on-the-way', seed: job.seed, ratio }))
    .then((result) => say({ kind: 'done', result }))
    .catch((error: unknown) => say({ kind: 'failed', seed: job.seed, message: error instanceof Error ? (error.stack ?? error.message) : String(error) }));
});
