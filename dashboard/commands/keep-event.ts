import type { LogEvent } from '../../shared/log-event.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';

/** Keep an event of a replayed log in the stores that a fold may go back to; gives it with doubled readings left out. */
export async function keepEvent(event: LogEvent, readings: ReadingStore, records: RecordStore): Promise<LogEvent> {
  if (event.kind === 'readings') return { kind: 'readings', batch: (await readings.append(event.batch)).kept };
  if (event.kind === 'entry') await records.saveEntry(event.entry, event.entry.by ?? 'recording');
  else if (event.kind === 'registry') await records.recordRegistryChange(event.change);
  return event;
}
