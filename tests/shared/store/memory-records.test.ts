// Issue: the main job. The memory store is held to the same list as the stores on disk.
import { openMemoryRecords } from '../../../shared/store/memory-records.ts';
import { recordStoreContract } from './record-store.contract.ts';

recordStoreContract('memory', async (quarantineRoom) => {
  const store = openMemoryRecords({ quarantineRoom });
  return { store, clean: () => store.close() };
}, { persistent: false });
