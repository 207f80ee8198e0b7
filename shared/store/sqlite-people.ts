import type { Entry } from '../entry.ts';
import type { FindingAction } from '../finding.ts';
import type { RegistryChange } from '../registry.ts';
import type { AuditLine, RecordStore } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'registryChanges' | 'recordRegistryChange' | 'saveEntry' | 'entries' | 'recordAction' | 'actions' | 'savedSettings' | 'saveSetting' | 'audit' | 'auditLines'>;
type Body = { readonly body: string };

/** What people wrote: the registry, entries, actions on findings, settled questions, and who did what. */
export function peopleRecords(db: SqliteConnection): Part {
  return {
    registryChanges: (sinceRecordedMs = 0) => db.read(() => bodies<RegistryChange>(db.rows('SELECT body FROM registry_changes WHERE recorded_ms >= ? ORDER BY recorded_ms, id', sinceRecordedMs))),
    recordRegistryChange: (change) => db.write(() => void db.run('INSERT INTO registry_changes (recorded_ms, body) VALUES (?, ?)', change.recordedAtMs, JSON.stringify(change))),
    saveEntry: (entry, by) => db.write(() => saveEntry(db, entry, by)),
    entries: (query = {}) =>
      db.read(() => {
        const [where, values] = query.generator === undefined ? ['', []] : [' AND generator = ?', [query.generator]];
        return bodies<Entry>(db.rows(`SELECT body FROM entries WHERE newest = 1 AND recorded_ms >= ?${where} ORDER BY recorded_ms, id`, query.recordedFromMs ?? 0, ...values));
      }),
    recordAction: (action) => db.write(() => void db.run('INSERT INTO finding_actions (finding, at_ms, body) VALUES (?, ?, ?)', action.finding, action.atMs, JSON.stringify(action))),
    actions: (query = {}) =>
      db.read(() => {
        const [where, values] = query.finding === undefined ? ['', []] : [' AND finding = ?', [query.finding]];
        return bodies<FindingAction>(db.rows(`SELECT body FROM finding_actions WHERE at_ms >= ?${where} ORDER BY at_ms, id`, query.fromMs ?? 0, ...values));
      }),
    savedSettings: (scope) => db.read(() => new Map(db.rows<{ name: string; value: string }>('SELECT name, value FROM settings WHERE scope = ? ORDER BY name', scope).map((row) => [row.name, row.value]))),
    saveSetting: (scope, name, value) => db.write(() => void db.run('INSERT INTO settings VALUES (?, ?, ?) ON CONFLICT (scope, name) DO UPDATE SET value = excluded.value', scope, name, value)),
    audit: (line) => db.write(() => void db.run('INSERT INTO audit (at_ms, who, did, about) VALUES (?, ?, ?, ?)', line.atMs, line.by, line.did, line.about)),
    auditLines: (limit = 200) => db.read(() => db.rows<{ at_ms: number; who: string; did: string; about: string }>('SELECT at_ms, who, did, about FROM audit ORDER BY id DESC LIMIT ?', limit).map((row): AuditLine => ({ atMs: row.at_ms, by: row.who, did: row.did, about: row.about }))),
  };
}

/** A revision for every change; saving the same again changes nothing. */
function saveEntry(db: SqliteConnection, entry: Entry, by: string): void {
  const body = JSON.stringify(entry);
  const [newest] = db.rows<{ revision: number; body: string }>('SELECT revision, body FROM entries WHERE id = ? AND newest = 1', entry.id);
  if (newest?.body === body) return;
  db.run('UPDATE entries SET newest = 0 WHERE id = ? AND newest = 1', entry.id);
  db.run('INSERT INTO entries (id, revision, newest, generator, recorded_ms, saved_by, body) VALUES (?, ?, 1, ?, ?, ?, ?)', entry.id, (newest?.revision ?? 0) + 1, `${entry.site}/${entry.generator}`, Date.parse(entry.recordedAt), by, body);
}

function bodies<T>(rows: readonly Body[]): T[] {
  return rows.map((row) => JSON.parse(row.body) as T);
}
