import type { Log } from '../../shared/log.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import type { Clock } from '../../shared/time.ts';
import { startPublisher } from '../../simulator/publish.ts';
import { worldEntries } from '../../simulator/story-times.ts';
import type { World } from '../../simulator/world.ts';
import { keepWorld } from './demo-world.ts';
import type { House } from './running-house.ts';

/** How often the world is written down, wall ms: what a kill costs is simulated once more at the next start. */
const KEEP_EVERY_MS = 60_000;
/** How often we look whether somebody of the story logs a visit, wall ms. */
const ENTRIES_EVERY_MS = 1000;

/** The invented fleet goes on: its gateways publish over MQTT, and its people log their visits. */
export function startLiveWorld(params: { readonly world: World; readonly house: House; readonly records: RecordStore; readonly folder: string; readonly clock: Clock; readonly timeScale: number; readonly log: Log }): { stop(): Promise<void> } {
  const { world, house, records, folder, clock, log } = params;
  const publisher = startPublisher({ url: house.mqttUrl, world, clock, log, timeScale: params.timeScale });
  let toldMs = world.nowMs;
  const tellEntries = async (): Promise<void> => {
    const nowMs = clock.nowMs();
    const entries = worldEntries(world, toldMs, nowMs);
    toldMs = nowMs;
    for (const entry of entries) {
      await records.saveEntry(entry, entry.by ?? 'demo');
      house.entered(entry);
    }
  };
  const keep = setInterval(() => keepWorld(folder, world), KEEP_EVERY_MS);
  const entries = setInterval(() => void tellEntries().catch((error: unknown) => log.warn('a simulated visit was not logged', { error })), ENTRIES_EVERY_MS);
  return {
    async stop() {
      clearInterval(keep);
      clearInterval(entries);
      try {
        await publisher.stop();
      } finally {
        keepWorld(folder, world);
      }
    },
  };
}
