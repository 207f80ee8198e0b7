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
import type { CampaignPoint, KeptCampaign } from '../../../shared/world-replay.ts';
import { SMALL_WORLD } from '../commands/small-world.ts';
import { type InventedFleet, inventedFleet, NOW_MS } from './invented-fleet.ts';
import { launchBrowser, openPage, type RealPages, SCREENSHOTS, shoot, startRealPages } from './real-pages.ts';

const point = (asked: number, found: number, value: number): CampaignPoint => ({ settings: { falseFindingsPerYear: asked, baselineDays: 14, smallestChange: 0.1, horizonDays: 365 }, hash: `abcdef${asked}`, generatorYears: 12.3, faults: 40, found, missed: 40 - found, causeRight: found - 3, delayMedianH: 52, falseFindings: Math.round(value * 12.3), falsePerYear: { value, low: value * 0.6, high: value * 1.5 }, bySeverity: [{ severity: 'plain', faults: 20, found: found - 15, missed: 35 - found }, { severity: 'urgent', faults: 20, found: 15, missed: 5 }] });
const CAMPAIGNS: readonly KeptCampaign[] = [
  { id: 'swept', says: 'Campaign 1: 25 generators, 180 days each, tuning seeds 20001 to 20001', purpose: 'tuning', at: '2026-11-20T10:00:00.000Z', version: '0.1.0', generators: 25, days: 180, points: [point(0.05, 20, 1.1), point(0.2, 24, 1.6), point(1, 29, 3.2), point(5, 33, 7)] },
  { id: 'one', says: 'Campaign 2: 25 generators, 180 days each, reporting seeds 40000 to 40000', purpose: 'reporting', at: '2026-11-19T10:00:00.000Z', version: '0.1.0', generators: 25, days: 180, points: [point(0.05, 21, 1.3)] },
];
const folder = mkdtempSync(join(tmpdir(), 'lull-replay-'));
let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;
let runner: ReplayRunner;

beforeAll(async () => {
  fleet = await inventedFleet(4);
  runner = createReplayRunner({ settings: DEFAULT_ANALYSIS_SETTINGS, clock: { nowMs: () => NOW_MS }, log: SILENT_LOG, scratchFolder: join(folder, 'scratch'), stores: { readings: fleet.readings, records: fleet.records, registry: () => fleet.registry }, campaigns: () => CAMPAIGNS, workerFile: pathToFileURL(join(import.meta.dirname, '../../../.build/dashboard/commands/world-replay-worker.js')) });
  pages = await startRealPages(fleet, { replays: runner });
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
  await page.waitForSelector('h1:text("Replay")');
  expect(await page.innerText('main .banner-simulated')).toContain('Invented worlds');
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

test('a stretch of history is chosen and replayed, then rebuilt with a fault under two choices of settings; both say what they are', async () => {
  const { page, context, complaints } = await openPage(browser, { width: 1440, height: 900 });
  await page.goto(`${pages.url}/replay`);
  await page.selectOption('select >> nth=0', 'history');
  expect(await page.innerText('.replay-form')).toContain('What-if on real history.');
  expect(await page.locator('.replay-generators input:checked').count()).toBe(1);
  await page.check('.replay-generators label:has-text("Generator 2") >> nth=0');
  await wellMade(page);
  await page.click('button:text("Run")');
  await page.waitForSelector('#replay-result-title', { timeout: 60_000 });
  expect(await page.innerText('main')).toMatch(/“history of 2 generators”[\s\S]*What-if on real history\. No finding\./);
  expect(await page.innerText('.replay-one >> nth=0')).toContain('Quay cold store 1, Generator 1 (Europe/Lisbon)');
  await page.uncheck('.replay-generators label:has-text("Generator 2") >> nth=0');
  await page.selectOption('select >> nth=0', 'rebuilt');
  await page.fill('input[type=date] >> nth=0', '2026-09-20');
  await page.fill('input[type=date] >> nth=1', '2026-11-20');
  await page.fill('input[type=date] >> nth=2', '2026-10-20');
  await page.click('.replay-choose summary');
  await page.check('.replay-choose input[type=checkbox]');
  await page.fill('fieldset:has-text("Settings B") input >> nth=1', '28');
  await wellMade(page);
  await page.click('button:text("Run")');
  await page.waitForSelector('#replay-compare-title', { timeout: 60_000 });
  const main = await page.innerText('main');
  expect(main).toContain('Rebuilt. The same input under two choices of settings, A and B.');
  expect(await page.innerText('.replay-both')).toMatch(/Days of a baseline\s+14\s+28/);
  expect(await page.innerText('.replay-faults tbody tr')).toMatch(/Leak, marked\s+20 Oct 2026, 00:00\s+still there\s+the next finding opened/);
  expect(main).not.toContain('False findings of');
  await wellMade(page);
  await shoot(page, 'replay-rebuilt-wide');
  expect(complaints).toEqual([]);
  await context.close();
  const phone = await openPage(browser, { width: 390, height: 844 }, true);
  await phone.page.goto(`${pages.url}/replay`);
  await phone.page.waitForSelector('#replay-compare-title');
  await phone.page.selectOption('select >> nth=0', 'rebuilt');
  await wellMade(phone.page);
  await shoot(phone.page, 'replay-rebuilt-phone');
  await phone.context.close();
});

test('kept campaigns are listed, and the operating curve of the chosen one is drawn with its table', async () => {
  const { page, context, complaints } = await openPage(browser, { width: 1440, height: 900 });
  await page.goto(`${pages.url}/replay`);
  await page.waitForSelector('.curve');
  expect(await page.locator('.curve .curve-dot').count()).toBe(4);
  expect(await page.getAttribute('.curve', 'aria-label')).toContain('asked 5: 83 % found at 7.00 false');
  expect(await page.locator('.campaign-points tbody tr').count()).toBe(4);
  expect(await page.innerText('.campaign-points tbody tr >> nth=0')).toMatch(/^0\.05\s+1\.10 \(0\.66 to 1\.65; 14 in 12\.3 years\)\s+50\s%\sof 40/);
  await page.locator('#campaigns-title').scrollIntoViewIfNeeded();
  await page.locator('section[aria-labelledby=campaigns-title]').screenshot({ path: join(SCREENSHOTS, 'replay-campaigns-wide.png') });
  await page.selectOption('section[aria-labelledby=campaigns-title] select', 'one');
  await page.waitForSelector('.campaign-points tbody tr:only-child');
  expect(await page.innerText('section[aria-labelledby=campaigns-title]')).toContain('Reporting seeds: never looked at one by one.');
  expect(complaints).toEqual([]);
  await context.close();
});
