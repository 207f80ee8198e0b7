import type { Cycle, DayRow } from '../cycle.ts';
import type { Finding, RankingReport } from '../finding.ts';
import type { GeneratorKey } from '../ids.ts';
import type { AnalysisResult, Checkpoint, HotState, RecordStore } from './record-store.ts';
import type { GeneratorReview, Verification } from '../review.ts';
import { CHECKPOINTS_KEPT, inOrderOfVisits } from './record-limits.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'saveAnalysis' | 'findings' | 'finding' | 'days' | 'recentDays' | 'cycles' | 'report' | 'checkpointBefore' | 'hotStates' | 'lastTickMs' | 'review' | 'verifications'>;
type Body = { readonly body: string };
type CycleColumns = { generator: GeneratorKey; start_ms: number; run_s: number; rest_s: number; source: Cycle['source']; cut: number; fall: number | null; rise: number | null; start_kpa: number | null; stop_kpa: number | null };

/** What analysis wrote, and the states from which it goes on. */
export function analysisRecords(db: SqliteConnection): Part {
  return {
    saveAnalysis: (result) => db.write(() => saveAnalysis(db, result)),
    findings: (query = {}) =>
      db.read(() => {
        const where: string[] = [];
        const values: (string | number)[] = [];
        if (query.generator !== undefined) {
          where.push('generator = ?');
          values.push(query.generator);
        }
        if (query.open !== undefined) {
          where.push('open = ?');
          values.push(query.open ? 1 : 0);
        }
        const filter = where.length === 0 ? '' : ` WHERE ${where.join(' AND ')}`;
        return bodies<Finding>(db.rows(`SELECT body FROM findings${filter} ORDER BY opened_ms DESC, id LIMIT ?`, ...values, query.limit ?? -1));
      }),
    finding: (id) => db.read(() => bodies<Finding>(db.rows('SELECT body FROM findings WHERE id = ?', id))[0]),
    days: (query) => db.read(() => bodies<DayRow>(db.rows('SELECT body FROM days WHERE generator = ? AND start_ms >= ? AND start_ms < ? ORDER BY start_ms', query.generator, finite(query.fromMs ?? -Infinity), finite(query.toMs ?? Infinity)))),
    recentDays: (days) =>
      db.read(() =>
        bodies<DayRow>(
          db.rows(
            `SELECT day.body FROM (SELECT DISTINCT generator FROM days) one JOIN days day ON day.generator = one.generator
             AND day.start_ms >= (SELECT min(start_ms) FROM (SELECT start_ms FROM days WHERE generator = one.generator ORDER BY start_ms DESC LIMIT ?))
             ORDER BY day.generator, day.start_ms`,
            days,
          ),
        ),
      ),
    cycles: (query) => db.read(() => db.rows<CycleColumns>('SELECT * FROM cycles WHERE generator = ? AND start_ms >= ? AND start_ms < ? ORDER BY start_ms LIMIT ?', query.generator, finite(query.fromMs), finite(query.toMs), query.limit ?? -1).map(cycleOf)),
    report: () => db.read(() => bodies<RankingReport>(db.rows("SELECT body FROM analysis WHERE name = 'report'"))[0]),
    checkpointBefore: (generator, deviceMs) =>
      db.read(() => db.rows<{ frontier_ms: number; tick_ms: number; state: string }>('SELECT frontier_ms, tick_ms, state FROM checkpoints WHERE generator = ? AND frontier_ms < ? ORDER BY frontier_ms DESC LIMIT 1', generator, finite(deviceMs)).map((row): Checkpoint => ({ generator, frontierMs: row.frontier_ms, tickMs: row.tick_ms, state: row.state }))[0]),
    hotStates: () => db.read(() => db.rows<{ generator: GeneratorKey; tick_ms: number; state: string }>('SELECT generator, tick_ms, state FROM hot_states ORDER BY generator').map((row): HotState => ({ generator: row.generator, tickMs: row.tick_ms, state: row.state }))),
    lastTickMs: () => db.read(() => Number(db.rows<Body>("SELECT body FROM analysis WHERE name = 'last-tick-ms'")[0]?.body ?? 0)),
    review: (generator) => db.read(() => bodies<GeneratorReview>(db.rows('SELECT body FROM reviews WHERE generator = ?', generator))[0]),
    verifications: (generator) => db.read(() => bodies<Verification>(db.rows('SELECT body FROM verifications WHERE generator = ?', generator)).sort(inOrderOfVisits)),
  };
}

