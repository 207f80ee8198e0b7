import type { IssuedRecord, RecordDocument, VisitPhoto } from '../issued-record.ts';
import { DEFAULT_LIMIT } from './record-limits.ts';
import type { RecordStore } from './record-store.ts';

type Part = Pick<RecordStore, 'savePhoto' | 'photos' | 'photo' | 'issueRecord' | 'records' | 'recordDocument'>;

/** What was given out, and the photos of visits, in memory. `guarded` refuses once the store is closed. */
export function issuedRecords(guarded: <T>(work: () => T) => Promise<T>): Part {
  const photos = new Map<string, VisitPhoto>();
  const issued = new Map<string, { readonly record: IssuedRecord; readonly document: RecordDocument }>();
  return {
    savePhoto: (photo) => guarded(() => void (photos.has(`${photo.visit} ${photo.id}`) || photos.set(`${photo.visit} ${photo.id}`, photo))),
    photos: (visit) => guarded(() => [...photos.values()].filter((photo) => photo.visit === visit).map(({ visit, id, generator, at, says }) => ({ visit, id, generator, at, says })).sort((a, b) => (`${a.at} ${a.id}` < `${b.at} ${b.id}` ? -1 : 1))),
    photo: (visit, id) => guarded(() => photos.get(`${visit} ${id}`)),
    issueRecord: (record, document) =>
      guarded(() => {
        const place = `${record.number} ${record.revision}`;
        if (issued.has(place)) return false;
        issued.set(place, { record, document });
        return true;
      }),
    records: (query = {}) =>
      guarded(() =>
        [...issued.values()]
          .map(({ record }) => record)
          .filter((one) => (query.site === undefined || one.site === query.site) && (query.generator === undefined || one.generators.includes(query.generator)) && (query.subject === undefined || one.subject === query.subject) && (query.number === undefined || one.number === query.number))
          .sort((a, b) => b.number - a.number || b.revision - a.revision)
          .slice(0, query.limit ?? DEFAULT_LIMIT),
      ),
    recordDocument: (number, revision) => guarded(() => issued.get(`${number} ${revision}`)?.document),
  };
}
