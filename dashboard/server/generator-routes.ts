import { z } from 'zod';
import type { LatestValue } from '../../shared/api.ts';
import { baseChannel, type Channel, channelRule, CHANNELS, type Quantity } from '../../shared/channels.ts';
import { cannotTell, seesOf } from '../../shared/distinguish.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { generatorDetail } from '../views/generator-detail.ts';
import { latestValue } from '../views/latest-values.ts';
import { stateWithoutRow } from '../views/overview-rows.ts';
import { channelRowSchema, detailSchema, generatorListRowSchema, pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { HttpProblem } from './problem.ts';
import { idText, ONE_GENERATOR, PAGING, pageOf } from './query-schemas.ts';
import { type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

/** Until 24 h are heard, a generator is taken to report hourly (design, registry). */
const DEFAULT_REPORT_EVERY_S = 3600;

/** @throws {HttpProblem} 404 for a generator that is neither registered nor was ever heard. */
export async function knownGenerator(fleet: FleetView, site: string, generator: string): Promise<NonNullable<Awaited<ReturnType<FleetView['generator']>>>> {
  const known = await fleet.generator(`${site}/${generator}` as GeneratorKey);
  if (known === undefined) throw new HttpProblem(404, `No generator ${site}/${generator} is registered or was ever heard. GET /api/v1/generators lists those that are.`);
  return known;
}

/** How often a generator reports: as registered, else as heard. */
export function reportEveryS(registered: RegisteredGenerator, ingest: ServerParams['ingest']): number | null {
  return registered.generator.reportEveryS ?? ingest.heard(registered.key)?.reportEveryS ?? null;
}

/** The newest value of each channel of these generators. */
export async function latestValues(params: Pick<ServerParams, 'readings' | 'ingest' | 'clock'>, generators: readonly { readonly registered: RegisteredGenerator; readonly lastHeardMs: number | null }[]): Promise<Map<GeneratorKey, LatestValue[]>> {
  const nowMs = params.clock.nowMs();
  const byKey = new Map(generators.map((one) => [one.registered.key, one]));
  const values = new Map<GeneratorKey, LatestValue[]>();
  for (const { generator, channel, atMs, value } of await params.readings.latest([...byKey.keys()])) {
    const one = byKey.get(generator);
    if (one === undefined) continue;
    const rule = channelRule(channel);
    const list = values.get(generator) ?? [];
    list.push(latestValue({
      channel, value, atMs, nowMs, lastHeardMs: one.lastHeardMs ?? 0, reportEveryS: reportEveryS(one.registered, params.ingest) ?? DEFAULT_REPORT_EVERY_S,
      words: { label: labelOf(channel), unit: rule.keptUnit, slow: SLOW.has(rule.quantity) },
    }));
    values.set(generator, list);
  }
  for (const list of values.values()) list.sort((a, b) => orderOf(a.channel) - orderOf(b.channel) || (a.channel < b.channel ? -1 : 1));
  return values;
}

/** What gateways send on change or hourly and not with every report. */
const SLOW: ReadonlySet<Quantity> = new Set(['state', 'duration', 'count', 'temperature', 'relative-humidity']);
const ORDER = Object.keys(CHANNELS);
function orderOf(channel: Channel): number {
  return ORDER.indexOf(baseChannel(channel));
}

/** A channel's label; of a riser its id stands behind it. */
export function labelOf(channel: Channel): string {
  const riser = channel.startsWith('system-pressure.') ? channel.slice('system-pressure.'.length) : '';
  return riser === '' ? channelRule(channel).label : `${channelRule(channel).label}, ${riser}`;
}

export function generatorRoutes(fleet: FleetView, params: ServerParams): Route[] {
  return [listOfGenerators(fleet), oneGenerator(fleet, params), channelsRoute(fleet, params)];
}

function listOfGenerators(fleet: FleetView): Route {
  return route({
    method: 'get', path: '/generators', tag: 'generators', summary: 'Every generator that is registered or was ever heard', query: z.strictObject({ site: idText.optional(), ...PAGING }),
    answer: { status: 200, contentType: 'application/json', schema: pageSchema(generatorListRowSchema), says: 'a page of generators' },
    handle: async ({ query }) => {
      const all = (await fleet.generators()).filter((one) => query.site === undefined || one.registered.site.id === query.site);
      return {
        json: pageOf(all.map(({ registered, row, lastHeardMs }) => ({
          site: registered.site.id, siteName: registered.site.name ?? registered.site.id, area: registered.site.area ?? null,
          generator: registered.generator.id, generatorName: registered.generator.name ?? registered.generator.id, claimed: registered.claimed,
          dataState: row?.dataState ?? stateWithoutRow(registered, lastHeardMs !== null), lastHeardAt: lastHeardMs === null ? null : new Date(lastHeardMs).toISOString(),
        })), query),
      };
    },
  });
}

function oneGenerator(fleet: FleetView, params: ServerParams): Route {
  return route({
    method: 'get', path: '/generators/{site}/{generator}', tag: 'generators', summary: 'Everything that the page of a generator opens with', params: z.strictObject(ONE_GENERATOR), problems: [404],
    answer: { status: 200, contentType: 'application/json', schema: detailSchema, says: 'the generator' },
    handle: async ({ params: { site, generator } }) => {
      const known = await knownGenerator(fleet, site, generator);
      const { key } = known.registered;
      const nowMs = params.clock.nowMs();
      await fleet.readActions();
      const [latest, written, visits, review, looks] = await Promise.all([
        latestValues(params, [known]), params.records.findings({ generator: key }), params.records.entries({ generator: key }), params.records.review(key), params.records.verifications(key),
      ]);
      const values = latest.get(key) ?? [];
      return {
        json: generatorDetail({
          ...known, latest: values, visits, review, looks, nowMs,
          findings: written.map((one) => fleet.laidOver(one)),
          actions: written.flatMap((one) => fleet.actionsOf(one.id)).sort((a, b) => b.atMs - a.atMs),
          cannotTell: values.length === 0 ? [] : cannotTell(seesOf(new Set(values.map((one) => baseChannel(one.channel))))),
        }),
      };
    },
  });
}

function channelsRoute(fleet: FleetView, { readings }: ServerParams): Route {
  return route({
    method: 'get', path: '/channels', tag: 'generators', summary: 'The channels that are understood; with site and generator those that it has sent', problems: [404],
    query: z.strictObject({ site: idText.optional(), generator: idText.optional(), ...PAGING }),
    answer: { status: 200, contentType: 'application/json', schema: pageSchema(channelRowSchema), says: 'a page of channels' },
    handle: async ({ query }) => {
      if ((query.site === undefined) !== (query.generator === undefined)) throw new HttpProblem(400, 'Wrong in the query: site and generator belong together. Give both or neither.');
      let channels = ORDER as Channel[];
      if (query.site !== undefined && query.generator !== undefined) {
        const { registered } = await knownGenerator(fleet, query.site, query.generator);
        channels = (await readings.latest([registered.key])).map((one) => one.channel);
      }
      return { json: pageOf(channels.map((channel) => ({ channel, label: labelOf(channel), unit: channelRule(channel).keptUnit, senmlUnit: channelRule(channel).senmlUnit, possible: channelRule(channel).possible })), query) };
    },
  });
}
