import { z } from 'zod';
import type { Page, ReadingsAnswer } from '../../shared/api.ts';
import type { Channel } from '../../shared/channels.ts';
import { channelRule } from '../../shared/channels.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import { cycleSchema, dayRowSchema, pageSchema, readingsSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator, labelOf } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { channelText, msOf, ONE_GENERATOR, PAGING, placeOf, SPAN } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

const history = z.strictObject({ ...ONE_GENERATOR, ...SPAN, ...PAGING });

/** What a generator did: raw readings drawn as columns, its cycles, its days. */
export function historyRoutes(fleet: FleetView, { readings, records, clock }: ServerParams): Route[] {
  return [
    route({
      method: 'get', path: '/readings', tag: 'history', summary: 'One channel of a generator as columns; gaps are left out, never filled', problems: [404],
      query: z.strictObject({ ...ONE_GENERATOR, channel: channelText, ...SPAN, buckets: z.coerce.number().int().min(1).max(2000).default(500) }),
      answer: { status: 200, contentType: 'application/json', schema: readingsSchema, says: 'min, mean and max of each span; the last 24 h unless from and to are given' },
      handle: async ({ query: { site, generator, buckets, ...query } }) => {
        const { registered } = await knownGenerator(fleet, site, generator);
        const channel = query.channel as Channel;
        const toMs = msOf(query.to, clock.nowMs());
        const fromMs = spanStart(query.from, toMs, DAY_MS);
        const columns = await readings.buckets({ generator: registered.key, channel, fromMs, toMs, buckets });
        const answer: ReadingsAnswer = {
          site, generator, channel, unit: channelRule(channel).keptUnit, label: labelOf(channel), fromAt: isoFromMs(fromMs), toAt: isoFromMs(toMs), bucketMs: (toMs - fromMs) / buckets,
          points: columns.map((column) => [column.fromMs, column.min, column.mean, column.max]),
        };
        return { json: answer };
      },
    }),
    route({
      method: 'get', path: '/cycles', tag: 'history', summary: 'Runs and the rests after them, in order of time; the last 7 days unless from and to are given', query: history, problems: [404],
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(cycleSchema), says: 'a page of cycles' },
      handle: async ({ query }) => {
        const { registered } = await knownGenerator(fleet, query.site, query.generator);
        const toMs = msOf(query.to, clock.nowMs());
        const fromMs = Math.max(spanStart(query.from, toMs, 7 * DAY_MS), query.after === undefined ? 0 : placeOf(query.after) + 1);
        return { json: pageByStart(await records.cycles({ generator: registered.key, fromMs, toMs, limit: query.limit + 1 }), query.limit) };
      },
    }),
    route({
      method: 'get', path: '/days', tag: 'history', summary: "Days of the site's calendar, in order of time; the last 400 unless from and to are given", query: history, problems: [404],
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(dayRowSchema), says: 'a page of days' },
      handle: async ({ query }) => {
        const { registered } = await knownGenerator(fleet, query.site, query.generator);
        const toMs = msOf(query.to, clock.nowMs() + DAY_MS);
        const fromMs = Math.max(spanStart(query.from, toMs, 401 * DAY_MS), query.after === undefined ? 0 : placeOf(query.after) + 1);
        return { json: pageByStart(await records.days({ generator: registered.key, fromMs, toMs }), query.limit) };
      },
    }),
  ];
}

/** @throws {HttpProblem} 400 when the span is empty. */
function spanStart(from: string | undefined, toMs: number, lengthMs: number): number {
  const fromMs = msOf(from, toMs - lengthMs);
  if (fromMs >= toMs) throw new HttpProblem(400, `Wrong in the query: from must be before to, but from is ${isoFromMs(fromMs)} and to is ${isoFromMs(toMs)}.`);
  return fromMs;
}

function pageByStart<T extends { readonly startMs: number }>(rows: readonly T[], limit: number): Page<T> {
  const items = rows.slice(0, limit);
  return { items, next: rows.length > limit ? String(items.at(-1)?.startMs ?? 0) : null };
}
