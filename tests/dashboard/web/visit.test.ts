// Issue: a visit on a phone: step by step with the words of care, without signal, through a dead battery, sent once. Real server and browser.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import axe from 'axe-core';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { chromium } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { siteSchema } from '../../../shared/registry.ts';
import { visitSchema } from '../../../shared/visit.ts';
import { type InventedFleet, inventedFleet, NOW_MS } from './invented-fleet.ts';
import { type CutLine, cutLine } from './cut-line.ts';
import { BROWSER, BROWSER_FLAGS, launchBrowser, openPage, type RealPages, SCREENSHOTS, shoot, startRealPages } from './real-pages.ts';

const PHONE = { width: 390, height: 844 };
let fleet: InventedFleet;
let pages: RealPages;
let line: CutLine;
let browser: Browser;
const folder = mkdtempSync(join(tmpdir(), 'lull-visit-'));

/** A site as a technician finds it: risers, valves, address. */
function furnished(one: InventedFleet['registry'][number]): InventedFleet['registry'][number] {
  if (one.site.id !== 'site-1') return one;
  const risers = [{ id: 'riser-1', setKPa: 240, lowPressureKPa: 180, pipeLitres: 2300 }, { id: 'riser-2', setKPa: 240, lowPressureKPa: 180, pipeLitres: 3100 }];
  const valves = [{ name: 'supply to riser 1', normal: 'open' }, { name: 'sample bleed', normal: 'shut' }, { name: 'bypass of the regulator', normal: 'shut' }];
  const site = siteSchema.parse({ ...one.site, address: '7 Invented Quay, Lisbon', generators: one.site.generators.map((generator) => ({ ...generator, risers, valves })) });
  return { ...one, site, generator: site.generators.find((generator) => generator.id === one.generator.id)! };
}

beforeAll(async () => {
  const bare = await inventedFleet(8, 60);
  fleet = { ...bare, registry: bare.registry.map(furnished) };
  pages = await startRealPages(fleet);
  line = await cutLine(pages.server.port);
  pages = { ...pages, url: line.url };
  browser = await launchBrowser();
  const plan = { site: 'site-1', generators: ['gen-1'], state: 'planned', plannedFor: '2026-11-24', technician: 'A. Invented', bring: ['drain rebuild parts', 'o-rings for the bowls'], findings: ['finding-0'], note: 'keys at the gate', updatedAt: new Date(NOW_MS).toISOString(), updatedBy: 'Desk' };
  for (const id of ['planned-1', 'planned-2', 'planned-3', 'planned-4', 'planned-5']) await fleet.records.saveVisit(visitSchema.parse({ id, ...plan }));
});
afterAll(async () => {
  await browser?.close();
  await line?.stop();
  await pages?.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** The phone's browser knows that it is off line, and its service worker can't reach anything either. */
async function signal(context: BrowserContext, there: boolean): Promise<void> {
  if (there) line.join();
  else line.cut();
  await context.setOffline(!there);
}

const step = (page: Page, title: string) => page.locator('.step', { has: page.locator('.step-title', { hasText: title }) });
const done = (page: Page, title: string, button = 'Done') => step(page, title).getByRole('button', { name: button, exact: true }).click();

async function start(page: Page): Promise<void> {
  page.setDefaultTimeout(10_000);
  await page.getByLabel('Your name').first().fill('A. Invented');
  await page.getByRole('button', { name: 'Start the visit' }).click();
}

async function tellBoth(page: Page): Promise<void> {
  for (const [who, name] of [["Owner's impairment coordinator", 'B. Invented'], ['Supervising station', 'C. Invented']] as const) {
    await step(page, 'Tell the coordinator').getByLabel(who).fill(name);
    await step(page, 'Tell the coordinator').getByRole('button', { name: 'Told just now' }).first().click();
  }
  await done(page, 'Tell the coordinator');
}

type Violation = { readonly id: string; readonly help: string; readonly nodes: readonly { readonly html: string; readonly failureSummary?: string }[] };
/** Nothing that WCAG 2.2 A and AA forbids, no sideways scrolling, and no target smaller than a gloved finger. */
async function isFitForAll(page: Page, targetPx: number): Promise<void> {
  await page.evaluate(axe.source);
  const violations = await page.evaluate(async () => {
    const runner = (window as unknown as { axe: { run: (context: Document, options: unknown) => Promise<{ violations: Violation[] }> } }).axe;
    return (await runner.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations;
  });
  expect(violations.map((one) => `${one.id}: ${one.help}: ${one.nodes.slice(0, 3).map((node) => `${node.html} ${node.failureSummary ?? ''}`).join(' | ')}`)).toEqual([]);
  const [inner, scroll] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollWidth] as const);
  expect(scroll).toBeLessThanOrEqual(inner);
  const small = await page.locator('main :is(button, a, input:not([type=checkbox], [type=file]), select, summary, label.button)').evaluateAll((all, leastPx) => all.filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < leastPx).map((one) => `${one.textContent ?? ''} ${one.getBoundingClientRect().height}`), targetPx);
  expect(small).toEqual([]);
}

