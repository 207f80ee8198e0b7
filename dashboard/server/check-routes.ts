import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { CheckAnswer } from '../../shared/api.ts';
import { splitGeneratorKey } from '../../shared/ids.ts';
import type { Job } from '../../shared/job.ts';
import type { LeavingCheck } from '../../shared/leaving-check.ts';
import { isoFromMs } from '../../shared/time.ts';
import { checkAnswerSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { ONE_GENERATOR } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** The check before somebody leaves: asked for here, answered in the record store by the analysis. */
export function checkRoutes(fleet: FleetView, { records, clock, onJob }: ServerParams): Route[] {
  return [
    route({
      method: 'post', path: '/checks', tag: 'checks', summary: 'Ask for the check before leaving: the last half hour of readings against what is normal of this generator', body: z.strictObject(ONE_GENERATOR), problems: [404],
      answer: { status: 202, contentType: 'application/json', schema: checkAnswerSchema, says: 'it waits for the analysis; ask for its id until answeredAt is set' },
      handle: async ({ body }) => {
        const { key } = (await knownGenerator(fleet, body.site, body.generator)).registered;
        const nowMs = clock.nowMs();
        // Whoever presses twice gets the answer that is on its way.
        const waiting = (await records.openJobs()).find((job) => job.kind === 'leaving-check' && job.generator === key);
        const job: Job = waiting ?? { id: idOf(key, nowMs), kind: 'leaving-check', generator: key, postedAtMs: nowMs, answeredAtMs: null, answer: null, problem: null };
        if (waiting === undefined) await records.postJob(job);
        onJob?.(nowMs);
        return { json: answerOf(job), status: 202 };
      },
    }),
    route({
      method: 'get', path: '/checks/{id}', tag: 'checks', summary: 'A check that was asked for, with its answer once there is one', params: z.strictObject({ id: z.string().min(1).max(128) }), problems: [404],
      answer: { status: 200, contentType: 'application/json', schema: checkAnswerSchema, says: 'the check' },
      handle: async ({ params: { id } }) => {
        const job = await records.job(id);
        if (job === undefined || job.kind !== 'leaving-check') throw new HttpProblem(404, `No check ${id} was asked for in the last 7 days. POST /api/v1/checks asks for one.`);
        return { json: answerOf(job) };
      },
    }),
  ];
}

function answerOf(job: Job): CheckAnswer {
  const { site, generator } = splitGeneratorKey(job.generator);
  return { id: job.id, site, generator, askedAt: isoFromMs(job.postedAtMs), answeredAt: job.answeredAtMs === null ? null : isoFromMs(job.answeredAtMs), check: job.answer as LeavingCheck | null, problem: job.problem };
}

/** No dice: two askings of one generator at one moment are the same. */
function idOf(key: string, nowMs: number): string {
  return `check-${createHash('sha256').update(`${nowMs} ${key}`).digest('hex').slice(0, 16)}`;
}
