import type { GeneratorKey } from './ids.ts';
import { DAY_MS } from './time.ts';

/** What a page may ask of the analysis beside what it writes by itself. */
export const JOB_KINDS = ['leaving-check'] as const;
export type JobKind = (typeof JOB_KINDS)[number];

/** A question that a page left in the record store; the analysis worker answers it there (design, section 3). Plain JSON. */
export type Job = {
  readonly id: string;
  readonly kind: JobKind;
  readonly generator: GeneratorKey;
  readonly postedAtMs: number;
  /** Set once it is answered: then either `answer` or `problem` says what came of it. */
  readonly answeredAtMs: number | null;
  readonly answer: unknown;
  /** Why there is no answer, for people. */
  readonly problem: string | null;
};

export type JobAnswer = { readonly atMs: number } & ({ readonly answer: unknown } | { readonly problem: string });

/** A job is forgotten this long after it was posted: its answer is about a moment. */
export const JOB_KEPT_MS = 7 * DAY_MS;

/** The job with what came of it. */
export function answeredJob(job: Job, given: JobAnswer): Job {
  return { ...job, answeredAtMs: given.atMs, answer: 'answer' in given ? given.answer : null, problem: 'problem' in given ? given.problem : null };
}
