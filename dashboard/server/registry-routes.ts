import { createHash } from 'node:crypto';
import { stringify } from 'yaml';
import { z } from 'zod';
import { generatorSchema, parseRegistry, publishedTwice, type RegistryChange, type SiteRecord, siteSchema } from '../../shared/registry.ts';
import { newestChanges } from '../../shared/registry-history.ts';
import type { RegistryAnswer, RegistryHistoryLine, RegistryPreview, SiteAsKept } from '../../shared/settings-api.ts';
import { oneAtATime } from '../../shared/store/one-at-a-time.ts';
import { isoFromMs, msFromIso } from '../../shared/time.ts';
import { fieldChangeWords, siteFieldChanges } from '../views/registry-changes.ts';
import { pageSchema } from './answer-schemas.ts';
import type { FleetView } from './fleet-view.ts';
import { HttpProblem } from './problem.ts';
import { byText, idText, PAGING, pageOf } from './query-schemas.ts';
import { parsed, type Route, route } from './route.ts';
import type { ServerParams } from './server-params.ts';

const JSON_TYPE = 'application/json';
const MOST_TEXT = 900_000;
const time = z.iso.datetime({ offset: true, error: 'must be an ISO 8601 time with offset, such as 2026-03-02T09:30:00Z' });
const write = { by: byText, validFromAt: time.optional().describe('since when it is so; now, if left out'), seenRecordedAt: time.nullable().describe('`recordedAt` of the site as it was seen, null for a new site') };

const fieldSchema = z.strictObject({ where: z.string(), from: z.string().nullable(), to: z.string().nullable() });
const keptSchema = z.strictObject({ site: siteSchema, recordedAt: z.string(), validFrom: z.string(), by: z.string() });
const problemSchema = z.strictObject({ where: z.string(), says: z.string() });
const historySchema = z.strictObject({ site: z.string(), recordedAt: z.string(), validFrom: z.string(), by: z.string(), fields: z.array(fieldSchema) });
const siteChange = z.strictObject({ site: z.string(), isNew: z.boolean(), fields: z.array(fieldSchema) });
const previewSchema = z.strictObject({ problems: z.array(problemSchema), changes: z.array(siteChange), same: z.array(z.string()), notInFile: z.array(z.string()), state: z.string() });

type Registry = { readonly fleet: FleetView; readonly params: ServerParams; readonly changed: () => void; readonly inTurn: <T>(work: () => Promise<T>) => Promise<T> };

/** The registry: what is registered, who changed what since when, and changing it, by form or by file. */
export function registryRoutes(fleet: FleetView, params: ServerParams, changed: () => void): Route[] {
  const registry: Registry = { fleet, params, changed, inTurn: oneAtATime() };
  return [whole(registry), asFile(registry), history(registry), preview(registry), importFile(registry), saveSite(registry), saveGenerator(registry), swap(registry)];
}

async function newest({ params }: Registry): Promise<ReadonlyMap<string, RegistryChange>> {
  return newestChanges(await params.records.registryChanges());
}

function asKept({ site, recordedAtMs, validFromMs, by }: RegistryChange): SiteAsKept {
  return { site, recordedAt: isoFromMs(recordedAtMs), validFrom: isoFromMs(validFromMs), by };
}

function whole(registry: Registry): Route {
  return route({
    method: 'get', path: '/registry', tag: 'registry', summary: 'Every site with its generators as registered, and generators that are heard and in no site',
    answer: { status: 200, contentType: JSON_TYPE, schema: z.strictObject({ sites: z.array(keptSchema), unclaimed: z.array(z.strictObject({ site: z.string(), generator: z.string(), lastHeardAt: z.string().nullable() })) }), says: 'the registry' },
    handle: async () => {
      const sites = [...(await newest(registry)).values()].map(asKept).sort((a, b) => (a.site.id < b.site.id ? -1 : 1));
      const unclaimed = (await registry.fleet.generators()).filter((one) => !one.registered.claimed).map((one) => ({ site: one.registered.site.id, generator: one.registered.generator.id, lastHeardAt: one.lastHeardMs === null ? null : isoFromMs(one.lastHeardMs) }));
      return { json: { sites, unclaimed } satisfies RegistryAnswer };
    },
  });
}

/** A record without what is empty, so that the file is one that a person would write. */
function readable(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(readable);
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value).map(([name, inner]) => [name, readable(inner)] as const);
  return Object.fromEntries(entries.filter(([, inner]) => !(typeof inner === 'object' && inner !== null && Object.keys(inner).length === 0)));
}

function asFile(registry: Registry): Route {
  return route({
    method: 'get', path: '/registry.yaml', tag: 'registry', summary: 'The registry as a file that the import, `sites.yaml` and check-config take',
    answer: { status: 200, contentType: 'application/yaml', schema: z.string(), says: 'YAML' },
    handle: async () => {
      const sites = [...(await newest(registry)).values()].map((change) => change.site).sort((a, b) => (a.id < b.id ? -1 : 1));
      return { text: stringify({ sites: sites.map(readable) }), contentType: 'application/yaml; charset=utf-8', headers: { 'content-disposition': `attachment; filename="sites${registry.params.simulated ? '-simulated' : ''}.yaml"` } };
    },
  });
}

