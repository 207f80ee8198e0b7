import type { QuarantineItem, QuarantineReason } from '../quarantine.ts';
import { DEFAULT_LIMIT, type QuarantineRoom } from './record-limits.ts';
import type { QuarantineQuery, RecordStore } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'quarantine' | 'quarantined' | 'quarantineCounts' | 'markReleased' | 'trimQuarantine'>;
type QuarantineColumns = { id: number; received_ms: number; topic: string; payload: string; reason: QuarantineReason; says: string; generator: string | null; channel: string | null; released_ms: number | null };

/** What arrived and wasn't taken. */
export function quarantineRecords(db: SqliteConnection, room: QuarantineRoom): Part {
  return {
    quarantine: (items) =>
      db.write(() => {
        for (const item of items) {
          db.run('INSERT INTO quarantine (received_ms, topic, payload, payload_bytes, reason, says, generator, channel, released_ms) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)', item.receivedMs, item.topic, item.payload, Buffer.byteLength(item.payload), item.reason, item.says, item.generator, item.channel, item.releasedMs);
        }
      }),
    quarantined: (query = {}) => db.read(() => quarantined(db, query)),
    quarantineCounts: () => db.read(() => db.rows<{ generator: string; reason: QuarantineReason; count: number; last_ms: number }>("SELECT coalesce(generator, '') AS generator, reason, count(*) AS count, max(received_ms) AS last_ms FROM quarantine WHERE released_ms IS NULL GROUP BY 1, 2 ORDER BY 1, 2").map((row) => ({ generator: row.generator, reason: row.reason, count: row.count, lastMs: row.last_ms }))),
    markReleased: (ids, atMs) =>
      db.write(() => {
        for (const id of ids) db.run('UPDATE quarantine SET released_ms = ? WHERE id = ? AND released_ms IS NULL', atMs, id);
      }),
    trimQuarantine: (nowMs) =>
      db.write(() => {
        const aged = db.run('DELETE FROM quarantine WHERE received_ms < ?', nowMs - room.keepMs);
        // Newest first, running total: everything from the first item on that goes over the limit is too much.
        const over = db.run('DELETE FROM quarantine WHERE id IN (SELECT id FROM (SELECT id, sum(payload_bytes) OVER (ORDER BY received_ms DESC, id DESC) AS total FROM quarantine) WHERE total > ?)', room.maxBytes);
        return aged + over;
      }),
  };
}

function quarantined(db: SqliteConnection, query: QuarantineQuery): QuarantineItem[] {
  const where = ['id > ?'];
  const values: (string | number)[] = [query.afterId ?? 0];
  if (query.reason !== undefined) {
    where.push('reason = ?');
    values.push(query.reason);
  }
  if (query.generator !== undefined) {
    where.push("coalesce(generator, '') = ?");
    values.push(query.generator);
  }
  if (query.released !== undefined) where.push(query.released ? 'released_ms IS NOT NULL' : 'released_ms IS NULL');
  const rows = db.rows<QuarantineColumns>(`SELECT id, received_ms, topic, payload, reason, says, generator, channel, released_ms FROM quarantine WHERE ${where.join(' AND ')} ORDER BY id LIMIT ?`, ...values, query.limit ?? DEFAULT_LIMIT);
  return rows.map((row) => ({ id: row.id, receivedMs: row.received_ms, topic: row.topic, payload: row.payload, reason: row.reason, says: row.says, generator: row.generator, channel: row.channel, releasedMs: row.released_ms }));
}