/** A step that is not the next one is opened by a tap. */
async function open(page: Page, title: string): Promise<void> {
  if (!(await step(page, title).evaluate((details) => (details as HTMLDetailsElement).open))) await step(page, title).locator('summary').first().click();
}

async function leave(page: Page): Promise<void> {
  await open(page, 'Valves, one by one');
  const valves = step(page, 'Valves, one by one');
  for (const [name, position] of [['supply to riser 1', 'open'], ['sample bleed', 'shut'], ['bypass of the regulator', 'shut']] as const) await valves.getByRole('group', { name }).getByRole('button', { name: `Left ${position}` }).click();
  await done(page, 'Valves, one by one');
  await open(page, 'Station and coordinator');
  for (let index = 0; index < 2; index += 1) await step(page, 'Station and coordinator').getByRole('button', { name: 'Confirmed just now' }).first().click();
  await done(page, 'Station and coordinator');
}

test('a service goes step by step: told first, then closed within the time allowed, every valve looked at, recorded with one entry', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await page.goto(`${pages.url}/visits/planned-1`);
  await page.getByText('7 Invented Quay, Lisbon').waitFor();
  await page.getByText('drain rebuild parts').waitFor();
  await page.getByText('keys at the gate').waitFor();
  await shoot(page, 'visit-card-phone');
  await isFitForAll(page, 44);
  await start(page);
  // Nothing is closed before both are told.
  await open(page, 'Close the supply');
  expect(await step(page, 'Close the supply').getByRole('button', { name: 'Closed: start the clock' }).isDisabled()).toBe(true);
  await page.getByText('Tell the coordinator and the supervising station first, then close anything.').first().waitFor();
  await tellBoth(page);
  await shoot(page, 'visit-found-phone');
  const found = step(page, 'As found');
  await found.getByLabel('drop over elements').fill('41,5');
  await found.getByLabel('tank pressure').fill('abc');
  await found.getByText('is no number').waitFor();
  await found.getByLabel('tank pressure').fill('655');
  await found.getByLabel('starts at (cut-in)').fill('80');
  await found.getByText('far from 550 kPa: is the unit right?').waitFor();
  await found.getByLabel('starts at (cut-in)').fill('');
  await found.getByRole('group', { name: 'sample bleed' }).getByRole('button', { name: 'Found open' }).click();
  await found.getByText('Not as normal').waitFor();
  await found.locator('input[type=file]').setInputFiles({ name: 'gauge.png', mimeType: 'image/png', buffer: await page.screenshot() });
  await found.locator('.photo-list img').waitFor();
  await done(page, 'As found');
  const allowed = step(page, 'Time allowed closed');
  await allowed.getByLabel('piping now').fill('195');
  await allowed.getByText('Time allowed closed: 0 min.').waitFor();
  expect(await step(page, 'Close the supply').getByRole('button', { name: 'Closed: start the clock' }).isDisabled()).toBe(true);
  await allowed.getByLabel('piping now').fill('240');
  await allowed.getByLabel('fall of the piping').fill('80');
  // (240 − 180 − 20) ÷ 80 h = 30 min.
  await allowed.getByText('Time allowed closed: 30 min.').waitFor();
  await done(page, 'Time allowed closed');
  await done(page, 'Close the supply', 'Closed: start the clock');
  await page.locator('.closed-clock', { hasText: /(30:00|29:\d\d)/ }).waitFor();
  expect(await page.getByRole('button', { name: 'Sign and record' }).isDisabled()).toBe(true);
  await shoot(page, 'visit-closed-phone');
  await isFitForAll(page, 44);
  for (const title of ['Power off', 'Shut and lock the tank valve', 'Relieve each section']) await done(page, title);
  await step(page, 'Work: bowls').getByLabel('coalescing element').check();
  await step(page, 'Work: bowls').getByLabel('o-rings').check();
  await step(page, 'Work: bowls').getByLabel('Note').fill('bowl two was full of water');
  await done(page, 'Work: bowls');
  await step(page, 'Close bleeds').getByLabel('drop over elements').fill('22');
  await done(page, 'Close bleeds');
  await step(page, 'Open the supply').getByText('The last 15 minutes').waitFor();
  await step(page, 'Open the supply').locator('svg.line-chart').first().waitFor();
  await done(page, 'Open the supply', 'Open: stop the clock');
  await page.locator('.closed-clock').waitFor({ state: 'detached' });
  await leave(page);
  await done(page, "Reset the cabinet's timer");
  await page.getByRole('button', { name: 'Sign and record' }).click();
  await page.getByText('The server has it: recorded').waitFor();
  await shoot(page, 'visit-recorded-phone');
  const visit = (await fleet.records.visit('planned-1'))!;
  expect(visit).toMatchObject({ state: 'recorded', plannedFor: '2026-11-24', signed: { by: 'A. Invented' }, told: expect.arrayContaining([expect.objectContaining({ who: 'supervising-station', name: 'C. Invented', what: 'back-to-normal' })]) });
  expect(visit.work['gen-1']).toMatchObject({ asFound: { elementDropKPa: 41.5, tankPressureKPa: 655, pipingFallKPaPerHour: 80, pipingBeforeClosingKPa: 240, timeAllowedMin: 30 }, asLeft: { elementDropKPa: 22, closedMin: 0 }, valves: { 'sample bleed': { found: 'open', left: 'shut' } } });
  expect((await fleet.records.photos('planned-1')).map((photo) => photo.says)).toEqual(['as found']);
  const entries = (await fleet.records.entries()).filter((entry) => entry.note === 'bowl two was full of water');
  expect(entries.map((entry) => [entry.kind, entry.replaced, entry.by])).toEqual([['service', ['coalescing-element', 'o-rings'], 'A. Invented']]);
  await isFitForAll(page, 44);
  expect(complaints).toEqual([]);
  await context.close();
});

