import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { VisitPosted } from '../../shared/api.ts';
import { type Entry, entrySchema } from '../../shared/entry.ts';
import { isoFromMs } from '../../shared/time.ts';
import { entryAnswerSchema, pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { byText, idText, PAGING, pageOf } from './query-schemas.ts';
import { parsed, type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** The entry's own shape; what spans several fields is checked by `entrySchema` when the id is there. */
const visitBody = z.strictObject({ ...entrySchema.in.shape, id: z.string().min(1).max(64).optional().describe('given when left out; a known id is a correction of that entry'), by: byText });

/** Visits and other entries of people. */
export function visitRoutes(fleet: FleetView, params: ServerParams, changed: () => void): Route[] {
  return [
    route({
      method: 'get', path: '/visits', tag: 'visits', summary: 'What people logged, newest first', problems: [404],
      query: z.strictObject({ site: idText.optional(), generator: idText.optional(), ...PAGING }),
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(entryAnswerSchema), says: 'a page of entries' },
      handle: async ({ query: { site, generator, ...paging } }) => {
        if (site !== undefined && generator !== undefined) await knownGenerator(fleet, site, generator);
        const entries = (await params.records.entries()).filter((one) => (site === undefined || one.site === site) && (generator === undefined || one.generator === generator));
        return { json: pageOf([...entries].sort((a, b) => Date.parse(b.startedAt) - Date.parse(a.startedAt)), paging) };
      },
    }),
    route({
      method: 'post', path: '/visits', tag: 'visits', summary: 'Log a visit or another entry; it acts on the analysis from now on, so recordedAt is always the time of receipt', body: visitBody, problems: [404, 409],
      answer: { status: 201, contentType: 'application/json', schema: z.strictObject({ entry: entryAnswerSchema }), says: 'the entry as it was kept' },
      handle: async ({ body }) => {
        await knownGenerator(fleet, body.site, body.generator);
        const nowMs = params.clock.nowMs();
        const entry = parsed(entrySchema, { ...body, id: body.id ?? idOf(body, nowMs), recordedAt: isoFromMs(nowMs) }, 'body');
        const corrected = body.id !== undefined && (await refuseForeign(params.records, entry));
        await params.records.saveEntry(entry, body.by);
        await params.records.audit({ atMs: nowMs, by: body.by, did: `${corrected ? 'corrected' : 'logged'} ${entry.kind}`, about: `${entry.site}/${entry.generator} ${entry.id}` });
        params.onEntry(entry);
        changed();
        return { json: { entry } satisfies VisitPosted, status: 201 };
      },
    }),
  ];
}

/** Whether the id is known. @throws {HttpProblem} 409 when it belongs to another generator. */
async function refuseForeign(records: ServerParams['records'], entry: Entry): Promise<boolean> {
  const known = (await records.entries()).find((one) => one.id === entry.id);
  if (known !== undefined && (known.site !== entry.site || known.generator !== entry.generator)) throw new HttpProblem(409, `The id ${entry.id} belongs to an entry of ${known.site}/${known.generator}. Leave the id out, and one is given.`);
  return known !== undefined;
}

/** An id that the same entry, posted at another time, doesn't share. No dice: it comes from the content. */
function idOf(body: unknown, nowMs: number): string {
  return `visit-${createHash('sha256').update(`${nowMs} ${JSON.stringify(body)}`).digest('hex').slice(0, 16)}`;
}
