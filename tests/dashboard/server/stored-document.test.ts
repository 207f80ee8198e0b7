// Issue: "The main job, end to end": lists are serialised once a tick and sent to all. Real server.
import { get } from 'node:http';
import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Page, OverviewRow } from '../../../shared/api.ts';
import type { RankingReport } from '../../../shared/finding.ts';
import { type InventedServer, iso, NOW_MS, startInvented } from './invented-fleet.ts';

let world: InventedServer;
beforeAll(async () => {
  world = await startInvented();
});
afterAll(() => world.stop());

function raw(path: string, headers: Record<string, string>): Promise<{ status: number; encoding: string | undefined; bytes: Buffer }> {
  return new Promise((resolve, reject) => {
    get(`${world.base}${path}`, { headers }, (response) => {
      const parts: Buffer[] = [];
      response.on('data', (part: Buffer) => parts.push(part)).on('end', () => resolve({ status: response.statusCode ?? 0, encoding: response.headers['content-encoding'], bytes: Buffer.concat(parts) }));
    }).on('error', reject);
  });
}

test('a list is 304 for whoever has it, until a tick or an action changes it', async () => {
  for (const path of ['/api/v1/ranking', '/api/v1/overview', '/api/v1/service-list', '/api/v1/generators/invented-1/gen-1']) {
    const first = await fetch(world.base + path);
    const etag = first.headers.get('etag') ?? '';
    expect(etag).toMatch(/^"[\w-]+"$/);
    const again = await fetch(world.base + path, { headers: { 'if-none-match': etag, 'cache-control': 'max-age=0' } });
    expect([path, again.status, (await again.text()).length]).toEqual([path, 304, 0]);
    expect((await fetch(world.base + path, { headers: { 'if-none-match': '"other"' } })).status).toBe(200);
  }
  const etag = (await fetch(`${world.base}/api/v1/overview`)).headers.get('etag') ?? '';
  await fetch(`${world.base}/api/v1/findings/invented-finding-0/acknowledge`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: '{"by":"Ana"}' });
  expect((await fetch(`${world.base}/api/v1/overview`, { headers: { 'if-none-match': etag } })).status).toBe(200);
});

test('ticked() brings what analysis wrote since', async () => {
  const report = (await world.records.report()) as RankingReport;
  await world.records.saveAnalysis({ tickMs: NOW_MS + 600_000, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report: { ...report, at: iso(NOW_MS + 600_000), ranking: report.ranking.slice(0, 2) } });
  expect(((await (await fetch(`${world.base}/api/v1/ranking`)).json()) as RankingReport).at).toBe(iso(NOW_MS));
  world.server.ticked();
  await expect.poll(async () => ((await (await fetch(`${world.base}/api/v1/ranking`)).json()) as RankingReport).at).toBe(iso(NOW_MS + 600_000));
  const { items } = (await (await fetch(`${world.base}/api/v1/overview`)).json()) as Page<OverviewRow>;
  expect(items.slice(0, 3).map((row) => row.because)).toEqual(['-5 % delivery, +62 % demand', '-5 % delivery, +62 % demand', 'heard for the first time; analysis looks at it at the next tick']);
});

test('registryChanged() brings new names without a tick', async () => {
  const first = world.registered[0]!;
  world.registered[0] = { ...first, site: { ...first.site, name: 'Renamed warehouse' } };
  world.server.registryChanged();
  await expect.poll(async () => ((await (await fetch(`${world.base}/api/v1/overview`)).json()) as Page<OverviewRow>).items[0]?.siteName).toBe('Renamed warehouse');
});

test('gzip and brotli carry the same bytes as the plain answer', async () => {
  const plain = await raw('/api/v1/overview', { 'accept-encoding': 'identity' });
  const gzip = await raw('/api/v1/overview', { 'accept-encoding': 'gzip' });
  const brotli = await raw('/api/v1/overview', { 'accept-encoding': 'br, gzip' });
  expect([plain.encoding, gzip.encoding, brotli.encoding]).toEqual([undefined, 'gzip', 'br']);
  expect(gunzipSync(gzip.bytes).equals(plain.bytes)).toBe(true);
  expect(brotliDecompressSync(brotli.bytes).equals(plain.bytes)).toBe(true);
  expect(gzip.bytes.length).toBeLessThan(plain.bytes.length / 4);
});