/** A browser with a profile on disk, as a phone has one. */
function phone(profile: string): Promise<BrowserContext> {
  return chromium.launchPersistentContext(join(folder, profile), { executablePath: BROWSER, viewport: PHONE, args: BROWSER_FLAGS });
}

test('without signal a visit opens, is worked on, survives a dead battery in the middle, and is sent once when the signal is back', async () => {
  let context = await phone('battery');
  let page = context.pages()[0] ?? (await context.newPage());
  await page.goto(`${pages.url}/visits`);
  await page.getByText('on this phone').first().waitFor();
  await isFitForAll(page, 44);
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  await expect.poll(() => page.evaluate(async () => (await caches.keys()).length)).toBe(1);
  await signal(context, false);
  await page.goto(`${pages.url}/visits/planned-2`);
  await page.getByText('7 Invented Quay, Lisbon').waitFor();
  await page.getByText('Normal here').waitFor();
  await start(page);
  await tellBoth(page);
  await step(page, 'As found').getByLabel('drop over elements').fill('38');
  await step(page, 'As found').getByLabel('hour meter').fill('17');
  await open(page, 'Station and coordinator');
  await step(page, 'Station and coordinator').getByLabel('Supervising station').fill('D. Inven');
  await page.waitForTimeout(200);
  // The battery dies: no page is asked to save anything.
  const cdp = await context.newCDPSession(page);
  cdp.send('Browser.crash' as never).catch(() => undefined);
  await new Promise((resolve) => context.once('close', resolve));
  expect((await fleet.records.visit('planned-2'))?.state).toBe('planned');
  context = await phone('battery');
  page = context.pages()[0] ?? (await context.newPage());
  await signal(context, false);
  await page.goto(`${pages.url}/visits/planned-2`);
  await page.getByText('Service, step by step').waitFor();
  expect(await step(page, 'As found').getByLabel('drop over elements').inputValue()).toBe('38');
  expect(await step(page, 'As found').getByLabel('hour meter').inputValue()).toBe('17');
  await open(page, 'Station and coordinator');
  expect(await step(page, 'Station and coordinator').getByLabel('Supervising station').inputValue()).toBe('D. Inven');
  await open(page, 'Tell the coordinator');
  await step(page, 'Tell the coordinator').getByText('B. Invented').waitFor();
  await leave(page);
  await page.getByRole('button', { name: 'Sign and record' }).click();
  await page.getByText('It is sent as soon as there is signal').waitFor();
  expect((await fleet.records.visit('planned-2'))?.state).toBe('planned');
  // The signal comes back, but the first answer is lost on its way.
  let lost = 0;
  await page.route('**/work', async (route) => {
    if (lost > 0) return await route.continue();
    lost += 1;
    await route.fetch();
    return await route.abort();
  });
  await signal(context, true);
  await expect.poll(async () => (await fleet.records.visit('planned-2'))?.state, { timeout: 30_000 }).toBe('recorded');
  await page.getByText('The server has it: recorded').waitFor({ timeout: 40_000 });
  expect(lost).toBe(1);
  expect((await fleet.records.entries()).filter((entry) => entry.readings.asFound?.['elementDropKPa'] === 38).length).toBe(1);
  expect((await fleet.records.visitRevisions('planned-2')).filter((visit) => visit.state === 'recorded').length).toBe(1);
  await context.close();
});

