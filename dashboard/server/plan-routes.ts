import { z } from 'zod';
import type { PlanNeed } from '../../shared/plan.ts';
import { type Technician, technicianSchema, TRADES, type WayHours, wayHoursSchema } from '../../shared/plan.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import { VISIT_STATES, type Visit, visitSchema } from '../../shared/visit.ts';
import { dayPlus } from '../planning/calendar-days.ts';
import { USUAL_WAY } from '../planning/capacity.ts';
import { planNeed } from '../planning/plan-need.ts';
import { planSpan } from '../planning/plan-span.ts';
import { type CalendarVisit, visitCalendar } from '../planning/visit-calendar.ts';
import { planCsv } from '../views/plan-csv.ts';
import { pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { byText, PAGING, pageOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';
import { plannedTests, testRoutes } from './test-routes.ts';
import { knownVisit, tripParams } from './trip-routes.ts';

const SCOPE = 'technicians';
const WAY_SCOPE = 'plan';
const WAY = 'way';
const span = z.strictObject({ from: z.iso.date().optional().describe('first day; today by UTC when left out'), days: z.coerce.number().int().min(1).max(28).default(7) });

const need = z.looseObject({ site: z.string(), generator: z.string(), causeSays: z.string(), hours: z.number(), byDay: z.string().nullable(), dueDay: z.string().nullable(), atOnce: z.boolean() });
const trip = z.looseObject({
  key: z.string(), visit: visitSchema.nullable().describe('null: proposed'), site: z.string(), siteName: z.string(), area: z.string().nullable(), needs: z.array(need), generators: z.array(z.string()), findings: z.array(z.string()), day: z.string().nullable(), technician: z.string().nullable(),
  trade: z.enum(TRADES), hours: z.number(), bring: z.array(z.string()), atOnce: z.boolean(), byDay: z.string().nullable(), withTest: z.string().nullable(), because: z.array(z.string()), warnings: z.array(z.string()), slip: z.array(z.string()).describe('what a week later would mean'),
});
export const planSchema = z.looseObject({
  at: z.string().nullable(), today: z.string(), fromDay: z.string(), toDay: z.string(), days: z.array(z.looseObject({ day: z.string() })), trips: z.array(trip), left: z.array(z.strictObject({ trip, says: z.string() })), later: z.array(z.strictObject({ need, says: z.string() })),
  says: z.array(z.string()), technicians: z.array(technicianSchema), way: wayHoursSchema, tests: z.array(z.looseObject({ id: z.string() })),
});

/** The plan: who goes where on which day; its people, its tests, its calendars. */
export function planRoutes(fleet: FleetView, params: ServerParams, changed: () => void): Route[] {
  const planOf = async (query: z.output<typeof span>) => planSpan(await planParams(fleet, params, query.from ?? isoFromMs(params.clock.nowMs()).slice(0, 10), query.days));
  return [
    route({
      method: 'get', path: '/plan', tag: 'plan', summary: 'Visits that stand, trips that are proposed, and why', query: span,
      answer: { status: 200, contentType: 'application/json', schema: planSchema, says: 'the plan of these days' },
      handle: async ({ query }) => ({ json: await planOf(query) }),
    }),
    route({
      method: 'get', path: '/plan.csv', tag: 'plan', summary: 'The plan for a spreadsheet', query: span,
      answer: { status: 200, contentType: 'text/csv', schema: z.string(), says: 'RFC 4180, UTF-8, with a header line' },
      handle: async ({ query }) => ({ text: planCsv(await planOf(query)), contentType: 'text/csv; charset=utf-8; header=present', headers: { 'content-disposition': `attachment; filename="plan${params.simulated ? '-simulated' : ''}.csv"` } }),
    }),
    ...peopleRoutes(params, changed),
    ...testRoutes(fleet, params, changed),
    ...calendarRoutes(fleet, params),
  ];
}

async function planParams(fleet: FleetView, params: ServerParams, fromDay: string, days: number) {
  const { records, clock } = params;
  await fleet.readActions();
  const nowMs = clock.nowMs();
  const [visits, technicians, needs] = [await records.visits(), await techniciansOf(records), await planNeeds(fleet, nowMs)];
  const generators = await fleet.generators();
  const sites = new Map(generators.map(({ registered: { site } }) => [site.id, { name: site.name ?? site.id, area: site.area ?? null, access: site.access ?? null, timeZone: site.timeZone }]));
  const tests = plannedTests(await records.entries(), sites, Date.parse(`${fromDay}T00:00:00Z`) - DAY_MS, Date.parse(`${dayPlus(fromDay, days)}T00:00:00Z`) + DAY_MS);
  return { at: await fleet.at(), fromDay, days, today: isoFromMs(nowMs).slice(0, 10), needs, visits, technicians, tests, sites, way: await wayOf(records) };
}

async function planNeeds(fleet: FleetView, nowMs: number): Promise<PlanNeed[]> {
  const known = new Map((await fleet.generators()).map((one) => [`${one.registered.site.id}/${one.registered.generator.id}`, one]));
  return (await fleet.serviceRows()).flatMap((line) => {
    const one = known.get(`${line.site}/${line.generator}`);
    if (one?.row === undefined || one.row === null) return [];
    const findings = one.row.findings.flatMap((id) => fleet.finding(id) ?? []);
    return [planNeed({ line, row: one.row, registered: one.registered, findings, nowMs })];
  });
}

/** Who can be sent; by name. */
export async function techniciansOf(records: Pick<RecordStore, 'savedSettings'>): Promise<Technician[]> {
  return [...(await records.savedSettings(SCOPE)).values()].map((text) => technicianSchema.parse(JSON.parse(text)));
}

/** Enter somebody who can be sent, or change one whose name is known. */
export async function keepTechnician(records: Pick<RecordStore, 'saveSetting'>, person: Technician): Promise<void> {
  await records.saveSetting(SCOPE, person.name, JSON.stringify(person));
}

/** How the way is counted: as somebody set it, else as usual. */
async function wayOf(records: Pick<RecordStore, 'savedSettings'>): Promise<WayHours> {
  const kept = (await records.savedSettings(WAY_SCOPE)).get(WAY);
  return kept === undefined ? USUAL_WAY : wayHoursSchema.parse(JSON.parse(kept));
}

function peopleRoutes({ records, clock }: ServerParams, changed: () => void): Route[] {
  return [
    route({
      method: 'get', path: '/technicians', tag: 'plan', summary: 'Who can be sent', query: z.strictObject(PAGING),
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(technicianSchema), says: 'a page of people' },
      handle: async ({ query }) => ({ json: pageOf(await techniciansOf(records), query) }),
    }),
    route({
      method: 'post', path: '/technicians', tag: 'plan', summary: 'Enter somebody who can be sent, or change hours, trades, days off; a name that is known is changed', body: z.strictObject({ ...technicianSchema.shape, by: byText }),
      answer: { status: 200, contentType: 'application/json', schema: technicianSchema, says: 'as kept' },
      handle: async ({ body: { by, ...person } }) => {
        await keepTechnician(records, person);
        await records.audit({ atMs: clock.nowMs(), by, did: person.left ? 'took out of the plan' : 'entered for the plan', about: person.name });
        changed();
        return { json: person };
      },
    }),
    route({
      method: 'post', path: '/plan/way', tag: 'plan', summary: 'How the way to sites is counted, h: into an area, and to each further site in it', body: z.strictObject({ ...wayHoursSchema.shape, by: byText }),
      answer: { status: 200, contentType: 'application/json', schema: wayHoursSchema, says: 'as kept' },
      handle: async ({ body: { by, ...way } }) => {
        await records.saveSetting(WAY_SCOPE, WAY, JSON.stringify(way));
        await records.audit({ atMs: clock.nowMs(), by, did: `set the way to ${way.areaHours} h into an area, ${way.nextSiteHours} h to a further site`, about: 'plan' });
        changed();
        return { json: way };
      },
    }),
  ];
}

/** Of a feed: what is older than this many days has been seen by every calendar. */
const FEED_DAYS = 60;

function calendarRoutes(fleet: FleetView, params: ServerParams): Route[] {
  const { records, clock, simulated } = params;
  const answer = { status: 200, contentType: 'text/calendar', schema: z.string(), says: 'RFC 5545, times in UTC' } as const;
  const send = async (visits: readonly Visit[], name: string, file: string) => ({
    text: visitCalendar(await withNames(fleet, visits), simulated ? `${name} (simulated)` : name), contentType: 'text/calendar; charset=utf-8', headers: { 'content-disposition': `inline; filename="${file}.ics"` },
  });
  return [
    route({
      method: 'get', path: '/trips/{id}/calendar.ics', tag: 'trips', summary: 'One visit for a calendar', params: tripParams, problems: [404], answer,
      handle: async ({ params: { id } }) => await send([await knownVisit(params, id)], 'Visit', 'visit'),
    }),
    route({
      method: 'get', path: '/trips.ics', tag: 'trips', summary: "A person's visits as a feed: 60 days back and all ahead; cancelled ones stay in it, so that they go from calendars too", answer,
      query: z.strictObject({ technician: z.string().max(80).optional(), state: z.enum(VISIT_STATES).optional() }),
      handle: async ({ query: { technician, state } }) => {
        const asked = { fromDay: isoFromMs(clock.nowMs() - FEED_DAYS * DAY_MS).slice(0, 10), ...(state !== undefined && { states: [state] }) };
        const all = (await records.visits(asked)).filter((visit) => visit.state !== 'draft' || state === 'draft');
        if (technician === undefined) return await send(all, 'Visits', 'visits');
        return await send(await ofTechnician(records, all, technician), `Visits, ${technician}`, 'visits');
      },
    }),
  ];
}

/** Those of a person, and as cancelled those that were theirs and went to somebody else. */
async function ofTechnician(records: Pick<RecordStore, 'visitRevisions'>, visits: readonly Visit[], technician: string): Promise<Visit[]> {
  const mine: Visit[] = [];
  for (const visit of visits) {
    if (visit.technician === technician) mine.push(visit);
    else if ((await records.visitRevisions(visit.id)).some((one) => one.technician === technician && one.state !== 'draft')) mine.push({ ...visit, state: 'cancelled' });
  }
  return mine;
}

async function withNames(fleet: FleetView, visits: readonly Visit[]): Promise<CalendarVisit[]> {
  const sites = new Map((await fleet.generators()).map(({ registered: { site } }) => [site.id, site]));
  const lines = new Map((await fleet.serviceRows()).map((line) => [`${line.site}/${line.generator}`, line.causeSays]));
  return visits.map((visit) => {
    const site = sites.get(visit.site);
    return { visit, siteName: site?.name ?? visit.site, address: site?.address ?? null, access: site?.access ?? null, timeZone: site?.timeZone ?? 'UTC', why: visit.generators.flatMap((generator) => lines.get(`${visit.site}/${generator}`) ?? []) };
  });
}

