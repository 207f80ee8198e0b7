import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { Finding, FindingAction } from '../../shared/finding.ts';
import { isoFromMs } from '../../shared/time.ts';
import { VISIT_STATES, type Visit, type VisitState, visitSchema } from '../../shared/visit.ts';
import { pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { byText, idText, PAGING, pageOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** A visit as it is posted: who and when are stamped here, an id is given when left out. */
const { updatedAt: _at, updatedBy: _by, id: _id, ...posted } = visitSchema.shape;
const tripBody = z.strictObject({ ...posted, id: z.string().min(1).max(64).optional().describe('given when left out'), by: byText });
export const tripParams = z.strictObject({ id: z.string().min(1).max(64) });

/** What may follow what; a new visit may begin in any but the last two. */
const NEXT: Readonly<Record<VisitState, readonly VisitState[]>> = {
  draft: ['draft', 'planned', 'under-way', 'cancelled'],
  planned: ['planned', 'draft', 'under-way', 'cancelled'],
  'under-way': ['under-way', 'planned', 'recorded', 'cancelled'],
  recorded: ['recorded', 'verified'],
  verified: ['verified', 'recorded'],
  cancelled: ['cancelled', 'draft', 'planned'],
};
const FIRST: readonly VisitState[] = ['draft', 'planned', 'under-way', 'recorded'];

/** Visits from their planning to their end; every save is a revision, a stale one is refused. What they leave for analysis are entries, at /visits. */
export function tripRoutes(fleet: FleetView, params: ServerParams, changed: () => void): Route[] {
  const { records } = params;
  return [
    route({
      method: 'get', path: '/trips', tag: 'trips', summary: 'Visits in order of the plan, newest revision of each',
      query: z.strictObject({ site: idText.optional(), state: z.enum(VISIT_STATES).optional(), technician: z.string().max(80).optional(), from: z.iso.date().optional().describe('first day'), to: z.iso.date().optional().describe('last day, included'), ...PAGING }),
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(visitSchema), says: 'a page of visits' },
      handle: async ({ query: { site, state, technician, from, to, ...paging } }) => {
        const asked = { ...(site !== undefined && { site }), ...(state !== undefined && { states: [state] }), ...(technician !== undefined && { technician }), ...(from !== undefined && { fromDay: from }), ...(to !== undefined && { toDay: to }) };
        return { json: pageOf(await records.visits(asked), paging) };
      },
    }),
    route({
      method: 'get', path: '/trips/{id}', tag: 'trips', summary: 'One visit, newest revision', params: tripParams, problems: [404],
      answer: { status: 200, contentType: 'application/json', schema: visitSchema, says: 'the visit' },
      handle: async ({ params: { id } }) => ({ json: await knownVisit(params, id) }),
    }),
    route({
      method: 'get', path: '/trips/{id}/revisions', tag: 'trips', summary: 'Every revision of one visit, oldest first', params: tripParams, query: z.strictObject(PAGING), problems: [404],
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(visitSchema), says: 'a page of revisions' },
      handle: async ({ params: { id }, query }) => {
        await knownVisit(params, id);
        return { json: pageOf(await records.visitRevisions(id), query) };
      },
    }),
    route({
      method: 'post', path: '/trips', tag: 'trips', summary: 'Plan, change, move or cancel a visit; `revision` is the one that was seen, 0 for a new visit', body: tripBody, problems: [404, 409],
      answer: { status: 201, contentType: 'application/json', schema: visitSchema, says: 'the visit as it was kept' },
      handle: async ({ body: { by, id, ...body } }) => {
        const nowMs = params.clock.nowMs();
        const visit: Visit = { ...body, id: id ?? tripId(body, nowMs), updatedAt: isoFromMs(nowMs), updatedBy: by };
        const kept = await saveTrip({ fleet, params, changed }, visit);
        return { json: kept, status: 201 };
      },
    }),
  ];
}

