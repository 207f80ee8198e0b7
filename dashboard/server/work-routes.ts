import { createHash } from 'node:crypto';
import { isDeepStrictEqual } from 'node:util';
import { z } from 'zod';
import { type Entry, entrySchema } from '../../shared/entry.ts';
import { isoFromMs } from '../../shared/time.ts';
import { type Visit, type VisitState, visitSchema } from '../../shared/visit.ts';
import { HttpProblem } from './problem.ts';
import { byText } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import { saveTrip, tripParams, type TripSurroundings } from './trip-routes.ts';

const { id: _id, updatedAt: _at, updatedBy: _by, recordedAt: _recorded, ...sent } = visitSchema.shape;
const workBody = z.strictObject({ ...sent, state: z.enum(['under-way', 'recorded']), by: byText });
type Sent = z.infer<typeof workBody>;

/** How a visit comes from the state in which the office left it to the one in which the technician is. */
const WAY: Readonly<Record<VisitState, readonly VisitState[]>> = { draft: ['under-way'], planned: ['under-way'], 'under-way': [], cancelled: ['planned', 'under-way'], recorded: [], verified: [] };

/** Saves that may come between before it is said. */
const TRIES = 4;

/**
 * What a technician did, sent from a phone whose signal comes and goes. However often it is sent, it is kept once; what the
 * office changed of the plan meanwhile stays, and never stands in the way of what was done.
 */
export function workRoutes(around: TripSurroundings): Route[] {
  const atWork = new Map<string, Promise<void>>();
  return [
    route({
      method: 'post', path: '/trips/{id}/work', tag: 'trips', summary: "A visit's work, under way or recorded; sending the same again changes nothing. Recording makes one entry for each generator", params: tripParams, body: workBody, problems: [404, 409],
      answer: { status: 200, contentType: 'application/json', schema: visitSchema, says: 'the visit as it is kept' },
      handle: async ({ params: { id }, body }) => {
        // A phone that lost its patience sends again while the first is still at work: one after the other.
        const before = atWork.get(id) ?? Promise.resolve();
        const work = before.then(() => take(around, id, body));
        const settled = work.then(() => undefined, () => undefined);
        atWork.set(id, settled);
        void settled.then(() => (atWork.get(id) === settled ? atWork.delete(id) : false));
        return { json: await work };
      },
    }),
  ];
}

async function take(around: TripSurroundings, id: string, body: Sent): Promise<Visit> {
  const visit = await keepAsItIs(around, id, body);
  if (visit.state === 'recorded' && body.state === 'recorded') await makeEntries(around, visit, body.by);
  return visit;
}

/** The office, or another server, may save between our look and our save: then it is looked at again. */
async function keepAsItIs(around: TripSurroundings, id: string, body: Sent): Promise<Visit> {
  for (let tries = 1; ; tries += 1) {
    const stored = await around.params.records.visit(id);
    try {
      return await keep(around, id, stored, body);
    } catch (error) {
      const now = await around.params.records.visit(id);
      if (!(error instanceof HttpProblem) || error.status !== 409 || tries === TRIES || now?.revision === stored?.revision) throw error;
    }
  }
}

async function keep(around: TripSurroundings, id: string, stored: Visit | undefined, body: Sent): Promise<Visit> {
  const nowAt = isoFromMs(around.params.clock.nowMs());
  const { by, ...rest } = body;
  if (stored === undefined) return await saveTrip(around, { ...rest, id, revision: 0, recordedAt: body.state === 'recorded' ? nowAt : null, updatedAt: nowAt, updatedBy: by });
  if (stored.state === 'recorded' || stored.state === 'verified') {
    // A message of the time before that was late, or the record itself again because its answer was lost.
    if (body.state === 'under-way' || isDeepStrictEqual(workOf(stored), workOf(body))) return stored;
    if (body.revision !== stored.revision) throw new HttpProblem(409, `${stored.updatedBy} recorded this visit at ${stored.recordedAt ?? stored.updatedAt} as revision ${stored.revision}; yours was made from revision ${body.revision}. Load it again and correct it there.`);
    return await saveTrip(around, { ...stored, ...workOf(body), state: 'recorded', updatedAt: nowAt, updatedBy: by });
  }
  if (body.state === stored.state && isDeepStrictEqual(workOf(stored), workOf(body))) return stored;
  let newest = stored;
  for (const state of WAY[stored.state]) newest = await saveTrip(around, { ...newest, state, updatedAt: nowAt, updatedBy: by });
  return await saveTrip(around, { ...newest, ...workOf(body), state: body.state, recordedAt: body.state === 'recorded' ? nowAt : null, updatedAt: nowAt, updatedBy: by });
}

/** The part of a visit that is the technician's; the rest is the plan. */
function workOf(visit: Pick<Visit, 'generators' | 'procedure' | 'work' | 'told' | 'signed' | 'performedAt'>) {
  const { generators, procedure, work, told, signed, performedAt } = visit;
  return { generators, procedure, work, told, signed, performedAt };
}

/** One entry for each generator that was worked on, so that the baselines of what was replaced begin anew. The same again makes none. */
async function makeEntries({ params, changed }: TripSurroundings, visit: Visit, by: string): Promise<void> {
  const nowMs = params.clock.nowMs();
  const known = new Map((await params.records.entries()).map((entry) => [entry.id, entry]));
  for (const generator of Object.keys(visit.work)) {
    const entry = entryOf(visit, generator, by, isoFromMs(nowMs));
    const before = known.get(entry.id);
    if (before !== undefined && isDeepStrictEqual({ ...before, recordedAt: entry.recordedAt }, entry)) continue;
    await params.records.saveEntry(entry, by);
    await params.records.audit({ atMs: nowMs, by, did: `${before === undefined ? 'logged' : 'corrected'} ${entry.kind}`, about: `${entry.site}/${entry.generator} ${entry.id}` });
    params.onEntry(entry);
  }
  changed();
}

function entryOf(visit: Visit, generator: string, by: string, recordedAt: string): Entry {
  const work = visit.work[generator];
  const startedAt = work?.startedAt ?? visit.performedAt ?? recordedAt;
  const finishedAt = work?.finishedAt ?? visit.performedAt ?? startedAt;
  const replaced = work?.replaced ?? [];
  return entrySchema.parse({
    // No dice: the entry of a visit is known again by the visit and the generator.
    id: `visit-${createHash('sha256').update(`${visit.id} ${generator}`).digest('hex').slice(0, 16)}`,
    site: visit.site, generator, kind: visit.procedure === 'find-the-leak' && replaced.length === 0 ? 'hold-test' : 'service',
    startedAt, finishedAt: Date.parse(finishedAt) < Date.parse(startedAt) ? startedAt : finishedAt, recordedAt, replaced, adjusted: work?.adjusted ?? {},
    readings: { asFound: work?.asFound ?? {}, asLeft: work?.asLeft ?? {} }, by: visit.signed?.by ?? by, ...(work !== undefined && work.note !== '' && { note: work.note }),
  });
}
