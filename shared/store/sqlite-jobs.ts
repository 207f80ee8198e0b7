import { answeredJob, type Job, JOB_KEPT_MS } from '../job.ts';
import type { RecordStore } from './record-store.ts';
import type { SqliteConnection } from './sqlite-connection.ts';

type Part = Pick<RecordStore, 'postJob' | 'openJobs' | 'answerJob' | 'job'>;
type Body = { readonly body: string };

/** Questions that pages left for the analysis worker, and its answers. */
export function jobRecords(db: SqliteConnection): Part {
  const jobOf = (id: string): Job | undefined => db.rows<Body>('SELECT body FROM jobs WHERE id = ?', id).map((row) => JSON.parse(row.body) as Job)[0];
  return {
    postJob: (job) =>
      db.write(() => {
        db.run('DELETE FROM jobs WHERE posted_ms < ?', job.postedAtMs - JOB_KEPT_MS);
        db.run('INSERT INTO jobs VALUES (?, ?, ?, ?) ON CONFLICT (id) DO NOTHING', job.id, job.postedAtMs, job.answeredAtMs, JSON.stringify(job));
      }),
    openJobs: () => db.read(() => db.rows<Body>('SELECT body FROM jobs WHERE answered_ms IS NULL ORDER BY posted_ms, id').map((row) => JSON.parse(row.body) as Job)),
    answerJob: (id, given) =>
      db.write(() => {
        const job = jobOf(id);
        if (job === undefined || job.answeredAtMs !== null) return;
        db.run('UPDATE jobs SET answered_ms = ?, body = ? WHERE id = ?', given.atMs, JSON.stringify(answeredJob(job, given)), id);
      }),
    job: (id) => db.read(() => jobOf(id)),
  };
}
