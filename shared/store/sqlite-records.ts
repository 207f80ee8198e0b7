import { QUARANTINE_ROOM, type QuarantineRoom } from './record-limits.ts';
import type { RecordStore } from './record-store.ts';
import { analysisRecords } from './sqlite-analysis.ts';
import { BUSY_TIMEOUT_MS, openConnection } from './sqlite-connection.ts';
import { dirtyRecords } from './sqlite-dirty.ts';
import { jobRecords } from './sqlite-jobs.ts';
import { noticeRecords } from './sqlite-notices.ts';
import { peopleRecords } from './sqlite-people.ts';
import { presenceRecords } from './sqlite-presence.ts';
import { quarantineRecords } from './sqlite-quarantine.ts';
import { issuedRecords } from './sqlite-issued.ts';
import { visitRecords } from './sqlite-visits.ts';

/**
 * Records in one SQLite file (WAL, synchronous FULL: on disk when a call resolves). A second connection,
 * such as the analysis worker's, opens the same file; writers wait for each other.
 *
 * @throws {StoreError} if the file can't be opened, or was written by a newer Lull.
 */
export async function openSqliteRecords(settings: { readonly file: string; readonly quarantineRoom?: QuarantineRoom; readonly busyTimeoutMs?: number }): Promise<RecordStore> {
  const db = openConnection(settings.file, settings.busyTimeoutMs ?? BUSY_TIMEOUT_MS);
  return {
    ...peopleRecords(db),
    ...analysisRecords(db),
    ...dirtyRecords(db),
    ...jobRecords(db),
    ...quarantineRecords(db, settings.quarantineRoom ?? QUARANTINE_ROOM),
    ...presenceRecords(db),
    ...noticeRecords(db),
    ...visitRecords(db),
    ...issuedRecords(db),
    sizeBytes: () => db.read(() => db.sizeBytes()),
    async close() {
      db.close();
    },
  };
}
