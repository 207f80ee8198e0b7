import { z } from 'zod';
import { serviceListCsv } from '../views/service-list-csv.ts';
import { overviewRowSchema, pageSchema, rankingSchema, serviceRowSchema, siteAnswerSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { listQuery, pageOf, placeOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

const JSON_TYPE = 'application/json';

/** Lists of the whole fleet, in the order in which they want a person. */
export function fleetRoutes(fleet: FleetView, { registry, simulated }: Pick<ServerParams, 'registry' | 'simulated'>): Route[] {
  return [
    route({
      method: 'get', path: '/ranking', tag: 'fleet', summary: 'The one object of ranking and open findings, as of the last tick',
      answer: { status: 200, contentType: JSON_TYPE, schema: rankingSchema, says: 'ranking and findings' },
      handle: async () => ({ document: await fleet.ranking() }),
    }),
    route({
      method: 'get', path: '/overview', tag: 'fleet', summary: 'Rows of the Overview in order of rank', query: listQuery,
      answer: { status: 200, contentType: JSON_TYPE, schema: pageSchema(overviewRowSchema), says: 'a page of rows' },
      handle: async ({ query }) => ({ document: await fleet.overview(placeOf(query.after), query.limit) }),
    }),
    route({
      method: 'get', path: '/service-list', tag: 'fleet', summary: 'Who must go where, by when, with what', query: listQuery,
      answer: { status: 200, contentType: JSON_TYPE, schema: pageSchema(serviceRowSchema), says: 'a page of the list, by date' },
      handle: async ({ query }) => ({ document: await fleet.serviceList(placeOf(query.after), query.limit) }),
    }),
    route({
      method: 'get', path: '/service-list.csv', tag: 'fleet', summary: 'The whole service list for a spreadsheet',
      answer: { status: 200, contentType: 'text/csv', schema: z.string(), says: 'RFC 4180, UTF-8, with a header line' },
      handle: async () => ({
        text: serviceListCsv(await fleet.serviceRows()), contentType: 'text/csv; charset=utf-8; header=present',
        headers: { 'content-disposition': `attachment; filename="service-list${simulated ? '-simulated' : ''}.csv"` },
      }),
    }),
    route({
      method: 'get', path: '/sites', tag: 'fleet', summary: 'Sites of the registry with their generators', query: listQuery,
      answer: { status: 200, contentType: JSON_TYPE, schema: pageSchema(siteAnswerSchema), says: 'a page of sites' },
      handle: ({ query }) => ({ json: pageOf([...new Map(registry.current().filter((one) => one.claimed).map((one) => [one.site.id, one.site])).values()], query) }),
    }),
  ];
}