function history(registry: Registry): Route {
  return route({
    method: 'get', path: '/registry/history', tag: 'registry', summary: 'Who changed what of the registry, known since when, valid from when; newest first', query: z.strictObject({ site: idText.optional(), ...PAGING }),
    answer: { status: 200, contentType: JSON_TYPE, schema: pageSchema(historySchema), says: 'a page of changes' },
    handle: async ({ query: { site, ...paging } }) => {
      const before = new Map<string, SiteRecord>();
      const lines: RegistryHistoryLine[] = [];
      for (const change of await registry.params.records.registryChanges()) {
        if (site === undefined || change.site.id === site) lines.push({ ...asKept(change), site: change.site.id, fields: siteFieldChanges(before.get(change.site.id), change.site) });
        before.set(change.site.id, change.site);
      }
      return { json: pageOf(lines.reverse(), paging) };
    },
  });
}

/** What the registry is at this moment, in short; another write in between makes another one. */
function stateOf(known: ReadonlyMap<string, RegistryChange>): string {
  const marks = [...known].map(([id, change]) => `${id} ${change.recordedAtMs} ${change.validFromMs}`).sort();
  return createHash('sha256').update(marks.join('\n')).digest('hex').slice(0, 16);
}

function previewOf(known: ReadonlyMap<string, RegistryChange>, text: string): RegistryPreview & { readonly wanted: readonly SiteRecord[] } {
  const state = stateOf(known);
  const file = parseRegistry(text);
  if ('problems' in file) return { problems: file.problems, changes: [], same: [], notInFile: [], state, wanted: [] };
  const changes = file.registry.sites.map((site) => ({ site: site.id, isNew: !known.has(site.id), fields: siteFieldChanges(known.get(site.id)?.site, site) }));
  const differs = new Set(changes.filter((one) => one.isNew || one.fields.length > 0).map((one) => one.site));
  const inFile = new Set(file.registry.sites.map((site) => site.id));
  return {
    problems: [], changes: changes.filter((one) => differs.has(one.site)), same: changes.filter((one) => !differs.has(one.site)).map((one) => one.site), notInFile: [...known.keys()].filter((id) => !inFile.has(id)).sort(), state,
    wanted: file.registry.sites.filter((site) => differs.has(site.id)),
  };
}

function preview(registry: Registry): Route {
  return route({
    method: 'post', path: '/registry/preview', tag: 'registry', summary: 'What a file would change; nothing is changed yet', body: z.strictObject({ text: z.string().max(MOST_TEXT) }),
    answer: { status: 200, contentType: JSON_TYPE, schema: previewSchema, says: 'problems, or changes field by field; sites that are not in the file stay as they are' },
    handle: async ({ body: { text } }) => {
      const { wanted: _wanted, ...shown } = previewOf(await newest(registry), text);
      return { json: shown };
    },
  });
}

function importFile(registry: Registry): Route {
  return route({
    method: 'post', path: '/registry/import', tag: 'registry', summary: 'Take over a file that was looked at in a preview', body: z.strictObject({ by: byText, text: z.string().max(MOST_TEXT), state: z.string().max(64) }), problems: [409],
    answer: { status: 200, contentType: JSON_TYPE, schema: z.strictObject({ sites: z.array(z.string()) }), says: 'the sites that were written' },
    handle: ({ body: { by, text, state } }) =>
      registry.inTurn(async () => {
        const known = await newest(registry);
        const file = previewOf(known, text);
        if (file.problems.length > 0) throw new HttpProblem(400, `Wrong in the file: ${file.problems.map((one) => `${one.where}: ${one.says}`).join('; ')}.`);
        if (file.state !== state) throw new HttpProblem(409, 'The registry was changed since the preview. Look at the preview again, then import.');
        for (const site of file.wanted) await keep(registry, site, known.get(site.id), { by });
        return { json: { sites: file.wanted.map((site) => site.id) } };
      }),
  });
}

function saveSite(registry: Registry): Route {
  return route({
    method: 'post', path: '/registry/sites', tag: 'registry', summary: 'Add a site, or write its fields anew; its generators stay', body: z.strictObject({ ...write, site: siteSchema.omit({ generators: true }) }), problems: [409],
    answer: { status: 200, contentType: JSON_TYPE, schema: keptSchema, says: 'the site as it is kept' },
    handle: ({ body: { site, ...given } }) =>
      registry.inTurn(async () => {
        const before = (await newest(registry)).get(site.id);
        refuseUnseen(before, given.seenRecordedAt);
        return { json: asKept(await keep(registry, { ...site, generators: before?.site.generators ?? [] }, before, given)) };
      }),
  });
}

