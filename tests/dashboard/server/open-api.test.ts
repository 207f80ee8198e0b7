// Issue: "The main job, end to end": the description and the server agree. Real server.
import { afterAll, beforeAll, expect, test } from 'vitest';
import { visitSchema } from '../../../shared/visit.ts';
import { type InventedServer, keyAt, NOW_MS, startInvented } from './invented-fleet.ts';

type Operation = { operationId: string; parameters: { name: string; in: string; required: boolean; schema: Record<string, unknown> }[]; requestBody?: { content: Record<string, { schema: Record<string, unknown> }> }; responses: Record<string, unknown> };
type Description = { openapi: string; servers: { url: string }[]; paths: Record<string, Record<string, Operation>> };

let world: InventedServer;
let description: Description;
beforeAll(async () => {
  world = await startInvented();
  // One name for every kind of thing, so that each path with an id can be asked.
  await world.records.saveVisit(visitSchema.parse({ id: 'invented-finding-0', site: 'invented-1', generators: ['gen-1'], state: 'planned', plannedFor: '2026-12-01', updatedAt: '2026-11-24T12:00:00Z', updatedBy: 'Ana' }));
  // A check of the id that every path with an id is asked for.
  await world.records.postJob({ id: 'invented-finding-0', kind: 'leaving-check', generator: keyAt(0), postedAtMs: NOW_MS, answeredAtMs: null, answer: null, problem: null });
  await world.records.savePhoto({ visit: 'invented-finding-0', id: 'photo-0', generator: 'gen-1', at: '2026-11-24T12:00:00Z', says: 'as found', jpegBase64: '/9j/AA==' });
  await world.records.issueRecord({ number: 1, revision: 1, kind: 'visit-sheet', subject: 'visit v', site: 'invented-1', generators: ['gen-1'], title: 'Invented', issuedAt: '2026-11-24T12:00:00Z', issuedBy: 'Ana' }, { html: '<p>invented</p>', csv: 'a' });
  description = (await (await fetch(`${world.base}/api/v1/openapi.json`)).json()) as Description;
});
afterAll(() => world.stop());

const ROUTES = [
  'get /audit', 'get /channels', 'get /checks/{id}', 'get /cycles', 'get /days', 'get /findings', 'get /findings/{id}', 'get /gateways', 'get /generators', 'get /generators/{site}/{generator}', 'get /generators/{site}/{generator}/history', 'get /generators/{site}/{generator}/history.csv', 'get /hand-over', 'get /hand-over/notes', 'get /healthz', 'get /live', 'get /notice-rules', 'get /notice-sending', 'get /notices',
  'get /openapi.json', 'get /overview', 'get /packets', 'get /plan', 'get /plan.csv', 'get /quarantine', 'get /ranking', 'get /readings', 'get /readyz', 'get /records', 'get /records/{number}/{revision}', 'get /records/{number}/{revision}/figures.csv', 'get /registry', 'get /registry.yaml', 'get /registry/history', 'get /service-list', 'get /service-list.csv', 'get /sites', 'get /status', 'get /technicians', 'get /tests', 'get /trips', 'get /trips.ics', 'get /trips/{id}', 'get /trips/{id}/calendar.ics', 'get /trips/{id}/photos', 'get /trips/{id}/photos/{photo}', 'get /trips/{id}/revisions', 'get /visits',
  'post /checks', 'post /findings/{id}/acknowledge', 'post /findings/{id}/close', 'post /findings/{id}/note', 'post /findings/{id}/reopen', 'post /findings/{id}/shelve', 'post /findings/{id}/unshelve', 'post /hand-over/notes', 'post /notice-rules', 'post /notice-rules/{id}/remove', 'post /notice-rules/{id}/test', 'post /notices/{id}/retry', 'post /plan/way', 'post /quarantine/release', 'post /readings/typed', 'post /records', 'post /registry/generators', 'post /registry/import', 'post /registry/preview', 'post /registry/sites', 'post /registry/swap', 'post /technicians', 'post /tests', 'post /trips', 'post /trips/{id}/photos', 'post /trips/{id}/work', 'post /visits',
];

