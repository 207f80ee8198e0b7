import { setTimeout as sleep } from 'node:timers/promises';
import { StoreError } from '../../shared/errors.ts';
import type { Log } from '../../shared/log.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';

const FIRST_PAUSE_MS = 500;
const LONGEST_PAUSE_MS = 10_000;

/**
 * Reads for the analysis that wait for a store that is away: a tick that came in mid-outage would else end the fold.
 * Reading the whole log is not among them, as it happens at the start only, where a failure is told to whoever started it.
 */
export function patientReads(readings: Pick<ReadingStore, 'byDeviceTime' | 'byReceipt'>, log: Log, stopping: AbortSignal): Pick<ReadingStore, 'byDeviceTime' | 'byReceipt'> {
  return {
    byReceipt: (query) => readings.byReceipt(query),
    async byDeviceTime(query) {
      for (let pauseMs = FIRST_PAUSE_MS; ; pauseMs = Math.min(pauseMs * 2, LONGEST_PAUSE_MS)) {
        try {
          return await readings.byDeviceTime(query);
        } catch (error) {
          if (!(error instanceof StoreError) || stopping.aborted) throw error;
          if (pauseMs === FIRST_PAUSE_MS) log.warn(`analysis waits for the store: ${error.message}`);
          await sleep(pauseMs, undefined, { signal: stopping }).catch(() => undefined);
        }
      }
    },
  };
}