/** Without signal: begin a visit, sign it, and shut the page before anything was sent. */
async function signWithoutSignal(context: BrowserContext, id: string): Promise<void> {
  const page = await context.newPage();
  await page.goto(`${pages.url}/visits`);
  await page.getByText('on this phone').first().waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  await expect.poll(() => page.evaluate(async () => (await caches.keys()).length)).toBe(1);
  await signal(context, false);
  await page.goto(`${pages.url}/visits/${id}`);
  await start(page);
  await tellBoth(page);
  await leave(page);
  await page.getByRole('button', { name: 'Sign and record' }).click();
  await page.getByText('It is sent as soon as there is signal').waitFor();
  await page.waitForTimeout(300);
  await page.close();
  expect((await fleet.records.visit(id))?.state).toBe('planned');
}

test('a visit that was signed without signal is sent when the browser wakes the worker, with its page shut', async () => {
  const context = await phone('sync');
  await context.addInitScript(() => {
    const manager = (window as unknown as { SyncManager: { prototype: { register: (tag: string) => Promise<void> } } }).SyncManager.prototype;
    const { register } = manager;
    manager.register = function (tag) {
      window.localStorage.setItem('asked to sync', tag);
      return register.call(this, tag);
    };
  });
  await signWithoutSignal(context, 'planned-4');
  // A page that knows nothing of visits, to speak to the browser through.
  await signal(context, true);
  const other = await context.newPage();
  await other.goto(`${pages.url}/plan`);
  const cdp = await context.newCDPSession(other);
  const registration = new Promise<string>((resolve) => cdp.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => void (registrations[0] !== undefined && resolve(registrations[0].registrationId))));
  await cdp.send('ServiceWorker.enable');
  // It was the page that asked for it; the browser may have tried, and tries again when it likes.
  expect(await other.evaluate(() => window.localStorage.getItem('asked to sync'))).toBe('lull-visits');
  await cdp.send('ServiceWorker.dispatchSyncEvent', { origin: pages.url, registrationId: await registration, tag: 'lull-visits', lastChance: false });
  await expect.poll(async () => (await fleet.records.visit('planned-4'))?.state, { timeout: 20_000 }).toBe('recorded');
  expect((await fleet.records.visitRevisions('planned-4')).filter((visit) => visit.state === 'recorded').length).toBe(1);
  await context.close();
});

