import type { Notice } from '../notice.ts';
import type { RecordStore } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'saveNotices' | 'notices' | 'noticesSeen'>;

/** The outbox of notices, and what of each finding was looked at. */
export function noticeRecords(db: SqliteConnection): Part {
  return {
    saveNotices: (notices, seen = []) =>
      db.write(() => {
        for (const notice of notices) db.run('INSERT INTO notices (id, made_ms, waiting, body) VALUES (?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET waiting = excluded.waiting, body = excluded.body', notice.id, notice.madeMs, notice.state === 'waiting' ? 1 : 0, JSON.stringify(notice));
        for (const one of seen) db.run('INSERT INTO notices_seen VALUES (?, ?) ON CONFLICT (finding) DO UPDATE SET seen = excluded.seen', one.finding, one.seen);
      }),
    notices: ({ waiting, id, limit } = {}) =>
      db.read(() => {
        if (id !== undefined) return bodies(db.rows('SELECT body FROM notices WHERE id = ?', id));
        if (waiting === true) return bodies(db.rows('SELECT body FROM notices WHERE waiting = 1 ORDER BY made_ms, rowid LIMIT ?', limit ?? -1));
        return bodies(db.rows('SELECT body FROM notices ORDER BY made_ms DESC, rowid DESC LIMIT ?', limit ?? -1));
      }),
    noticesSeen: () => db.read(() => new Map(db.rows<{ finding: string; seen: string }>('SELECT finding, seen FROM notices_seen').map((row) => [row.finding, row.seen]))),
  };
}

function bodies(rows: readonly { readonly body: string }[]): Notice[] {
  return rows.map((row) => JSON.parse(row.body) as Notice);
}
