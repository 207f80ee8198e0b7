// Issue: "The main job, end to end": the pages that vite built, or a clear word when it didn't. Real server, real files.
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type InventedServer, startInvented } from './invented-fleet.ts';

let folder: string;
let world: InventedServer;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'lull-web-'));
  await mkdir(join(folder, 'assets'));
  await writeFile(join(folder, 'index.html'), '<!doctype html><title>the page</title>');
  await writeFile(join(folder, 'assets', 'main-a1b2c3.js'), 'export {};');
  await writeFile(join(folder, 'icon.svg'), '<svg xmlns="http://www.w3.org/2000/svg"/>');
  world = await startInvented({ webFolder: folder });
});
afterAll(async () => {
  await world.stop();
  await rm(folder, { recursive: true, force: true });
});

test('staticPages() keeps hashed assets for good and asks for the page anew each time', async () => {
  const asset = await fetch(`${world.base}/assets/main-a1b2c3.js`);
  expect([asset.status, asset.headers.get('cache-control'), await asset.text()]).toEqual([200, 'public, max-age=31536000, immutable', 'export {};']);
  expect(asset.headers.get('content-type')).toContain('javascript');
  const page = await fetch(`${world.base}/`);
  expect([page.status, page.headers.get('cache-control')]).toEqual([200, 'no-cache']);
  expect((await fetch(`${world.base}/icon.svg`)).headers.get('cache-control')).toBe('no-cache');
});

test('staticPages() gives the page for every path of a page, and 404 for a file that is not there', async () => {
  for (const path of ['/', '/generator/invented-1/gen-1', '/service-list', '/gateways?x=1']) {
    const page = await fetch(world.base + path);
    expect([path, page.status, await page.text()]).toEqual([path, 200, '<!doctype html><title>the page</title>']);
  }
  for (const path of ['/assets/gone-d4e5.js', '/robots.txt', '/..%2f..%2fetc%2fpasswd.txt']) expect([path, (await fetch(world.base + path)).status]).toEqual([path, 404]);
  expect((await fetch(`${world.base}/`, { method: 'POST' })).status).toBe(405);
});

test('staticPages() says how to build the pages when they are not', async () => {
  const bare = await startInvented();
  const page = await fetch(`${bare.base}/`);
  expect([page.status, page.headers.get('content-type')]).toEqual([503, 'text/html; charset=utf-8']);
  expect(await page.text()).toContain('npm run build');
  await bare.stop();
});
