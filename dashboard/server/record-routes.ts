import { z } from 'zod';
import { type IssuedRecord, RECORD_KINDS, type RecordDocument, type VisitPhoto } from '../../shared/issued-record.ts';
import { type GeneratorKey, generatorKey, type GeneratorId, type SiteId } from '../../shared/ids.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import type { Visit } from '../../shared/visit.ts';
import { generatorHistory, historyCsv, type HistoryLine } from '../views/generator-history.ts';
import { ownerReport, type ReportGenerator } from '../views/owner-report.ts';
import { wallTime } from '../views/site-time.ts';
import { type SheetGenerator, visitSheet } from '../views/visit-sheet.ts';
import { pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator } from './generator-routes.ts';
import { HttpProblem } from './problem.ts';
import { byText, idText, ONE_GENERATOR, PAGING, pageOf, SPAN, msOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';
import { knownVisit } from './trip-routes.ts';

const at = z.iso.datetime({ offset: true });
const recordSchema = z.strictObject({ number: z.number().int(), revision: z.number().int(), kind: z.enum(RECORD_KINDS), subject: z.string(), site: z.string(), generators: z.array(z.string()), title: z.string(), issuedAt: at, issuedBy: z.string() });
const historyLineSchema = z.strictObject({ at, kind: z.enum(['entry', 'finding', 'action', 'record']), says: z.string(), by: z.string().nullable(), id: z.string() });
const whole = z.coerce.number().int().min(1).max(1e9);
const oneRecord = z.strictObject({ number: whole, revision: whole });
const issueBody = z.strictObject({ kind: z.enum(RECORD_KINDS), visit: z.string().min(1).max(64).optional().describe('with visit-sheet: the visit'), site: idText.optional().describe('with owner-report: the site'), ...SPAN, by: byText });

const MOST_DAYS = 400;
/** Photos on a sheet. */
const MOST_PHOTOS = 3;
/** Two that issue at the same moment: the later one takes the next number. */
const TRIES = 5;

type Made = { readonly kind: IssuedRecord['kind']; readonly subject: string; readonly site: string; readonly generators: readonly string[]; readonly title: string; readonly render: (record: IssuedRecord) => RecordDocument };

/** Records that are given out, numbered and kept for good, and the history of a generator. */
export function recordRoutes(fleet: FleetView, params: ServerParams): Route[] {
  const { records, clock } = params;
  const document = async (number: number, revision: number): Promise<RecordDocument> => {
    const kept = await records.recordDocument(number, revision);
    if (kept === undefined) throw new HttpProblem(404, `No record ${number}, revision ${revision}, was issued. GET /api/v1/records lists those that were.`);
    return kept;
  };
  return [
    route({
      method: 'get', path: '/records', tag: 'records', summary: 'Records as issued, newest first, every revision', query: z.strictObject({ site: idText.optional(), generator: idText.optional(), visit: z.string().max(64).optional(), ...PAGING }),
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(recordSchema), says: 'a page of records' },
      handle: async ({ query: { site, generator, visit, ...paging } }) => ({ json: pageOf(await records.records({ limit: 10_000, ...(site !== undefined && { site }), ...(generator !== undefined && { generator }), ...(visit !== undefined && { subject: `visit ${visit}` }) }), paging) }),
    }),
    route({
      method: 'post', path: '/records', tag: 'records', summary: 'Issue a record; about the same visit or span again it is the next revision of its number', body: issueBody, problems: [404, 409],
      answer: { status: 201, contentType: 'application/json', schema: recordSchema, says: 'the record as issued' },
      handle: async ({ body }) => {
        const made = body.kind === 'visit-sheet' ? await sheetOf(fleet, params, body.visit) : await reportOf(fleet, params, body);
        return { json: await issue(params, made, body.by, isoFromMs(clock.nowMs())), status: 201 };
      },
    }),
    route({
      method: 'get', path: '/records/{number}/{revision}', tag: 'records', summary: 'A record as it was issued, to read and to print', params: oneRecord, problems: [404],
      answer: { status: 200, contentType: 'text/html', says: 'the page, the same bytes for good' },
      handle: async ({ params: { number, revision } }) => ({ text: (await document(number, revision)).html, contentType: 'text/html; charset=utf-8' }),
    }),
    route({
      method: 'get', path: '/records/{number}/{revision}/figures.csv', tag: 'records', summary: 'The figures of a record for a spreadsheet', params: oneRecord, problems: [404],
      answer: { status: 200, contentType: 'text/csv', says: 'the figures' },
      handle: async ({ params: { number, revision } }) => ({ text: (await document(number, revision)).csv, contentType: 'text/csv; charset=utf-8', headers: { 'content-disposition': `attachment; filename="record-${number}-${revision}.csv"` } }),
    }),
    route({
      method: 'get', path: '/generators/{site}/{generator}/history', tag: 'records', summary: 'Everything that is kept of a generator for good, oldest first', params: z.strictObject(ONE_GENERATOR), query: z.strictObject(PAGING), problems: [404],
      answer: { status: 200, contentType: 'application/json', schema: pageSchema(historyLineSchema), says: 'a page of its history' },
      handle: async ({ params: { site, generator }, query }) => ({ json: pageOf(await historyOf(fleet, params, site, generator), query) }),
    }),
    route({
      method: 'get', path: '/generators/{site}/{generator}/history.csv', tag: 'records', summary: 'The history of a generator for a spreadsheet', params: z.strictObject(ONE_GENERATOR), problems: [404],
      answer: { status: 200, contentType: 'text/csv', says: 'its history' },
      handle: async ({ params: { site, generator } }) => ({ text: historyCsv(await historyOf(fleet, params, site, generator)), contentType: 'text/csv; charset=utf-8', headers: { 'content-disposition': `attachment; filename="history-${site}-${generator}.csv"` } }),
    }),
  ];
}

