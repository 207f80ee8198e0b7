import type { GeneratorKey } from '../shared/ids.ts';
import type { RecordStore } from '../shared/store/record-store.ts';
import type { GeneratorWatch } from './generator-watch.ts';

/** Days of history up to which a fold that has no checkpoint old enough begins anew; with more it does not go back. */
const MOST_DAYS_ANEW = 30;

export function beginsAnew(watch: GeneratorWatch): boolean {
  return watch.fold.history.length <= MOST_DAYS_ANEW;
}

/** For each generator the device time through which no fold will ask for its readings again: that of its oldest checkpoint. One that may still begin anew is left out. */
export async function doneWith(watches: Iterable<GeneratorWatch>, records: Pick<RecordStore, 'checkpointBefore'>): Promise<ReadonlyMap<GeneratorKey, number>> {
  const throughMs = new Map<GeneratorKey, number>();
  for (const watch of watches) {
    if (beginsAnew(watch)) continue;
    for (let oldest = await records.checkpointBefore(watch.key, Number.MAX_SAFE_INTEGER); oldest !== undefined; oldest = await records.checkpointBefore(watch.key, oldest.frontierMs)) throughMs.set(watch.key, oldest.frontierMs);
  }
  return throughMs;
}
