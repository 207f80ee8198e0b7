import type { IssuedRecord, RecordDocument, VisitPhoto, VisitPhotoRow } from '../issued-record.ts';
import { DEFAULT_LIMIT } from './record-limits.ts';
import type { RecordQuery, RecordStore } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'savePhoto' | 'photos' | 'photo' | 'issueRecord' | 'records' | 'recordDocument'>;

/** What was given out, which the schema itself keeps from being changed, and the photos of visits. */
export function issuedRecords(db: SqliteConnection): Part {
  return {
    savePhoto: (photo) => db.write(() => void db.run('INSERT INTO visit_photos VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING', photo.visit, photo.id, photo.generator, photo.at, photo.says, photo.jpegBase64)),
    photos: (visit) => db.read(() => db.rows<VisitPhotoRow>('SELECT visit, id, generator, at, says FROM visit_photos WHERE visit = ? ORDER BY at, id', visit)),
    photo: (visit, id) => db.read(() => db.rows<VisitPhoto>('SELECT visit, id, generator, at, says, jpeg AS jpegBase64 FROM visit_photos WHERE visit = ? AND id = ?', visit, id)[0]),
    issueRecord: (record, document) =>
      db.write(() => {
        if (db.rows('SELECT 1 AS taken FROM issued_records WHERE number = ? AND revision = ?', record.number, record.revision).length > 0) return false;
        db.run('INSERT INTO issued_records (number, revision, subject, site, body, html, csv) VALUES (?, ?, ?, ?, ?, ?, ?)', record.number, record.revision, record.subject, record.site, JSON.stringify(record), document.html, document.csv);
        return true;
      }),
    records: (query = {}) => db.read(() => recordsAsked(db, query)),
    recordDocument: (number, revision) => db.read(() => db.rows<RecordDocument>('SELECT html, csv FROM issued_records WHERE number = ? AND revision = ?', number, revision)[0]),
  };
}

function recordsAsked(db: SqliteConnection, query: RecordQuery): IssuedRecord[] {
  const asked = ([['number', query.number], ['subject', query.subject], ['site', query.site]] as const).filter(([, value]) => value !== undefined);
  const where = asked.length === 0 ? '' : ` WHERE ${asked.map(([name]) => `${name} = ?`).join(' AND ')}`;
  const rows = db.rows<{ body: string }>(`SELECT body FROM issued_records${where} ORDER BY number DESC, revision DESC`, ...asked.map(([, value]) => value as string | number));
  const records = rows.map((row) => JSON.parse(row.body) as IssuedRecord);
  return records.filter((record) => query.generator === undefined || record.generators.includes(query.generator)).slice(0, query.limit ?? DEFAULT_LIMIT);
}
