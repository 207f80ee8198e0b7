// Issue: the main job. The memory store is held to the same list as the stores on disk.
import { openMemoryReadings } from '../../../shared/store/memory-readings.ts';
import { readingStoreContract } from './reading-store.contract.ts';

readingStoreContract('memory', async () => {
  const store = openMemoryReadings();
  return { store, clean: () => store.close() };
}, { persistent: false, runs: 300 });
