// Issue: "Worlds", the engineer's page: a scenario is run from the page, and truth, findings and rest band are seen. World: small ones of the simulator.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import axe from 'axe-core';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createReplayRunner, type ReplayRunner } from '../../../dashboard/commands/replay-runner.ts';
import { DEFAULT_ANALYSIS_SETTINGS, hashOfSettings } from '../../../shared/analysis-settings.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { SMALL_WORLD } from '../commands/small-world.ts';
import { type InventedFleet, inventedFleet, NOW_MS } from './invented-fleet.ts';
import { buildPages, launchBrowser, openPage, type RealPages, shoot, startRealPages } from './real-pages.ts';

const folder = mkdtempSync(join(tmpdir(), 'lull-replay-'));
let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;
let runner: ReplayRunner;

beforeAll(async () => {
  const webFolder = join(folder, '.build/web');
  await buildPages(webFolder);
  fleet = await inventedFleet(4);
  runner = createReplayRunner({ settings: DEFAULT_ANALYSIS_SETTINGS, clock: { nowMs: () => NOW_MS }, log: SILENT_LOG, workerFile: pathToFileURL(join(import.meta.dirname, '../../../.build/dashboard/commands/world-replay-worker.js')) });
  pages = await startRealPages(fleet, webFolder, { replays: runner });
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser?.close();
  await runner?.stop();
  await pages?.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** No sideways scrolling, and nothing that axe-core finds. */
async function wellMade(page: Page): Promise<void> {
  const [inner, scroll] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollWidth] as const);
  expect(scroll).toBeLessThanOrEqual(inner);
  await page.evaluate(axe.source);
  const violations = await page.evaluate(async () => {
    type Violation = { id: string; nodes: { html: string }[] };
    const runner = (window as unknown as { axe: { run: (context: Document, options: unknown) => Promise<{ violations: Violation[] }> } }).axe;
    return (await runner.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations.map((one) => `${one.id}: ${one.nodes.slice(0, 2).map((node) => node.html).join(' | ')}`);
  });
  expect(violations).toEqual([]);
}

test('a pasted scenario is run from the page and shown, on a desk and on a phone, in light and dark, and leaves the stores as they were', async () => {
  const before = [JSON.stringify(await fleet.records.report()), (await fleet.readings.series()).length, (await fleet.records.registryChanges()).length];
  const { page, context, complaints } = await openPage(browser, { width: 1440, height: 900 });
  await page.goto(pages.url);
  await page.click('nav >> text=Replay');
  await page.waitForSelector('h1:text("Replay of an invented world")');
  expect(await page.innerText('main .banner-simulated')).toContain('invented');
  await page.selectOption('select >> nth=0', 'text');
  await page.fill('textarea', SMALL_WORLD);
  await wellMade(page);
  await page.click('button:text("Run")');
  await page.waitForSelector('progress.replay-progress');
  await page.waitForSelector('#replay-result-title', { timeout: 60_000 });
  const main = await page.innerText('main');
  expect(main).toContain('Of 1 true fault 1 found, 0 missed.');
  expect(main).toContain(hashOfSettings(DEFAULT_ANALYSIS_SETTINGS));
  expect(main).toMatch(/False findings \(0\)\s+None\./);
  expect(await page.innerText('.replay-faults tbody tr')).toMatch(/small-yard \/ gen-1\s+Leak, urgent[\s\S]*still there\s+found after [\d.]+ [hd], cause right/);
  expect(await page.locator('.replay-one').count()).toBe(2);
  // On one axis: truth begins where its day stands in the band below it.
  const first = page.locator('.replay-one').first();
  const [truth, day] = await Promise.all([first.locator('.replay-truth').boundingBox(), first.locator('.band-day', { hasText: '29 Jan' }).boundingBox()]);
  expect(Math.abs((truth?.x ?? 0) - (day?.x ?? 99))).toBeLessThan(2);
  expect((truth?.y ?? 1e9) < (day?.y ?? 0)).toBe(true);
  await wellMade(page);
  await shoot(page, 'replay-wide');
  await context.close();
  expect(complaints).toEqual([]);
  for (const dark of [false, true]) {
    const phone = await openPage(browser, { width: 390, height: 844 }, dark);
    await phone.page.goto(`${pages.url}/replay`);
    await phone.page.waitForSelector('.replay-one .replay-right');
    await phone.page.waitForTimeout(200);
    await wellMade(phone.page);
    await shoot(phone.page, `replay-phone-${dark ? 'dark' : 'light'}`);
    expect(phone.complaints).toEqual([]);
    await phone.context.close();
  }
  expect([JSON.stringify(await fleet.records.report()), (await fleet.readings.series()).length, (await fleet.records.registryChanges()).length]).toEqual(before);
});

test('what can’t be run is said with its reasons; a run is cancelled from the page, and a second one is refused meanwhile', async () => {
  const { page, context } = await openPage(browser, { width: 390, height: 844 });
  await page.goto(`${pages.url}/replay`);
  await page.selectOption('select >> nth=0', 'random');
  await page.fill('input >> nth=0', '8');
  await page.fill('input >> nth=1', '41');
  await page.click('button:text("Run")');
  await page.waitForSelector('[role=alert]');
  expect(await page.innerText('[role=alert]')).toMatch(/Seed 8 is even[\s\S]*at most 40 generators: here are 41/);
  await page.fill('input >> nth=0', '9');
  await page.fill('input >> nth=1', 'some');
  await page.click('button:text("Run")');
  await page.waitForSelector('[role=alert]:has-text("generators: ")');
  await page.fill('input >> nth=1', '40');
  await page.fill('input >> nth=2', '200');
  await page.click('button:text("Run")');
  await page.waitForSelector('progress.replay-progress');
  const second = await fetch(`${pages.url}/api/v1/replays`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ text: SMALL_WORLD }) });
  expect([second.status, ((await second.json()) as { detail: string }).detail]).toEqual([409, expect.stringMatching(/^One replay runs at a time, and “random 9” is on its way/)]);
  const mixed = await fetch(`${pages.url}/api/v1/replays`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ text: SMALL_WORLD, days: 3 }) });
  expect(mixed.status).toBe(400);
  await page.click('button:text("Cancel")');
  await page.waitForSelector('text=cancelled at');
  expect(await page.locator('progress').count()).toBe(0);
  expect(await page.isEnabled('button:text("Run")')).toBe(true);
  await context.close();
});
