// Issue: "Screens for four people", settings: the registry is changed by form or file, with who, since when and known when; a file shows what it changes first. Real server, real SQLite file.
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Page } from '../../../shared/api.ts';
import type { FieldChange, RegistryAnswer, RegistryHistoryLine, RegistryPreview, SiteAsKept } from '../../../shared/settings-api.ts';
import { type InventedServer, iso, keyAt, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
const typed: { topic: string; payload: string }[] = [];
let refusal: readonly { readonly says: string }[] = [];
beforeAll(async () => {
  world = await startInvented({
    change: {
      ingest: {
        recentPackets: () => [], sentUnit: () => null, heard: () => undefined, release: async () => ({ released: 0, stillRefused: 0 }),
        typeIn: async (topic, payload) => {
          typed.push({ topic, payload });
          return refusal;
        },
      },
    },
  });
});
afterAll(() => world.stop());

const get = async <T>(path: string): Promise<T> => (await (await fetch(`${world.base}/api/v1${path}`)).json()) as T;
// oxlint-disable-next-line typescript/no-unnecessary-type-parameters -- what comes back is what the caller says; each test then looks at it.
async function post<T = Record<string, unknown>>(path: string, body: unknown): Promise<{ status: number; body: T }> {
  const response = await fetch(`${world.base}/api/v1${path}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  return { status: response.status, body: (await response.json()) as T };
}
const siteNow = async (id: string): Promise<SiteAsKept | undefined> => (await get<RegistryAnswer>('/registry')).sites.find((one) => one.site.id === id);
const words = (fields: readonly FieldChange[]): string[] => fields.map((one) => `${one.where}: ${one.from ?? '–'} → ${one.to ?? '–'}`);

test('POST /registry/sites and /generators register, claim and change, each with who, since when and known when', async () => {
  const made = await post<SiteAsKept>('/registry/sites', { by: 'Ana', seenRecordedAt: null, site: { id: 'dock-9', name: 'Dock 9', timeZone: 'Europe/Lisbon' } });
  expect(made).toMatchObject({ status: 200, body: { by: 'Ana', validFrom: iso(0), recordedAt: iso(NOW_MS), site: { id: 'dock-9', generators: [] } } });
  world.nowMs += 60_000;
  const claimed = await post<SiteAsKept>('/registry/generators', { by: 'Ana', seenRecordedAt: made.body.recordedAt, site: 'dock-9', generator: { id: 'gen-1', tankLitres: 115 } });
  expect(claimed.body.site.generators).toMatchObject([{ id: 'gen-1', tankLitres: 115, limits: { dutyRatio: 0.5 } }]);
  world.nowMs += 60_000;
  const since = iso(world.nowMs - 30_000);
  const changed = await post<SiteAsKept>('/registry/generators', { by: 'Rui', seenRecordedAt: claimed.body.recordedAt, validFromAt: since, site: 'dock-9', generator: { ...claimed.body.site.generators[0], cutOutKPa: 700, limits: { dutyRatio: 0.35 } } });
  expect(changed).toMatchObject({ status: 200, body: { by: 'Rui', validFrom: since, recordedAt: iso(world.nowMs) } });
  expect(world.told.registry.map((one) => `${one.by} ${one.site.id} ${one.site.generators.length}`)).toEqual(['Ana dock-9 0', 'Ana dock-9 1', 'Rui dock-9 1']);
  const lines = (await get<Page<RegistryHistoryLine>>('/registry/history?site=dock-9')).items;
  expect(lines.map((one) => one.by)).toEqual(['Rui', 'Ana', 'Ana']);
  expect(words(lines[0]!.fields)).toEqual(['gen-1 › cutOutKPa: – → 700', 'gen-1 › limits › dutyRatio: 0.5 → 0.35']);
  expect((await get<Page<{ by: string; did: string; about: string }>>('/audit')).items[0]).toMatchObject({ by: 'Rui', did: 'changed the registry', about: 'dock-9: gen-1 › cutOutKPa: 700; gen-1 › limits › dutyRatio: 0.5 → 0.35' });
});

test('a change is refused that was made without seeing another, lies in the future, or holds from before a later one', async () => {
  const seen = await siteNow('dock-9');
  const body = { by: 'Ana', site: { id: 'dock-9', name: 'Dock nine' } };
  expect(await post('/registry/sites', { ...body, seenRecordedAt: iso(NOW_MS) })).toMatchObject({ status: 409, body: { detail: expect.stringContaining('Rui changed this site') } });
  expect(await post('/registry/sites', { ...body, seenRecordedAt: null })).toMatchObject({ status: 409 });
  expect(await post('/registry/sites', { ...body, seenRecordedAt: seen!.recordedAt, validFromAt: iso(world.nowMs + 1) })).toMatchObject({ status: 400 });
  expect(await post('/registry/sites', { ...body, seenRecordedAt: seen!.recordedAt, validFromAt: iso(NOW_MS) })).toMatchObject({ status: 409, body: { detail: expect.stringContaining('holds since') } });
  expect(await post('/registry/generators', { by: 'Ana', seenRecordedAt: null, site: 'nowhere', generator: { id: 'gen-1' } })).toMatchObject({ status: 404 });
  expect(await post('/registry/generators', { by: 'Ana', seenRecordedAt: seen!.recordedAt, site: 'dock-9', generator: { id: 'gen-2', publishesAs: 'gen-1' } })).toMatchObject({ status: 409, body: { detail: expect.stringContaining('mixed') } });
  expect((await siteNow('dock-9'))?.recordedAt).toBe(seen!.recordedAt);
});

test('of two who change one site at the same moment, one is told of the other', async () => {
  const seen = await siteNow('dock-9');
  world.nowMs += 60_000;
  const both = await Promise.all(['Ana', 'Rui'].map((by) => post('/registry/sites', { by, seenRecordedAt: seen!.recordedAt, site: { id: 'dock-9', name: `Dock of ${by}` } })));
  expect(both.map((one) => one.status).sort((a, b) => a - b)).toEqual([200, 409]);
});

test('POST /registry/swap keeps each generator under the other id, and back again', async () => {
  const seen = await siteNow('dock-9');
  const two = await post<SiteAsKept>('/registry/generators', { by: 'Ana', seenRecordedAt: seen!.recordedAt, site: 'dock-9', generator: { id: 'gen-2' } });
  const swapped = await post<SiteAsKept>('/registry/swap', { by: 'Ana', seenRecordedAt: two.body.recordedAt, site: 'dock-9', one: 'gen-1', other: 'gen-2' });
  expect(swapped.body.site.generators.map((one) => one.publishesAs)).toEqual(['gen-2', 'gen-1']);
  const back = await post<SiteAsKept>('/registry/swap', { by: 'Ana', seenRecordedAt: swapped.body.recordedAt, site: 'dock-9', one: 'gen-2', other: 'gen-1' });
  expect(back.body.site.generators.map((one) => one.publishesAs)).toEqual([undefined, undefined]);
  expect(await post('/registry/swap', { by: 'Ana', seenRecordedAt: back.body.recordedAt, site: 'dock-9', one: 'gen-1', other: 'gen-9' })).toMatchObject({ status: 404 });
});

test('the file that is exported changes nothing when it is imported; an edited one shows each field first', async () => {
  const text = await (await fetch(`${world.base}/api/v1/registry.yaml`)).text();
  const same = await post<RegistryPreview>('/registry/preview', { text });
  expect(same.body).toMatchObject({ problems: [], changes: [], same: ['dock-9'], notInFile: [] });
  const edited = `${text.replace('tankLitres: 115', 'tankLitres: 120')}  - id: mill-4\n    generators: [{ id: gen-1 }]\n`;
  const shown = await post<RegistryPreview>('/registry/preview', { text: edited });
  expect(shown.body.changes.map((one) => [one.site, one.isNew, words(one.fields)])).toEqual([['dock-9', false, ['gen-1 › tankLitres: 115 → 120']], ['mill-4', true, expect.arrayContaining(['gen-1: – → listed'])]]);
  expect((await siteNow('mill-4'))).toBeUndefined();
  expect(await post('/registry/import', { by: 'Ana', text: edited, state: 'another' })).toMatchObject({ status: 409 });
  expect(await post('/registry/import', { by: 'Ana', text: edited, state: shown.body.state })).toMatchObject({ status: 200, body: { sites: ['dock-9', 'mill-4'] } });
  expect((await siteNow('dock-9'))?.site.generators[0]?.tankLitres).toBe(120);
  expect(await post('/registry/import', { by: 'Ana', text: edited, state: shown.body.state })).toMatchObject({ status: 409 });
  const wrong = await post<RegistryPreview>('/registry/preview', { text: 'sites: [{ id: Dock 9, generators: [{ id: gen-1, tankLitres: -3 }] }]' });
  expect(wrong.body.problems.map((one) => one.where)).toEqual(['sites.0.id', 'sites.0.generators.0.tankLitres']);
  expect((await post<RegistryPreview>('/registry/preview', { text: 'sites: [' })).body.problems[0]?.where).toBe('file');
  expect((await post<RegistryPreview>('/registry/preview', { text: 'sites: [{ id: mill-4, generators: [{ id: gen-1 }] }]' })).body).toMatchObject({ changes: [], notInFile: ['dock-9'] });
});

test('POST /readings/typed goes through the door of all readings, and a slip of the finger is asked about', async () => {
  const [site, generator] = keyAt(0).split('/');
  const body = { by: 'Rui', site, generator, channel: 'run-time', at: iso(world.nowMs - 1000) };
  expect(await post('/readings/typed', { ...body, value: 123_456.5 })).toMatchObject({ status: 201 });
  expect(typed).toEqual([{ topic: `lull/v1/${keyAt(0)}/readings`, payload: JSON.stringify([{ n: 'run-time', u: 'h', t: (world.nowMs - 1000) / 1000, v: 123_456.5 }]) }]);
  expect(await post('/readings/typed', { ...body, at: iso(world.nowMs + 1), value: 1 })).toMatchObject({ status: 400 });
  expect(await post('/readings/typed', { ...body, generator: 'nobody', value: 1 })).toMatchObject({ status: 404 });
  refusal = [{ says: 'the value is out of range.' }];
  expect(await post('/readings/typed', { ...body, value: 123_457 })).toMatchObject({ status: 422, body: { detail: 'It was not taken: the value is out of range.' } });
  refusal = [];
  await world.readings.append({ series: [{ generator: keyAt(0), channel: 'starts' }], seriesIndex: Uint32Array.of(0), atMs: Float64Array.of(world.nowMs - 5000), value: Float64Array.of(500), quality: Uint8Array.of(0), receivedMs: Float64Array.of(world.nowMs) });
  expect(await post('/readings/typed', { ...body, channel: 'starts', value: 499 })).toMatchObject({ status: 409, body: { detail: expect.stringContaining('stood at 500 starts') } });
  expect(await post('/readings/typed', { ...body, channel: 'starts', value: 12, meterWasReset: true })).toMatchObject({ status: 201 });
});