function saveGenerator(registry: Registry): Route {
  return route({
    method: 'post', path: '/registry/generators', tag: 'registry', summary: 'Add, claim or write anew a generator of a site', body: z.strictObject({ ...write, site: idText, generator: generatorSchema }), problems: [404, 409],
    answer: { status: 200, contentType: JSON_TYPE, schema: keptSchema, says: 'the site as it is kept' },
    handle: ({ body: { site: id, generator, ...given } }) =>
      registry.inTurn(async () => {
        const before = (await newest(registry)).get(id);
        if (before === undefined) throw new HttpProblem(404, `No site has the id ${JSON.stringify(id)}. Add the site first.`);
        refuseUnseen(before, given.seenRecordedAt);
        const others = before.site.generators;
        const generators = others.some((one) => one.id === generator.id) ? others.map((one) => (one.id === generator.id ? generator : one)) : [...others, generator];
        return { json: asKept(await keep(registry, { ...before.site, generators }, before, given)) };
      }),
  });
}

function swap(registry: Registry): Route {
  return route({
    method: 'post', path: '/registry/swap', tag: 'registry', summary: 'The gateways of two generators of a site were exchanged: from now on each is kept under the other id than it arrives with', body: z.strictObject({ ...write, site: idText, one: idText, other: idText }), problems: [404, 409],
    answer: { status: 200, contentType: JSON_TYPE, schema: keptSchema, says: 'the site as it is kept' },
    handle: ({ body: { site: id, one, other, ...given } }) =>
      registry.inTurn(async () => {
        const before = (await newest(registry)).get(id);
        const [first, second] = [one, other].map((wanted) => before?.site.generators.find((generator) => generator.id === wanted));
        if (before === undefined || first === undefined || second === undefined || one === other) throw new HttpProblem(404, `Two generators of one registered site are wanted: ${id} has ${before?.site.generators.map((generator) => generator.id).join(', ') ?? 'no registered generator'}.`);
        refuseUnseen(before, given.seenRecordedAt);
        const published = new Map([[one, second.publishesAs ?? second.id], [other, first.publishesAs ?? first.id]]);
        const generators = before.site.generators.map((generator) => {
          const as = published.get(generator.id);
          if (as === undefined) return generator;
          const { publishesAs: _publishesAs, ...rest } = generator;
          return as === generator.id ? rest : { ...rest, publishesAs: as };
        });
        return { json: asKept(await keep(registry, { ...before.site, generators }, before, given)) };
      }),
  });
}

/** @throws {HttpProblem} 409 when somebody else wrote the site meanwhile. */
function refuseUnseen(before: RegistryChange | undefined, seenRecordedAt: string | null): void {
  const seenMs = seenRecordedAt === null ? undefined : msFromIso(seenRecordedAt);
  if (before?.recordedAtMs === seenMs) return;
  throw new HttpProblem(409, before === undefined ? 'This site is not there any more. Load the page again.' : `${before.by} changed this site at ${isoFromMs(before.recordedAtMs)}. Load the page again, so that nothing of that is lost.`);
}

/** Record a site as it is from a moment on, and tell everybody. The first writing of a site holds for all its past. */
async function keep({ params, changed }: Registry, site: SiteRecord, before: RegistryChange | undefined, { by, validFromAt }: { readonly by: string; readonly validFromAt?: string | undefined }): Promise<RegistryChange> {
  const nowMs = params.clock.nowMs();
  const complete = parsed(siteSchema, site, 'body');
  const twice = publishedTwice(complete);
  if (twice.length > 0) throw new HttpProblem(409, `${twice.map((one) => `${one.where} ${one.says}`).join('; ')}. Readings of two generators would be mixed for good.`);
  const validFromMs = validFromAt === undefined ? (before === undefined ? 0 : nowMs) : Date.parse(validFromAt);
  if (validFromMs > nowMs) throw new HttpProblem(400, 'Wrong in the body: validFromAt must not be in the future; write the change when it has happened.');
  if (before !== undefined && validFromMs < before.validFromMs) throw new HttpProblem(409, `This site has a change that holds since ${isoFromMs(before.validFromMs)}. Give that time or a later one.`);
  // Two changes within one millisecond must still come in order.
  const change: RegistryChange = { validFromMs, recordedAtMs: Math.max(nowMs, (before?.recordedAtMs ?? -1) + 1), by, site: complete };
  const fields = siteFieldChanges(before?.site, complete);
  if (before !== undefined && fields.length === 0) return before;
  await params.records.recordRegistryChange(change);
  await params.records.audit({ atMs: nowMs, by, did: before === undefined ? 'added a site' : 'changed the registry', about: `${complete.id}: ${fields.slice(0, 12).map(fieldChangeWords).join('; ')}${fields.length > 12 ? `; and ${fields.length - 12} more` : ''}` });
  params.onRegistryChange(change);
  changed();
  return change;
}
