// Issue: "The main job, end to end": until there are accounts the pages answer to this machine alone. Real server.
import { connect } from 'node:net';
import { request as httpRequest } from 'node:http';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { ConfigError, StoreError } from '../../../shared/errors.ts';
import { type InventedServer, startInvented } from './invented-fleet.ts';

let world: InventedServer;
beforeAll(async () => {
  world = await startInvented();
});
afterAll(() => world.stop());

type Answer = { readonly status: number; readonly headers: NodeJS.Dict<string | string[]>; readonly text: string };

/** By node:http, as fetch doesn't let Host be set. */
function ask(method: string, path: string, headers: Record<string, string>, body?: string): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const request = httpRequest({ host: '127.0.0.1', port: world.server.port, method, path, headers }, (response) => {
      let text = '';
      response.setEncoding('utf8').on('data', (part: string) => (text += part)).on('end', () => resolve({ status: response.statusCode ?? 0, headers: response.headers, text }));
    });
    request.on('error', reject).end(body);
  });
}

test('startServer() refuses to listen for the whole network and says what to do', async () => {
  for (const host of ['0.0.0.0', '::', '192.168.1.5', 'lull.example']) {
    const started = startInvented({ change: { host } });
    await expect(started).rejects.toThrow(ConfigError);
    await expect(started).rejects.toThrow(/LULL_HTTP_HOST to 127\.0\.0\.1.*reverse proxy/);
  }
});

test('startServer() says which setting to change when the port is taken', async () => {
  await expect(startInvented({ port: world.server.port })).rejects.toThrow(/Cannot listen on port \d+ as something else does\. Set LULL_HTTP_PORT/);
});

test('requests are answered under names of this machine only', async () => {
  for (const host of ['localhost', `localhost:${world.server.port}`, '127.0.0.1:9', '[::1]:4280', 'LOCALHOST:1']) expect([host, (await ask('GET', '/api/v1/healthz', { host })).status]).toEqual([host, 200]);
  for (const host of ['rebound.example', 'localhost.rebound.example', '127.0.0.1.rebound.example', 'user@localhost', '10.0.0.1', '127.0.0.2']) {
    for (const path of ['/api/v1/ranking', '/', '/assets/a.js']) {
      const answer = await ask('GET', path, { host });
      expect([host, path, answer.status]).toEqual([host, path, 403]);
      expect(answer.text).not.toContain('invented-1');
    }
  }
});

test('a request that names no host is refused', async () => {
  const answer = await new Promise<string>((resolve, reject) => {
    let text = '';
    const socket = connect(world.server.port, '127.0.0.1', () => socket.write('GET /api/v1/ranking HTTP/1.0\r\n\r\n'));
    socket.setEncoding('utf8').on('data', (part: string) => (text += part)).on('end', () => resolve(text)).on('error', reject);
  });
  expect(answer).toMatch(/^HTTP\/1\.1 403 /);
});

test('writing is taken from own pages and from programs, from no other page', async () => {
  const own = `127.0.0.1:${world.server.port}`;
  const path = '/api/v1/findings/invented-finding-0/note';
  const body = JSON.stringify({ by: 'Ana', note: 'seen' });
  const write = (headers: Record<string, string>): Promise<Answer> => ask('POST', path, { host: own, 'content-type': 'application/json', ...headers }, body);
  expect((await write({})).status).toBe(200);
  expect((await write({ origin: `http://${own}` })).status).toBe(200);
  for (const origin of ['http://rebound.example', 'null', 'http://localhost:1', `http://${own}.rebound.example`, 'file://']) expect([origin, (await write({ origin })).status]).toEqual([origin, 403]);
  expect(await world.records.actions({ finding: 'invented-finding-0' })).toHaveLength(2);
});

test('a body must be JSON, and of at most 1 MB', async () => {
  const path = '/api/v1/findings/invented-finding-0/note';
  const host = '127.0.0.1';
  const send = (type: string, body: string): Promise<Answer> => ask('POST', path, { host, 'content-type': type }, body);
  expect((await send('text/plain', '{"by":"Ana","note":"seen"}')).status).toBe(415);
  expect((await send('application/x-www-form-urlencoded', 'by=Ana&note=seen')).status).toBe(415);
  const broken = await send('application/json', '{"by":');
  expect([broken.status, broken.headers['content-type']]).toEqual([400, 'application/problem+json; charset=utf-8']);
  expect(broken.text).toContain('no JSON');
  const large = await send('application/json', JSON.stringify({ by: 'Ana', note: 'x'.repeat(1_100_000) }));
  expect(large.status).toBe(413);
  expect(JSON.parse(large.text)).toMatchObject({ detail: expect.stringContaining('1 MB') });
});

test('every answer forbids foreign script, frames and guessing of types, and says that the data are simulated', async () => {
  for (const path of ['/api/v1/ranking', '/api/v1/no-such', '/', '/no-such.js']) {
    const { headers } = await ask('GET', path, { host: 'localhost' });
    expect(headers['content-security-policy']).toMatch(/default-src 'self'.*frame-ancestors 'none'/);
    expect(headers['content-security-policy']).not.toContain('unsafe');
    expect(headers['x-content-type-options']).toBe('nosniff');
    expect(headers['lull-simulated']).toBe('true');
    expect(headers['x-powered-by']).toBeUndefined();
  }
});

test('a store that is down is 503 with a word on what to do, nothing of its inside, and lists go on as they were', async () => {
  const broken = await startInvented();
  await (await fetch(`${broken.base}/api/v1/ranking`)).arrayBuffer();
  const down = async (): Promise<never> => {
    throw new StoreError('disk I/O error at /secret/path');
  };
  Object.assign(broken.records, { report: down, findings: down });
  broken.server.ticked();
  const response = await fetch(`${broken.base}/api/v1/findings`);
  expect(response.status).toBe(503);
  expect(response.headers.get('retry-after')).toBe('5');
  expect(await response.text()).not.toContain('secret');
  expect((await fetch(`${broken.base}/api/v1/ranking`)).status).toBe(200);
  await broken.stop();
});

test('stop() ends within 3 s although a stream and a silent connection are open', async () => {
  const other = await startInvented();
  const stream = await fetch(`${other.base}/api/v1/live`);
  const silent = connect(other.server.port, '127.0.0.1');
  const silentClosed = new Promise((resolve) => silent.on('close', resolve).on('error', () => undefined));
  await new Promise((resolve) => silent.on('connect', resolve));
  silent.write('GET / HT');
  const startMs = performance.now();
  await other.server.stop();
  expect(performance.now() - startMs).toBeLessThan(3000);
  // The stream was ended in good order: its text can be read to the end.
  expect(await stream.text()).toContain('event: status');
  await silentClosed;
});
