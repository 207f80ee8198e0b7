import { z } from 'zod';
import type { GeneratorKey } from '../../shared/ids.ts';
import { isoFromMs } from '../../shared/time.ts';
import { auditLineSchema, pageSchema, statusSchema } from './answer-schemas.ts';
import type { LiveStream } from './live-stream.ts';
import { openApi } from './open-api.ts';
import { HttpProblem } from './problem.ts';
import { idText, listQuery, placeOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** What watches the watcher, and the description of all this. `all` is asked late, so that it holds these routes too. */
export function watchRoutes(live: LiveStream, params: ServerParams, all: () => readonly Route[]): Route[] {
  const { records, status } = params;
  return [
    route({
      method: 'get', path: '/status', tag: 'watch', summary: 'How the program itself is doing',
      answer: { status: 200, contentType: 'application/json', schema: statusSchema, says: 'the status' },
      handle: async () => ({ json: await status() }),
    }),
    liveRoute(live),
    route({
      method: 'get', path: '/audit', tag: 'watch', summary: 'Who did what, newest first', query: listQuery,
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(auditLineSchema), says: 'a page of lines' },
      handle: async ({ query }) => {
        const from = placeOf(query.after);
        const lines = await records.auditLines(from + query.limit + 1);
        const items = lines.slice(from, from + query.limit).map(({ atMs, ...line }) => ({ at: isoFromMs(atMs), ...line }));
        return { json: { items, next: lines.length > from + query.limit ? String(from + query.limit) : null } };
      },
    }),
    route({
      method: 'get', path: '/healthz', tag: 'watch', summary: 'Whether the process answers',
      answer: { status: 200, contentType: 'application/json', schema: z.strictObject({ ok: z.literal(true) }), says: 'it does' },
      handle: () => ({ json: { ok: true } }),
    }),
    readyRoute(params),
    route({
      method: 'get', path: '/openapi.json', tag: 'watch', summary: 'This description (OpenAPI 3.1)',
      answer: { status: 200, contentType: 'application/json', schema: z.looseObject({ openapi: z.string() }), says: 'the description' },
      handle: async () => ({ json: openApi(all(), (await status()).version) }),
    }),
  ];
}

function liveRoute(live: LiveStream): Route {
  return route({
    method: 'get', path: '/live', tag: 'watch', summary: 'Server-sent events: status every 2 s, tick, and reading with site and generator', problems: [503],
    query: z.strictObject({ site: idText.optional(), generator: idText.optional() }),
    answer: { status: 200, contentType: 'text/event-stream', schema: z.string(), says: 'events `status` (the status), `tick` ({ at }), `reading` (a list of channel, at, value)' },
    handle: ({ query: { site, generator } }) => {
      if ((site === undefined) !== (generator === undefined)) throw new HttpProblem(400, 'Wrong in the query: site and generator belong together. Give both or neither.');
      live.refuseIfFull();
      return { stream: (request, response) => live.open(response, request, site === undefined ? null : (`${site}/${generator}` as GeneratorKey)) };
    },
  });
}

function readyRoute({ records, status }: ServerParams): Route {
  return route({
    method: 'get', path: '/readyz', tag: 'watch', summary: 'Whether readings are taken and kept; if not, why not', problems: [503],
    answer: { status: 200, contentType: 'application/json', schema: z.strictObject({ ok: z.literal(true) }), says: 'all is well' },
    handle: async () => {
      const now = await status();
      const answers = await records.lastTickMs().then(() => true, () => false);
      const why = [
        ...(answers ? [] : ['the record store does not answer']),
        ...(now.storeWritable ? [] : [`the store cannot be written${now.storeSays ? `: ${now.storeSays}` : ''}`]),
        ...(now.brokerConnected ? [] : [`no connection to the broker: ${now.brokerSays}`]),
      ];
      if (why.length > 0) throw new HttpProblem(503, `Not ready: ${why.join('; ')}.`, { 'retry-after': '5' });
      return { json: { ok: true } };
    },
  });
}
