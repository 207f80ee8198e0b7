import type { Analysis } from '../../analysis/analysis.ts';
import type { MemoryReadings } from '../../shared/store/memory-readings.ts';

/** Less than this isn't worth a look, bytes. */
const FROM_BYTES = 16e6;
/** Looked at again when what was left has grown by so much: each reading is then moved about twice in its life. */
const AT_GROWTH = 1.5;

/**
 * Keeps the memory of a fold flat whatever the length of its history: to be called now and then, it forgets the readings that
 * the fold will not go back to. What comes late but within the kept checkpoints is folded as if nothing had been forgotten.
 */
export function forgetsReadings(readings: MemoryReadings, analysis: Analysis): () => Promise<void> {
  let atBytes = FROM_BYTES;
  return async () => {
    if ((await readings.sizeBytes()) < atBytes) return;
    readings.forget(await analysis.doneWith());
    atBytes = Math.max(FROM_BYTES, AT_GROWTH * (await readings.sizeBytes()));
  };
}
