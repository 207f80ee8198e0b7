import type { Clock } from '../shared/time.ts';

/** Stamps receipt: once for each packet, and never earlier than one before, whatever the clock does. */
export type Receipt = { stamp(): number };

/** @param lastMs the newest receipt ever kept, from which a restart goes on. */
export function createReceipt(clock: Clock, lastMs: number): Receipt {
  let last = lastMs;
  return {
    stamp() {
      last = Math.max(last, Math.floor(clock.nowMs()));
      return last;
    },
  };
}
