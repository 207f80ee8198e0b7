import { z } from 'zod';
import type { GatewayRow, LatestValue } from '../../shared/api.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import { QUARANTINE_REASONS } from '../../shared/quarantine.ts';
import type { RankingRow } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { isoFromMs } from '../../shared/time.ts';
import { type GatewayGenerator, gatewayRows } from '../views/gateway-rows.ts';
import { stateWithoutRow } from '../views/overview-rows.ts';
import { plausibleValue } from '../views/plausible-value.ts';
import { gatewayRowSchema, packetSchema, pageSchema, quarantineItemSchema, releaseAnswerSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { knownGenerator, latestValues, reportEveryS } from './generator-routes.ts';
import { byText, listQuery, ONE_GENERATOR, PAGING, pageOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

const MOST_RELEASED = 10_000;

/** What gateways send, what of it was understood, and what waits. */
export function gatewayRoutes(fleet: FleetView, params: ServerParams): Route[] {
  return [listOfGateways(fleet, params), packets(fleet, params), quarantineList(params), release(params)];
}

type Known = { readonly registered: RegisteredGenerator; readonly row: RankingRow | null; readonly lastHeardMs: number | null };

function listOfGateways(fleet: FleetView, params: ServerParams): Route {
  return route({
    method: 'get', path: '/gateways', tag: 'gateways', summary: 'Gateways by site, their generators, units, and what was refused', query: listQuery,
    answer: { status: 200, contentType: 'application/json', schema: pageSchema(gatewayRowSchema), says: 'a page of gateways' },
    handle: async ({ query }) => {
      const [all, presence, counts] = await Promise.all([fleet.generators(), params.records.presence(), params.records.quarantineCounts()]);
      const refused = new Map<string, GatewayGenerator['refused'][number][]>();
      for (const one of counts) refused.set(one.generator, [...(refused.get(one.generator) ?? []), { reason: one.reason, count: one.count, lastAt: isoFromMs(one.lastMs) }]);
      const known = new Map(all.map((one) => [one.registered.key, one]));
      // The page is cut before values are fetched: a fleet of thousands has more values than anyone asks for at once.
      const empty = new Map([...known].map(([key, one]) => [key, generatorRow(one, [], refused.get(key) ?? [], params)]));
      // A generator that nobody registered knows no name of its site.
      const names = new Map(all.flatMap(({ registered: { site, claimed } }) => (claimed ? [[site.id, site.name ?? site.id] as const] : [])));
      const page = pageOf(gatewayRows(presence, empty, (site) => names.get(site) ?? site), query);
      const shown = new Set(page.items.flatMap((row) => row.generators.map((one) => `${row.site}/${one.generator}` as GeneratorKey)));
      const latest = await latestValues(params, [...shown].flatMap((key) => known.get(key) ?? []));
      const filled = (row: GatewayRow): GatewayRow => ({ ...row, generators: row.generators.map((one) => ({ ...one, channels: channelsOf(`${row.site}/${one.generator}` as GeneratorKey, latest, params) })) });
      return { json: { ...page, items: page.items.map(filled) } };
    },
  });
}

function generatorRow({ registered, row, lastHeardMs }: Known, channels: GatewayGenerator['channels'], refused: GatewayGenerator['refused'], { ingest }: ServerParams): GatewayGenerator {
  const state = row?.dataState ?? stateWithoutRow(registered, lastHeardMs !== null);
  return {
    generator: registered.generator.id, generatorName: registered.generator.name ?? registered.generator.id, claimed: registered.claimed, lastHeardAt: lastHeardMs === null ? null : isoFromMs(lastHeardMs),
    // Silence is decided by analysis and shown as it is.
    reportEveryS: reportEveryS(registered, ingest), silent: state === 'not-reporting', channels, refused,
  };
}

function channelsOf(key: GeneratorKey, latest: ReadonlyMap<GeneratorKey, readonly LatestValue[]>, { ingest }: ServerParams): GatewayGenerator['channels'] {
  return (latest.get(key) ?? []).map((value) => ({ ...value, sentUnit: ingest.sentUnit(key, value.channel), ...plausibleValue(value.channel, value.value) }));
}

function packets(fleet: FleetView, { ingest }: ServerParams): Route {
  return route({
    method: 'get', path: '/packets', tag: 'gateways', summary: 'The last packets of a generator, newest first; at most 20 are remembered', query: z.strictObject({ ...ONE_GENERATOR, ...PAGING }), problems: [404],
    answer: { status: 200, contentType: 'application/json', schema: pageSchema(packetSchema), says: 'a page of packets' },
    handle: async ({ query }) => {
      const key = `${query.site}/${query.generator}` as GeneratorKey;
      const remembered = ingest.recentPackets(key);
      // A generator of which everything was refused is in no list, but its packets are what one comes here for.
      if (remembered.length === 0) await knownGenerator(fleet, query.site, query.generator);
      return { json: pageOf(remembered, query) };
    },
  });
}

function quarantineList({ records }: ServerParams): Route {
  return route({
    method: 'get', path: '/quarantine', tag: 'gateways', summary: 'What arrived and was not taken as a reading, with the reason',
    query: z.strictObject({ reason: z.enum(QUARANTINE_REASONS).optional(), generator: z.string().max(129).regex(/^[a-z0-9-]+\/[a-z0-9-]+$/, 'must be site/generator').optional(), released: z.enum(['true', 'false']).default('false').describe('false: what still waits'), ...PAGING }),
    answer: { status: 200, contentType: 'application/json', schema: pageSchema(quarantineItemSchema), says: 'a page of what waits' },
    handle: async ({ query: { limit, after, reason, generator, released } }) => {
      const items = await records.quarantined({
        limit: limit + 1, ...(after !== undefined && { afterId: Number(after) }), ...(reason !== undefined && { reason }), ...(generator !== undefined && { generator }), released: released === 'true',
      });
      const page = items.slice(0, limit);
      return { json: { items: page, next: items.length > limit ? String(page.at(-1)?.id ?? 0) : null } };
    },
  });
}

function release({ records, ingest, clock }: ServerParams): Route {
  return route({
    method: 'post', path: '/quarantine/release', tag: 'gateways', summary: 'Try again to take these, after a correction',
    body: z.strictObject({ ids: z.array(z.number().int().positive()).min(1).max(MOST_RELEASED), by: byText }),
    answer: { status: 200, contentType: 'application/json', schema: releaseAnswerSchema, says: 'how many were taken' },
    handle: async ({ body: { ids, by } }) => {
      const answer = await ingest.release(ids, by);
      await records.audit({ atMs: clock.nowMs(), by, did: `released from quarantine: ${answer.released} taken, ${answer.stillRefused} still refused`, about: ids.length > 20 ? `${ids.slice(0, 20).join(', ')} and ${ids.length - 20} more` : ids.join(', ') });
      return { json: answer };
    },
  });
}