test('where no browser wakes a worker, the list of visits sends what waits when it is opened or the signal is back', async () => {
  const context = await phone('online');
  await context.addInitScript(() => Object.defineProperty(ServiceWorkerRegistration.prototype, 'sync', { value: undefined }));
  await signWithoutSignal(context, 'planned-5');
  const page = await context.newPage();
  await page.goto(`${pages.url}/visits`);
  await page.getByText('signed, waits for signal').waitFor();
  await signal(context, true);
  await expect.poll(async () => (await fleet.records.visit('planned-5'))?.state, { timeout: 20_000 }).toBe('recorded');
  await page.getByText('recorded').first().waitFor();
  expect((await fleet.records.visitRevisions('planned-5')).filter((visit) => visit.state === 'recorded').length).toBe(1);
  await context.close();
});

test('find the leak goes riser by riser with a hold test; a visit that nobody planned begins at a generator', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE, true);
  await page.goto(`${pages.url}/generators/site-1/gen-2`);
  await page.getByRole('link', { name: 'Start a visit' }).click();
  await page.getByRole('button', { name: 'Find the leak' }).click();
  await page.getByRole('button', { name: 'psi' }).click();
  await start(page);
  await tellBoth(page);
  await done(page, 'As found');
  await done(page, 'The tank side first');
  const holds = step(page, 'Riser by riser');
  await holds.getByLabel('piping now').fill('35');
  const first = holds.getByRole('group', { name: 'riser-1' });
  await first.getByLabel('at the start, psi').fill('35');
  await first.getByRole('button', { name: 'riser-1 is closed: start the hold' }).click();
  await first.getByText('holding for 0 min').waitFor();
  await first.getByLabel('at the end, psi').fill('34.5');
  await first.getByRole('button', { name: 'riser-1 is open again' }).click();
  await first.getByText('too short to say anything').waitFor();
  await shoot(page, 'visit-leak-phone');
  await isFitForAll(page, 44);
  expect(complaints).toEqual([]);
  await context.close();
});

test('before you leave: while no run was seen since the work the headline says so first, and is no all-clear', async () => {
  const { page, context } = await openPage(browser, PHONE);
  await page.goto(`${pages.url}/visits/new?site=site-1&generator=gen-2`);
  await start(page);
  await open(page, 'Valves, one by one');
  const valves = step(page, 'Valves, one by one');
  const look = async (run: 'as usual' | 'not seen yet'): Promise<void> => {
    await valves.getByRole('button', { name: 'Before you leave: let Lull look' }).click();
    await expect.poll(async () => (await fleet.records.openJobs()).length).toBe(1);
    const [job] = await fleet.records.openJobs();
    const says = 'Nothing unlike usual was seen in the last half hour.';
    await fleet.records.answerJob(job!.id, { atMs: NOW_MS, answer: { site: 'site-1', generator: 'gen-2', fromAt: null, toAt: null, verdict: 'nothing unlike usual seen', suspect: null, says, items: [{ part: 'rest', state: 'as usual', says: 'The tank fell as usual.' }, { part: 'run', state: run, says: 'The run.' }], notSeen: [], care: 'No proof of order.' } });
  };
  await look('not seen yet');
  const headline = valves.locator('.leaving [role=status] strong');
  await expect.poll(() => headline.innerText()).toMatch(/^Not all is seen yet: no run .* shows only in a run/);
  expect(await headline.innerText()).not.toMatch(/^Nothing/);
  await context.close();
});

