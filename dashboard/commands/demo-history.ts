import { Worker } from 'node:worker_threads';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { DAY_MS, TICK_MS } from '../../shared/time.ts';
import type { World } from '../../simulator/world.ts';
import type { FromHistory, HistoryStart } from './history-worker.ts';
import type { Foundation } from './running-house.ts';

/** How much is simulated, kept and folded at once: enough for the three to work side by side, little enough to see it move. */
const STRETCH_MS = DAY_MS / 2;

export type HistoryResult = { readonly world: World; readonly readings: number };

/**
 * Bring an invented past into the stores the way an import does: a worker simulates, the main thread keeps, analysis
 * folds in its own worker; each works on another stretch.
 *
 * @param told how far it is, 0..1, and how many readings are kept.
 * @throws what the stop signal gives if it is aborted on the way.
 */
export async function bringHistory(params: { readonly world: World; readonly toMs: number; readonly foundation: Foundation; readonly stopping: AbortSignal; told(ratio: number, readings: number): void }): Promise<HistoryResult> {
  const { foundation, toMs, stopping } = params;
  const { link, readings } = foundation;
  const fromMs = params.world.nowMs;
  const start: HistoryStart = { world: params.world, toMs, stretchMs: STRETCH_MS };
  const worker = new Worker(new URL('./history-worker.js', import.meta.url), { workerData: start });
  const messages = queueOf<FromHistory>(worker);
  let kept = 0;
  let receivedMs = await readings.lastReceivedMs();
  try {
    for (;;) {
      const message = await messages.next();
      stopping.throwIfAborted();
      if (message.kind === 'end') {
        await link.advanceTo(Math.floor(toMs / TICK_MS) * TICK_MS);
        await link.save();
        return { world: message.world, readings: kept };
      }
      worker.postMessage('more');
      if (message.batch.atMs.length > 0) {
        const batch = notBefore(message.batch, receivedMs);
        receivedMs = batch.receivedMs.at(-1) ?? receivedMs;
        const result = await readings.append(batch);
        kept += result.kept.atMs.length;
        await link.room();
        if (result.kept.atMs.length > 0) link.feed({ kind: 'readings', batch: result.kept }, true);
      }
      params.told((message.throughMs - fromMs) / Math.max(1, toMs - fromMs), kept);
    }
  } finally {
    await worker.terminate();
  }
}

/** Receipt never falls: after a kill the world is a little behind what was kept, and simulates that stretch once more. */
function notBefore(batch: ReadingBatch, receivedMs: number): ReadingBatch {
  if ((batch.receivedMs[0] ?? Infinity) >= receivedMs) return batch;
  return { ...batch, receivedMs: batch.receivedMs.map((one) => Math.max(one, receivedMs)) };
}

/** Messages of a worker one by one; a failure of the worker is thrown to who waits. */
function queueOf<T>(worker: Worker): { next(): Promise<T> } {
  const waiting: T[] = [];
  let failure: Error | undefined;
  let wake: () => void = () => undefined;
  worker.on('message', (message: T) => {
    waiting.push(message);
    wake();
  });
  worker.on('error', (error) => {
    failure = error instanceof Error ? error : new Error(String(error));
    wake();
  });
  worker.on('exit', () => {
    failure ??= new Error('the simulation ended before its time');
    wake();
  });
  return {
    async next() {
      for (;;) {
        const message = waiting.shift();
        if (message !== undefined) return message;
        if (failure !== undefined) throw failure;
        await new Promise<void>((resolve) => {
          wake = resolve;
        });
      }
    },
  };
}
