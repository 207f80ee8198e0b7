import type { GeneratorKey } from '../ids.ts';
import type { PresenceEvent } from '../log-event.ts';
import type { RecordStore } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'savePresence' | 'presence' | 'presenceSince'>;
type PresenceColumns = { at_ms: number; site: string; gateway: string; online: number; generators: string };

/** Which gateways were there, and when. */
export function presenceRecords(db: SqliteConnection): Part {
  return {
    savePresence: (event) => db.write(() => void db.run('INSERT INTO presence (at_ms, site, gateway, online, generators) VALUES (?, ?, ?, ?, ?)', event.atMs, event.site, event.gateway, event.online ? 1 : 0, JSON.stringify(event.generators))),
    presence: () => db.read(() => db.rows<PresenceColumns>('SELECT * FROM presence WHERE id IN (SELECT (SELECT id FROM presence newest WHERE newest.site = one.site AND newest.gateway = one.gateway ORDER BY at_ms DESC, id DESC LIMIT 1) FROM (SELECT DISTINCT site, gateway FROM presence) one) ORDER BY site, gateway').map(presenceOf)),
    presenceSince: (fromMs) => db.read(() => db.rows<PresenceColumns>('SELECT * FROM presence WHERE at_ms >= ? ORDER BY at_ms, id', fromMs).map(presenceOf)),
  };
}

function presenceOf(row: PresenceColumns): PresenceEvent {
  return { atMs: row.at_ms, site: row.site, gateway: row.gateway, online: row.online === 1, generators: JSON.parse(row.generators) as GeneratorKey[] };
}