test('a visit that is entered later keeps when it was done apart from when it became known; both looks past, a person verifies it', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await page.goto(`${pages.url}/visits/planned-3`);
  await start(page);
  await page.getByText('Not ticked yet').waitFor();
  await page.getByText('Entered later? Say when it was done').click();
  await page.getByLabel('Began').fill('2026-11-21T09:00');
  await page.getByLabel('Ended').fill('2026-11-21T10:30');
  await page.getByRole('button', { name: 'Sign and record' }).click();
  await page.getByText('The server has it: recorded').waitFor();
  // Lisbon keeps UTC in November.
  expect(await fleet.records.visit('planned-3')).toMatchObject({ performedAt: '2026-11-21T10:30:00.000Z', recordedAt: new Date(NOW_MS).toISOString(), work: { 'gen-1': { startedAt: '2026-11-21T09:00:00.000Z' } } });
  const entry = (await fleet.records.entries()).find((one) => one.startedAt === '2026-11-21T09:00:00.000Z');
  expect(entry).toMatchObject({ kind: 'service', finishedAt: '2026-11-21T10:30:00.000Z', recordedAt: new Date(NOW_MS).toISOString() });
  await open(page, 'Second look by Lull');
  await page.getByText('after 24 h: 22 Nov 2026, 10:30, due').waitFor();
  await page.getByRole('button', { name: 'I have seen both looks: verified' }).click();
  await page.getByText('Verified by A. Invented.').waitFor();
  expect((await fleet.records.visit('planned-3'))?.state).toBe('verified');
  expect(complaints).toEqual([]);
  await context.close();
});

/** Pages of a PDF: each has an object of its own that says so. */
const pagesOf = (pdf: Buffer): number => pdf.toString('latin1').match(/\/Type\s*\/Page\b/g)?.length ?? 0;

test('a visit sheet and a report for the owner are issued, opened and printed on A4 and Letter; the history names them', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await page.goto(`${pages.url}/records?site=site-1&generator=gen-1&visit=planned-1`);
  await page.getByRole('button', { name: 'Issue the visit sheet' }).click();
  await page.getByText('Please type your name first.').waitFor();
  await page.getByLabel('Your name').fill('D. Invented');
  await page.getByRole('button', { name: 'Issue the visit sheet' }).click();
  await page.getByText('Issued as record 1, revision 1.').waitFor();
  await page.getByRole('button', { name: 'Issue the report for the owner' }).click();
  await page.getByText('Issued as record 2, revision 1.').waitFor();
  await page.getByText('visit sheet, issued').waitFor();
  await page.getByRole('button', { name: 'Of one visit: show all' }).click();
  await page.getByText('report for the owner, issued').waitFor();
  await shoot(page, 'records-phone');
  await isFitForAll(page, 40);
  mkdirSync(SCREENSHOTS, { recursive: true });
  for (const [number, name, most] of [[1, 'visit-sheet', 2], [2, 'owner-report', 3]] as const) {
    await page.goto(`${pages.url}/api/v1/records/${number}/1`);
    await page.getByRole('heading', { name: 'Words of care' }).waitFor();
    expect(await page.locator('svg').count()).toBeGreaterThan(1);
    // The sample bleed, normally shut, was found open: that stands out before it is put right.
    if (name === 'visit-sheet') expect(await page.getByRole('row', { name: 'sample bleed' }).innerText()).toMatch(/shut\s+open, not as normal\s+shut/);
    expect(await page.evaluate(() => getComputedStyle(document.querySelector('header')!).borderBottomStyle)).toBe('solid');
    for (const format of ['A4', 'Letter'] as const) {
      const pdf = await page.pdf({ path: join(SCREENSHOTS, `${name}-${format}.pdf`), format, preferCSSPageSize: false });
      expect([name, format, pagesOf(pdf) >= 1 && pagesOf(pdf) <= most, pagesOf(pdf)]).toEqual([name, format, true, pagesOf(pdf)]);
    }
  }
  expect(complaints).toEqual([]);
  await context.close();
});
