import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import type { Status } from '../../../shared/api.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { startServer } from '../../../dashboard/server/server.ts';
import type { ServerParams } from '../../../dashboard/server/server-params.ts';
import { findProgram, SERVERS } from '../../servers.mjs';
import { type InventedFleet, NOW_MS } from './invented-fleet.ts';

const ROOT = join(import.meta.dirname, '../../..');
export const SCREENSHOTS = join(ROOT, '.build/screenshots');
/** The pages of the product, as the build before the tests made them. */
export const PAGES_FOLDER = join(ROOT, '.build/web');
export const BROWSER = process.env['LULL_TEST_CHROMIUM'] ?? SERVERS['chromium']!.programs[0]!.map(findProgram).find((path) => path !== undefined) ?? 'chromium';
export const BROWSER_FLAGS: string[] = ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];

export type RealPages = { readonly url: string; readonly server: Awaited<ReturnType<typeof startServer>>; readonly setStatus: (changes: Partial<Status>) => void; readonly stop: () => Promise<void> };

/** The real server over a fleet's stores, with the pages of the product. */
export async function startRealPages(fleet: InventedFleet, more: Partial<ServerParams> = {}): Promise<RealPages> {
  let changes: Partial<Status> = {};
  const server = await startServer({
    host: '127.0.0.1', port: 0, webFolder: PAGES_FOLDER, readings: fleet.readings, records: fleet.records, registry: { current: () => fleet.registry },
    ingest: {
      recentPackets: () => [{ at: new Date(NOW_MS - 20_000).toISOString(), topic: 'lull/v1/site-1/gen-1/readings', payload: '[{"n":"tank-pressure","u":"Pa","v":652000}]', readings: 1, refused: [] }],
      sentUnit: (_generator, channel) => (channel === 'tank-pressure' ? 'Pa' : null),
      heard: () => undefined,
      typeIn: async () => [],
      release: async (ids) => ({ released: 0, stillRefused: ids.length }),
    },
    notices: { mailFrom: null, publicUrl: null, test: async () => { throw new Error('no rule is tested here'); }, retry: async () => undefined },
    status: () => ({ ...fleet.status(), ...changes }), clock: { nowMs: () => NOW_MS }, log: SILENT_LOG, simulated: true, onEntry: () => undefined, onRegistryChange: () => server.registryChanged(), onClosing: () => undefined, ...more,
  });
  return { url: `http://127.0.0.1:${server.port}`, server, setStatus: (next) => void (changes = { ...changes, ...next }), stop: () => server.stop() };
}

export function launchBrowser(): Promise<Browser> {
  return chromium.launch({ executablePath: BROWSER, args: BROWSER_FLAGS });
}

export type Seen = { readonly page: Page; readonly context: BrowserContext; readonly complaints: string[] };

/** A page of one size; whatever the browser complains about is kept. */
export async function openPage(browser: Browser, size: { readonly width: number; readonly height: number }, dark = false): Promise<Seen> {
  const context = await browser.newContext({ viewport: size, colorScheme: dark ? 'dark' : 'light', timezoneId: 'America/New_York', locale: 'en-US' });
  const page = await context.newPage();
  const complaints: string[] = [];
  page.on('console', (message) => void (message.type() === 'error' || message.type() === 'warning' ? complaints.push(message.text()) : undefined));
  page.on('pageerror', (error) => void complaints.push(String(error)));
  page.on('response', (response) => void (response.status() >= 400 ? complaints.push(`${response.status()} ${response.url()}`) : undefined));
  return { page, context, complaints };
}

const SLICE_PX = 1500;

/** With LULL_TEST_SHOTS=yes keep what a reader would see, in slices short enough to be looked at in their own size; at most three of them. */
export async function shoot(page: Page, name: string): Promise<void> {
  if (process.env['LULL_TEST_SHOTS'] !== 'yes') return;
  mkdirSync(SCREENSHOTS, { recursive: true });
  const [width, height] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollHeight] as const);
  for (let slice = 0; slice < 3 && slice * SLICE_PX < height; slice += 1) {
    await page.screenshot({ path: join(SCREENSHOTS, `${name}-${slice + 1}.png`), fullPage: true, clip: { x: 0, y: slice * SLICE_PX, width, height: Math.min(SLICE_PX, height - slice * SLICE_PX) } });
  }
}