function saveAnalysis(db: SqliteConnection, result: AnalysisResult): void {
  for (const { generator, fromMs } of result.replaced) {
    db.run('DELETE FROM days WHERE generator = ? AND start_ms >= ?', generator, finite(fromMs));
    db.run('DELETE FROM cycles WHERE generator = ? AND start_ms >= ?', generator, finite(fromMs));
    db.run('DELETE FROM checkpoints WHERE generator = ? AND frontier_ms > ?', generator, finite(fromMs));
  }
  for (const day of result.days) db.run('INSERT INTO days (generator, start_ms, body) VALUES (?, ?, ?) ON CONFLICT (generator, start_ms) DO UPDATE SET body = excluded.body', day.generator, day.startMs, JSON.stringify(day));
  for (const one of result.cycles) {
    db.run('INSERT OR REPLACE INTO cycles VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)', one.generator, one.startMs, one.runS, one.restS, one.source, one.cut ? 1 : 0, one.fallKPaPerMin, one.riseKPaPerMin, one.startKPa, one.stopKPa);
  }
  for (const finding of result.findings) {
    db.run(
      'INSERT INTO findings VALUES (?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET generator = excluded.generator, opened_ms = excluded.opened_ms, open = excluded.open, body = excluded.body',
      finding.id, `${finding.site}/${finding.generator}`, Date.parse(finding.openedAt), finding.closedAt === null ? 1 : 0, JSON.stringify(finding),
    );
  }
  saveStates(db, result);
  for (const one of result.reviews ?? []) db.run('INSERT INTO reviews VALUES (?, ?) ON CONFLICT (generator) DO UPDATE SET body = excluded.body', one.generator, JSON.stringify(one));
  for (const one of result.verifications ?? []) db.run('INSERT INTO verifications VALUES (?, ?, ?, ?) ON CONFLICT (generator, visit, look) DO UPDATE SET body = excluded.body', one.generator, one.visit, one.look, JSON.stringify(one));
  if (result.report !== undefined) saveAnalysisValue(db, 'report', JSON.stringify(result.report));
  saveAnalysisValue(db, 'last-tick-ms', String(result.tickMs));
}

function saveStates(db: SqliteConnection, result: AnalysisResult): void {
  for (const one of result.checkpoints) {
    db.run('INSERT INTO checkpoints (generator, frontier_ms, tick_ms, state) VALUES (?, ?, ?, ?) ON CONFLICT (generator, frontier_ms) DO UPDATE SET tick_ms = excluded.tick_ms, state = excluded.state', one.generator, one.frontierMs, one.tickMs, one.state);
  }
  for (const generator of new Set(result.checkpoints.map((one) => one.generator))) {
    db.run('DELETE FROM checkpoints WHERE generator = ? AND frontier_ms < (SELECT min(frontier_ms) FROM (SELECT frontier_ms FROM checkpoints WHERE generator = ? ORDER BY frontier_ms DESC LIMIT ?))', generator, generator, CHECKPOINTS_KEPT);
  }
  for (const one of result.hotStates) db.run('INSERT INTO hot_states VALUES (?, ?, ?) ON CONFLICT (generator) DO UPDATE SET tick_ms = excluded.tick_ms, state = excluded.state', one.generator, one.tickMs, one.state);
}

function saveAnalysisValue(db: SqliteConnection, name: string, body: string): void {
  db.run('INSERT INTO analysis VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET body = excluded.body', name, body);
}

function cycleOf(row: CycleColumns): Cycle {
  return { generator: row.generator, startMs: row.start_ms, runS: row.run_s, restS: row.rest_s, source: row.source, cut: row.cut === 1, fallKPaPerMin: row.fall, riseKPaPerMin: row.rise, startKPa: row.start_kpa, stopKPa: row.stop_kpa };
}

function bodies<T>(rows: readonly Body[]): T[] {
  return rows.map((row) => JSON.parse(row.body) as T);
}

/** Spans may be open-ended; an infinite number can't be compared with a whole one everywhere. */
function finite(ms: number): number {
  return Math.min(Math.max(ms, -9e15), 9e15);
}