/** Number it, make it, keep it. @throws {HttpProblem} 409 when others issue faster than this can. */
async function issue({ records }: ServerParams, made: Made, by: string, nowAt: string): Promise<IssuedRecord> {
  const { render, ...about } = made;
  for (let tries = 0; tries < TRIES; tries += 1) {
    const [before] = await records.records({ subject: made.subject, limit: 1 });
    const [newest] = await records.records({ limit: 1 });
    const record: IssuedRecord = { number: before?.number ?? (newest?.number ?? 0) + 1, revision: (before?.revision ?? 0) + 1, ...about, issuedAt: nowAt, issuedBy: by };
    if (!(await records.issueRecord(record, render(record)))) continue;
    await records.audit({ atMs: Date.parse(nowAt), by, did: `issued record ${record.number}, revision ${record.revision}`, about: `${record.site} ${record.subject}` });
    return record;
  }
  throw new HttpProblem(409, 'Others issue records at this moment. Try again.');
}

async function sheetOf(fleet: FleetView, params: ServerParams, id: string | undefined): Promise<Made> {
  if (id === undefined) throw new HttpProblem(400, 'Wrong in the body: visit: a visit sheet is about a visit. Known here: kind, visit, site, from, to, by.');
  const visit = await knownVisit(params, id);
  if (visit.state !== 'recorded' && visit.state !== 'verified') throw new HttpProblem(409, `The visit ${id} is ${visit.state}; a sheet is issued once it is recorded.`);
  const generators = await Promise.all(visit.generators.map((generator) => sheetGenerator(fleet, params, visit, generator)));
  const site = generators[0]!.site;
  return {
    kind: 'visit-sheet', subject: `visit ${id}`, site: visit.site, generators: visit.generators, title: `Visit sheet: ${site.name ?? site.id}`,
    render: (record) => visitSheet({ record, site, visit, generators: generators.map(({ part }) => part), simulated: params.simulated }),
  };
}