test('openApi() lists the contract, no more and no less', () => {
  expect(description.openapi).toBe('3.1.0');
  expect(description.servers).toEqual([{ url: '/api/v1' }]);
  const listed = Object.entries(description.paths).flatMap(([path, operations]) => Object.keys(operations).map((method) => `${method} ${path}`));
  expect(listed.sort()).toEqual(ROUTES);
  const ids = Object.values(description.paths).flatMap((operations) => Object.values(operations).map((one) => one.operationId));
  expect(new Set(ids).size).toBe(ids.length);
});

test('the server answers at every path of the description and with no other method', async () => {
  for (const [path, operations] of Object.entries(description.paths)) {
    const url = world.base + '/api/v1' + path.replace('{site}', 'invented-1').replace('{generator}', 'gen-1').replace('{id}', 'invented-finding-0').replace('{photo}', 'photo-0').replace('{number}', '1').replace('{revision}', '1');
    for (const [method, operation] of Object.entries(operations)) {
      const needed = operation.parameters.filter((one) => one.in === 'query' && one.required).map((one) => `${one.name}=${{ site: 'invented-1', generator: 'gen-1', channel: 'running' }[one.name]}`);
      const cut = new AbortController();
      const response = await fetch(`${url}?${needed.join('&')}`, { method: method.toUpperCase(), signal: cut.signal, ...(method === 'post' && { headers: { 'content-type': 'application/json' }, body: '{}' }) });
      // An empty body is refused, but by the route itself.
      expect([method, path, response.status]).toEqual([method, path, method === 'post' ? 400 : 200]);
      cut.abort();
    }
    const wrong = await fetch(url, { method: 'DELETE' });
    expect([path, wrong.status]).toEqual([path, 405]);
    expect(wrong.headers.get('allow')).toContain(Object.keys(operations)[0]!.toUpperCase());
  }
});

test('every parameter that is described is taken, and every path says what it needs', async () => {
  for (const [path, operations] of Object.entries(description.paths)) {
    for (const name of path.matchAll(/\{(\w+)\}/g)) expect(Object.values(operations)[0]?.parameters).toContainEqual(expect.objectContaining({ name: name[1], in: 'path', required: true }));
    const query = operations['get']?.parameters.filter((one) => one.in === 'query') ?? [];
    if (query.length === 0 || path === '/live') continue;
    const values: Record<string, string> = { site: 'invented-1', generator: path === '/quarantine' ? 'invented-1/gen-1' : 'gen-1', channel: 'running', limit: '1', after: '0', from: '2026-11-01', to: '2026-11-02', buckets: '5', open: 'true', released: 'true', reason: 'malformed', state: 'planned', technician: 'Ana', days: '7', hours: '8' };
    const response = await fetch(`${world.base}/api/v1${path.replace('{id}', 'invented-finding-0').replace('{site}', 'invented-1').replace('{generator}', 'gen-1')}?${query.map((one) => `${one.name}=${values[one.name]}`).join('&')}`);
    expect([path, response.status]).toEqual([path, 200]);
  }
});

test('limits of lists and shapes of bodies come from the schemas that check them', () => {
  const limit = description.paths['/overview']?.['get']?.parameters.find((one) => one.name === 'limit');
  expect(limit).toMatchObject({ in: 'query', required: false, schema: { type: 'integer', minimum: 1, maximum: 1000, default: 200 } });
  const close = description.paths['/findings/{id}/close']?.['post']?.requestBody?.content['application/json']?.schema;
  expect(close).toMatchObject({ type: 'object', required: ['by', 'reason'], additionalProperties: false, properties: { reason: { enum: ['improved', 'not-confirmed', 'false'] } } });
  expect(description.paths['/visits']?.['post']?.requestBody?.content['application/json']?.schema).toMatchObject({ required: ['site', 'generator', 'startedAt', 'by'] });
  expect(Object.keys(description.paths['/findings/{id}/close']?.['post']?.responses ?? {})).toEqual(['200', '400', '403', '404', '409', '413', '415', '500', '503']);
});
