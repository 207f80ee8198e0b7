import { parentPort, workerData } from 'node:worker_threads';
import { stepWorld, type World } from '../../simulator/world.ts';
import { buffersOf } from './analysis-messages.ts';

/*
 * The thread in which an invented fleet lives through its past, a stretch at a time, while the main thread keeps the
 * stretch before and analysis folds the one before that. It runs at most `AHEAD` stretches ahead.
 */
export type HistoryStart = { readonly world: World; readonly toMs: number; readonly stretchMs: number };
export type FromHistory = { readonly kind: 'stretch'; readonly throughMs: number; readonly batch: ReturnType<typeof stepWorld> } | { readonly kind: 'end'; readonly world: World };

const AHEAD = 3;
const port = parentPort;
if (port === null) throw new Error('Cannot run the history worker as it must be started by the lull program');
const { world, toMs, stretchMs } = workerData as HistoryStart;
let ahead = 0;

function goOn(): void {
  while (ahead < AHEAD && world.nowMs < toMs) {
    const throughMs = Math.min(toMs, world.nowMs + stretchMs);
    const batch = stepWorld(world, throughMs);
    ahead += 1;
    port?.postMessage({ kind: 'stretch', throughMs, batch } satisfies FromHistory, buffersOf(batch));
  }
  if (world.nowMs < toMs) return;
  port?.postMessage({ kind: 'end', world } satisfies FromHistory);
  port?.close();
}

port.on('message', () => {
  ahead -= 1;
  goOn();
});
goOn();
