import { z } from 'zod';
import type { ActionBody } from '../../shared/api.ts';
import type { Finding, FindingAction } from '../../shared/finding.ts';
import { DAY_MS } from '../../shared/time.ts';
import { findingSchema, pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { byText, idText, noteText, PAGING, placeOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** Shelving always ends; a year is the longest. */
const LONGEST_SHELF_MS = 366 * DAY_MS;

const who = { by: byText, note: noteText.optional() };
const futureTime = z.iso.datetime({ offset: true, error: 'must be an ISO 8601 time with offset, such as 2026-03-02T09:30:00Z' });

/** What each action needs in its body, and in which state it makes sense. */
const ACTIONS = {
  acknowledge: { body: z.strictObject(who), summary: 'Say that somebody knows of it', needs: 'open' },
  shelve: { body: z.strictObject({ ...who, untilAt: futureTime.describe('in the future, at most a year ahead') }), summary: 'Put it aside until a time', needs: 'open' },
  unshelve: { body: z.strictObject(who), summary: 'Take it back before that time', needs: 'shelved' },
  close: { body: z.strictObject({ ...who, reason: z.enum(['improved', 'not-confirmed', 'false']) }), summary: 'Close it with a reason; what is closed already gets another reason, and the first one is kept in its history', needs: 'any' },
  reopen: { body: z.strictObject(who), summary: 'Open it again', needs: 'closed' },
  note: { body: z.strictObject({ by: byText, note: noteText.min(1) }), summary: 'Write something to it', needs: 'any' },
} as const;
type ActionName = keyof typeof ACTIONS;
const ACTION_NAMES = Object.keys(ACTIONS) as ActionName[];

export function findingRoutes(fleet: FleetView, params: ServerParams, changed: () => void): Route[] {
  return [listOfFindings(fleet, params), oneFinding(fleet, params), ...ACTION_NAMES.map((name) => actionRoute(name, fleet, params, changed))];
}

function listOfFindings(fleet: FleetView, { records }: ServerParams): Route {
  return route({
    method: 'get', path: '/findings', tag: 'findings', summary: 'Findings, newest first, with what people did laid over', problems: [404],
    query: z.strictObject({ site: idText.optional(), generator: idText.optional(), open: z.enum(['true', 'false']).optional().describe('only open ones, or only closed ones'), ...PAGING }),
    answer: { status: 200, contentType: 'application/json', schema: pageSchema(findingSchema), says: 'a page of findings' },
    handle: async ({ query }) => {
      if ((query.site === undefined) !== (query.generator === undefined)) throw new HttpProblem(400, 'Wrong in the query: site and generator belong together. Give both or neither.');
      const generator = query.site === undefined || query.generator === undefined ? {} : { generator: (await knownGenerator(fleet, query.site, query.generator)).registered.key };
      await fleet.readActions();
      const from = placeOf(query.after);
      const wanted = from + query.limit + 1;
      const fits = (finding: Finding): boolean => query.open === undefined || (finding.state !== 'closed') === (query.open === 'true');
      // What is open is decided after people's actions, so more is read until enough of it fits.
      for (let limit = wanted; ; limit *= 2) {
        const written = await records.findings({ ...generator, limit });
        const found = written.map((one) => fleet.laidOver(one)).filter(fits);
        if (found.length < wanted && written.length === limit) continue;
        return { json: { items: found.slice(from, from + query.limit), next: found.length >= wanted ? String(from + query.limit) : null } };
      }
    },
  });
}

const findingParams = z.strictObject({ id: z.string().min(1).max(128) });

/** @throws {HttpProblem} 404 for an id that analysis never gave. */
async function knownFinding(records: ServerParams['records'], id: string): Promise<Finding> {
  const finding = await records.finding(id);
  if (finding === undefined) throw new HttpProblem(404, `No finding has the id ${JSON.stringify(id)}. GET /api/v1/findings lists them.`);
  return finding;
}

function oneFinding(fleet: FleetView, { records }: ServerParams): Route {
  return route({
    method: 'get', path: '/findings/{id}', tag: 'findings', summary: 'One finding', params: findingParams, problems: [404],
    answer: { status: 200, contentType: 'application/json', schema: findingSchema, says: 'the finding' },
    handle: async ({ params: { id } }) => {
      const finding = await knownFinding(records, id);
      await fleet.readActions();
      return { json: fleet.laidOver(finding) };
    },
  });
}

function actionRoute(name: ActionName, fleet: FleetView, params: ServerParams, changed: () => void): Route {
  const { body: schema, summary } = ACTIONS[name];
  return route({
    method: 'post', path: `/findings/{id}/${name}`, tag: 'findings', summary, params: findingParams, body: schema as z.ZodType<z.output<(typeof ACTIONS)[ActionName]['body']>>, problems: [404, 409],
    answer: { status: 200, contentType: 'application/json', schema: findingSchema, says: 'the finding as it is now' },
    handle: async ({ params: { id }, body }) => {
      const nowMs = params.clock.nowMs();
      const written = await knownFinding(params.records, id);
      await fleet.readActions();
      const action = actionOf(id, name, body as ActionBody, nowMs);
      refuseIfPointless(name, fleet.laidOver(written), action);
      await params.records.recordAction(action);
      await params.records.audit({ atMs: nowMs, by: action.by, did: `${name} finding${action.reason === undefined ? '' : `: ${action.reason}`}`, about: `${written.site}/${written.generator} ${id}` });
      fleet.acted(action);
      if (name === 'close') params.onClosing(action);
      changed();
      return { json: fleet.laidOver(written) };
    },
  });
}

function actionOf(finding: string, action: ActionName, body: ActionBody, nowMs: number): FindingAction {
  const untilMs = body.untilAt === undefined ? undefined : Date.parse(body.untilAt);
  if (untilMs !== undefined && (untilMs <= nowMs || untilMs > nowMs + LONGEST_SHELF_MS)) throw new HttpProblem(400, 'Wrong in the body: untilAt must be in the future and at most a year ahead.');
  return { finding, atMs: nowMs, by: body.by, action, ...(untilMs !== undefined && { untilMs }), ...(body.reason !== undefined && { reason: body.reason }), ...(body.note !== undefined && { note: body.note }) };
}

/** @throws {HttpProblem} 409 when the action would change nothing that anybody could see. */
function refuseIfPointless(name: ActionName, finding: Finding, action: FindingAction): void {
  const { needs } = ACTIONS[name];
  const closed = finding.state === 'closed';
  if (needs === 'open' && closed) throw new HttpProblem(409, `This finding is closed (${finding.closedReason ?? 'no reason given'}). Reopen it first.`);
  if (needs === 'closed' && !closed) throw new HttpProblem(409, `This finding is open already; its state is ${finding.state}.`);
  if (needs === 'shelved' && finding.shelvedUntil === null) throw new HttpProblem(409, 'This finding is not shelved.');
  if (name === 'close' && closed && action.reason === finding.closedReason && action.note === undefined) throw new HttpProblem(409, `This finding is closed with this reason already (${finding.closedReason}). Give another reason, or a note.`);
  if (name === 'acknowledge' && finding.state !== 'new') throw new HttpProblem(409, `Somebody knows of this finding already; its state is ${finding.state}.`);
}