/** @throws {HttpProblem} 404 */
export async function knownVisit({ records }: Pick<ServerParams, 'records'>, id: string): Promise<Visit> {
  const visit = await records.visit(id);
  if (visit === undefined) throw new HttpProblem(404, `No visit has the id ${JSON.stringify(id)}. GET /api/v1/trips lists them.`);
  return visit;
}

export type TripSurroundings = { readonly fleet: FleetView; readonly params: ServerParams; readonly changed: () => void };

/**
 * Keep a visit as its next revision, say so in the audit, and let its findings follow: planned while a planned visit names them.
 * @throws {HttpProblem} 404 for an unknown generator, 409 for a stale revision or a state that can't follow.
 */
export async function saveTrip({ fleet, params, changed }: TripSurroundings, visit: Visit): Promise<Visit> {
  for (const generator of visit.generators) await knownGenerator(fleet, visit.site, generator);
  const before = await params.records.visit(visit.id);
  if (before !== undefined && before.site !== visit.site) throw new HttpProblem(409, `The visit ${visit.id} goes to ${before.site}. A visit to another site is another visit: leave the id out.`);
  const mayFollow = before === undefined ? FIRST : NEXT[before.state];
  if (visit.revision === (before?.revision ?? 0) && !mayFollow.includes(visit.state)) throw new HttpProblem(409, before === undefined ? `A new visit can't be ${visit.state}; it begins as ${FIRST.join(', ')}.` : `A visit that is ${before.state} can't become ${visit.state}; it can become ${mayFollow.join(', ')}.`);
  const answer = await params.records.saveVisit(visit);
  if ('stale' in answer) throw new HttpProblem(409, answer.stale === undefined ? `No visit ${visit.id} is known that this could be a revision of. Send revision 0 for a new one.` : `${answer.stale.updatedBy} saved this visit at ${answer.stale.updatedAt} as revision ${answer.stale.revision}; yours was made from revision ${visit.revision}. Load it again and repeat your change.`);
  const kept = answer.saved;
  if (kept.revision === visit.revision + 1 && kept.updatedAt === visit.updatedAt) {
    await params.records.audit({ atMs: Date.parse(kept.updatedAt), by: kept.updatedBy, did: `visit ${before === undefined || before.state !== kept.state ? kept.state : 'changed'}${kept.plannedFor === null ? '' : ` for ${kept.plannedFor}`}, revision ${kept.revision}`, about: `${kept.site} ${kept.id}` });
    await findingsFollow({ fleet, params }, before, kept);
  }
  changed();
  return kept;
}

/** Findings that a visit names while it is planned, under way, or done. */
function namedBy(visit: Visit | undefined): readonly string[] {
  return visit === undefined || visit.state === 'draft' || visit.state === 'cancelled' ? [] : visit.findings;
}

async function findingsFollow({ fleet, params }: Pick<TripSurroundings, 'fleet' | 'params'>, before: Visit | undefined, after: Visit): Promise<void> {
  const [was, is] = [new Set(namedBy(before)), new Set(namedBy(after))];
  const others = new Set((await params.records.visits({ site: after.site })).filter((one) => one.id !== after.id).flatMap(namedBy));
  const act = async (id: string, action: 'plan' | 'unplan', wanted: (finding: Finding) => boolean): Promise<void> => {
    const written = await params.records.finding(id);
    if (written === undefined || !wanted(fleet.laidOver(written))) return;
    const done: FindingAction = { finding: id, atMs: Date.parse(after.updatedAt), by: after.updatedBy, action, visit: after.id };
    await params.records.recordAction(done);
    fleet.acted(done);
  };
  await fleet.readActions();
  for (const id of is) if (!was.has(id)) await act(id, 'plan', (finding) => finding.state !== 'closed' && finding.state !== 'planned');
  for (const id of was) if (!is.has(id) && !others.has(id)) await act(id, 'unplan', (finding) => finding.state === 'planned');
}

/** No dice: the id comes from the content and the time of the post. */
function tripId(body: unknown, nowMs: number): string {
  return `trip-${createHash('sha256').update(`${nowMs} ${JSON.stringify(body)}`).digest('hex').slice(0, 16)}`;
}
