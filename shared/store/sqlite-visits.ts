import type { Visit } from '../visit.ts';
import type { RecordStore, VisitQuery, VisitSaved } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';
import { byPlan, isVisitAsked, nextRevision } from './visit-order.ts';

type Part = Pick<RecordStore, 'saveVisit' | 'visits' | 'visit' | 'visitRevisions'>;
type Body = { readonly body: string };

/** Visits as planned, carried out and recorded; every save is a row of its own, none is ever changed. */
export function visitRecords(db: SqliteConnection): Part {
  return {
    saveVisit: (visit) => db.write(() => saveVisit(db, visit)),
    visits: (query = {}) => db.read(() => asked(db, query).sort(byPlan)),
    visit: (id) => db.read(() => newestOf(db, id)),
    visitRevisions: (id) => db.read(() => bodies(db.rows('SELECT body FROM visits WHERE id = ? ORDER BY revision', id))),
  };
}

function saveVisit(db: SqliteConnection, visit: Visit): VisitSaved {
  const next = nextRevision(newestOf(db, visit.id), visit);
  if (!('keep' in next)) return next;
  const { keep } = next;
  db.run('UPDATE visits SET newest = 0 WHERE id = ? AND newest = 1', keep.id);
  db.run('INSERT INTO visits (id, revision, newest, site, planned_for, body) VALUES (?, ?, 1, ?, ?, ?)', keep.id, keep.revision, keep.site, keep.plannedFor, JSON.stringify(keep));
  return { saved: keep };
}

function newestOf(db: SqliteConnection, id: string): Visit | undefined {
  return bodies(db.rows('SELECT body FROM visits WHERE id = ? AND newest = 1', id))[0];
}

/** The days narrow it down by index; the rest is asked of the few that are left. */
function asked(db: SqliteConnection, query: VisitQuery): Visit[] {
  const rows =
    query.fromDay === undefined && query.toDay === undefined
      ? query.site === undefined
        ? db.rows<Body>('SELECT body FROM visits WHERE newest = 1')
        : db.rows<Body>('SELECT body FROM visits WHERE newest = 1 AND site = ?', query.site)
      : db.rows<Body>('SELECT body FROM visits WHERE newest = 1 AND planned_for BETWEEN ? AND ?', query.fromDay ?? '', query.toDay ?? '9999');
  return bodies(rows).filter((visit) => isVisitAsked(visit, query));
}

function bodies(rows: readonly Body[]): Visit[] {
  return rows.map((row) => JSON.parse(row.body) as Visit);
}