async function sheetGenerator(fleet: FleetView, { records }: ServerParams, visit: Visit, generator: string) {
  const { registered } = await knownGenerator(fleet, visit.site, generator);
  const endMs = Date.parse(visit.performedAt ?? visit.updatedAt);
  const [days, findings, rows] = await Promise.all([records.days({ generator: registered.key, fromMs: endMs - 90 * DAY_MS, toMs: endMs }), records.findings({ generator: registered.key }), records.photos(visit.id)]);
  const photos = await Promise.all(rows.filter((row) => row.generator === generator).slice(0, MOST_PHOTOS).map((row) => records.photo(visit.id, row.id)));
  // What was thought before the visit: the findings that were open then, those that the visit names first.
  const open = findings.filter((finding) => Date.parse(finding.openedAt) <= endMs && (finding.closedAt === null || Date.parse(finding.closedAt) >= endMs - 7 * DAY_MS));
  const part: SheetGenerator = { generator: registered.generator, findings: [...open.filter((one) => visit.findings.includes(one.id)), ...open.filter((one) => !visit.findings.includes(one.id))], days, photos: photos.filter((photo): photo is VisitPhoto => photo !== undefined) };
  return { site: registered.site, part };
}

async function reportOf(fleet: FleetView, params: ServerParams, body: z.infer<typeof issueBody>): Promise<Made> {
  if (body.site === undefined) throw new HttpProblem(400, 'Wrong in the body: site: an owner report is about a site. Known here: kind, visit, site, from, to, by.');
  const toMs = msOf(body.to, params.clock.nowMs());
  const fromMs = msOf(body.from, toMs - 90 * DAY_MS);
  if (fromMs >= toMs || toMs - fromMs > MOST_DAYS * DAY_MS) throw new HttpProblem(400, `Wrong in the body: from must be before to, and at most ${MOST_DAYS} days, but from is ${isoFromMs(fromMs)} and to is ${isoFromMs(toMs)}.`);
  const all = (await fleet.generators()).filter(({ registered }) => registered.site.id === body.site);
  const [first] = all;
  if (first === undefined) throw new HttpProblem(404, `No generator of ${body.site} is registered or was ever heard. GET /api/v1/sites lists the sites.`);
  const { site } = first.registered;
  const generators = await Promise.all(all.map(async ({ registered, row }): Promise<ReportGenerator> => {
    const [days, entries, findings, looks] = await Promise.all([params.records.days({ generator: registered.key, fromMs: fromMs - 29 * DAY_MS, toMs: Math.min(toMs + 29 * DAY_MS, params.clock.nowMs()) }), params.records.entries({ generator: registered.key }), params.records.findings({ generator: registered.key }), params.records.verifications(registered.key)]);
    return { generator: registered.generator, row, days, entries, looks, findings: findings.map((one) => fleet.laidOver(one)) };
  }));
  const day = (ms: number): string => wallTime(ms, site.timeZone).slice(0, 10);
  return {
    kind: 'owner-report', subject: `owner ${body.site} ${day(fromMs)} ${day(toMs)}`, site: body.site, generators: generators.map((one) => one.generator.id), title: `Report for the owner: ${site.name ?? site.id}`,
    render: (record) => ownerReport({ record, site, fromMs, toMs, generators, simulated: params.simulated }),
  };
}

async function historyOf(fleet: FleetView, { records }: ServerParams, site: string, generator: string): Promise<readonly HistoryLine[]> {
  await knownGenerator(fleet, site, generator);
  const key: GeneratorKey = generatorKey(site as SiteId, generator as GeneratorId);
  await fleet.readActions();
  const [entries, findings, issued] = await Promise.all([records.entries({ generator: key }), records.findings({ generator: key }), records.records({ site, generator, limit: 10_000 })]);
  return generatorHistory({ entries, findings, actions: findings.flatMap((one) => fleet.actionsOf(one.id)), records: issued });
}
