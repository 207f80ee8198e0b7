/**
 * The schema of the records, as steps that only go forward: step i brings a file from version i to i + 1.
 * A step that was ever released is never changed; a new one is added at the end.
 * Structured values are JSON text in `body`; what is asked for by value has a column of its own. Times are ms since 1970.
 */
export const MIGRATIONS: readonly string[] = [
  `
  CREATE TABLE registry_changes (id INTEGER PRIMARY KEY, recorded_ms INTEGER NOT NULL, body TEXT NOT NULL);
  CREATE INDEX registry_changes_by_time ON registry_changes (recorded_ms);

  CREATE TABLE entries (id TEXT NOT NULL, revision INTEGER NOT NULL, newest INTEGER NOT NULL, generator TEXT NOT NULL, recorded_ms INTEGER NOT NULL, saved_by TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY (id, revision));
  CREATE INDEX entries_by_time ON entries (recorded_ms, id) WHERE newest = 1;

  CREATE TABLE findings (id TEXT PRIMARY KEY, generator TEXT NOT NULL, opened_ms INTEGER NOT NULL, open INTEGER NOT NULL, body TEXT NOT NULL);
  CREATE INDEX findings_by_generator ON findings (generator, opened_ms);
  CREATE INDEX findings_by_time ON findings (open, opened_ms);
  CREATE TABLE finding_actions (id INTEGER PRIMARY KEY, finding TEXT NOT NULL, at_ms INTEGER NOT NULL, body TEXT NOT NULL);
  CREATE INDEX finding_actions_by_finding ON finding_actions (finding, at_ms);
  CREATE INDEX finding_actions_by_time ON finding_actions (at_ms);

  CREATE TABLE days (id INTEGER PRIMARY KEY, generator TEXT NOT NULL, start_ms INTEGER NOT NULL, body TEXT NOT NULL);
  CREATE UNIQUE INDEX days_by_generator ON days (generator, start_ms);
  CREATE TABLE cycles (generator TEXT NOT NULL, start_ms INTEGER NOT NULL, run_s REAL NOT NULL, rest_s REAL NOT NULL, source TEXT NOT NULL, cut INTEGER NOT NULL, fall REAL, rise REAL, start_kpa REAL, stop_kpa REAL, PRIMARY KEY (generator, start_ms)) WITHOUT ROWID;
  CREATE TABLE checkpoints (id INTEGER PRIMARY KEY, generator TEXT NOT NULL, frontier_ms INTEGER NOT NULL, tick_ms INTEGER NOT NULL, state TEXT NOT NULL);
  CREATE UNIQUE INDEX checkpoints_by_generator ON checkpoints (generator, frontier_ms);
  CREATE TABLE hot_states (generator TEXT PRIMARY KEY, tick_ms INTEGER NOT NULL, state TEXT NOT NULL);
  CREATE TABLE analysis (name TEXT PRIMARY KEY, body TEXT NOT NULL);
  CREATE TABLE dirty (generator TEXT PRIMARY KEY, received_ms INTEGER NOT NULL, through_ms INTEGER NOT NULL) WITHOUT ROWID;

  CREATE TABLE quarantine (id INTEGER PRIMARY KEY AUTOINCREMENT, received_ms INTEGER NOT NULL, topic TEXT NOT NULL, payload TEXT NOT NULL, payload_bytes INTEGER NOT NULL, reason TEXT NOT NULL, says TEXT NOT NULL, generator TEXT, channel TEXT, released_ms INTEGER);
  CREATE INDEX quarantine_by_age ON quarantine (received_ms, payload_bytes);
  CREATE INDEX quarantine_waiting ON quarantine (generator, reason, received_ms) WHERE released_ms IS NULL;

  CREATE TABLE presence (id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, site TEXT NOT NULL, gateway TEXT NOT NULL, online INTEGER NOT NULL, generators TEXT NOT NULL);
  CREATE INDEX presence_by_gateway ON presence (site, gateway, at_ms);
  CREATE INDEX presence_by_time ON presence (at_ms);

  CREATE TABLE settings (scope TEXT NOT NULL, name TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (scope, name)) WITHOUT ROWID;
  CREATE TABLE audit (id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, who TEXT NOT NULL, did TEXT NOT NULL, about TEXT NOT NULL);
  `,
  `
  CREATE TABLE visits (id TEXT NOT NULL, revision INTEGER NOT NULL, newest INTEGER NOT NULL, site TEXT NOT NULL, planned_for TEXT, body TEXT NOT NULL, PRIMARY KEY (id, revision));
  CREATE INDEX visits_by_day ON visits (planned_for) WHERE newest = 1;
  CREATE INDEX visits_by_site ON visits (site) WHERE newest = 1;
  `,
  `
  CREATE TABLE reviews (generator TEXT PRIMARY KEY, body TEXT NOT NULL);
  CREATE TABLE verifications (generator TEXT NOT NULL, visit TEXT NOT NULL, look TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY (generator, visit, look));
  CREATE TABLE jobs (id TEXT PRIMARY KEY, posted_ms INTEGER NOT NULL, answered_ms INTEGER, body TEXT NOT NULL);
  CREATE INDEX jobs_open ON jobs (posted_ms, id) WHERE answered_ms IS NULL;
  `,
  `
  CREATE TABLE visit_photos (visit TEXT NOT NULL, id TEXT NOT NULL, generator TEXT NOT NULL, at TEXT NOT NULL, says TEXT NOT NULL, jpeg TEXT NOT NULL, PRIMARY KEY (visit, id));
  CREATE TABLE issued_records (number INTEGER NOT NULL, revision INTEGER NOT NULL, subject TEXT NOT NULL, site TEXT NOT NULL, body TEXT NOT NULL, html TEXT NOT NULL, csv TEXT NOT NULL, PRIMARY KEY (number, revision));
  CREATE INDEX issued_records_by_subject ON issued_records (subject);
  CREATE TRIGGER issued_records_stay BEFORE UPDATE ON issued_records BEGIN SELECT RAISE(ABORT, 'an issued record is never changed'); END;
  CREATE TRIGGER issued_records_remain BEFORE DELETE ON issued_records BEGIN SELECT RAISE(ABORT, 'an issued record is never removed'); END;
  `,
  `
  CREATE TABLE notices (id TEXT PRIMARY KEY, made_ms INTEGER NOT NULL, waiting INTEGER NOT NULL, body TEXT NOT NULL);
  CREATE INDEX notices_by_time ON notices (made_ms);
  CREATE INDEX notices_waiting ON notices (made_ms) WHERE waiting = 1;
  CREATE TABLE notices_seen (finding TEXT PRIMARY KEY, seen TEXT NOT NULL) WITHOUT ROWID;
  `,
];
