// Issue: "Screens for four people", notices and settings: rules are made and tried, generators claimed and changed, files looked at first, units chosen; with the keyboard's own controls, on a phone too. Real pages, server and receiver.
import axe from 'axe-core';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Notices, openNotices } from '../../../dashboard/notices/notices.ts';
import { readRules } from '../../../dashboard/notices/rules.ts';
import { noticeWords } from '../../../dashboard/views/notice-words.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { newestChanges } from '../../../shared/registry-history.ts';
import { type Receiver, startReceiver } from '../notices/world.ts';
import { type InventedFleet, inventedFleet, inventedRegistry, NOW_MS } from './invented-fleet.ts';
import { launchBrowser, openPage, type RealPages, shoot, startRealPages } from './real-pages.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };

let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;
let receiver: Receiver;
let notices: Notices;

beforeAll(async () => {
  receiver = await startReceiver();
  fleet = await inventedFleet(12, 5);
  for (const [index, site] of inventedRegistry(12).sites.entries()) await fleet.records.recordRegistryChange({ validFromMs: 0, recordedAtMs: NOW_MS - 86_400_000 + index, by: 'sites.yaml', site: index === 1 ? { ...site, generators: site.generators.slice(0, 1) } : site });
  // The second generator of the second site is heard and in no site; its registry is what the records say.
  fleet = { ...fleet, registry: fleet.registry.filter((one) => one.key !== 'site-2/gen-2') };
  const generatorUrl = (): null => null;
  notices = openNotices({ records: fleet.records, clock: { nowMs: () => NOW_MS }, random: () => 0.5, log: SILENT_LOG, generator: (key) => fleet.registry.find((one) => one.key === key)!, words: noticeWords({ simulated: true, generatorUrl }), simulated: true, generatorUrl });
  pages = await startRealPages(fleet, { notices: { mailFrom: null, publicUrl: null, test: (rule) => notices.test(rule), retry: (id) => notices.retry(id) } });
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser?.close();
  await pages?.stop();
  await receiver?.stop();
});

async function settled(page: Page, path: string): Promise<void> {
  await page.goto(pages.url + path);
  await page.waitForSelector('h1');
  await page.waitForFunction(() => !document.body.innerText.includes('Loading'));
}

/** No sideways scrolling, nothing that axe-core finds, and targets that a finger meets. */
async function wellMade(page: Page, leastTargetPx: number): Promise<void> {
  const [inner, scroll] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollWidth] as const);
  expect(scroll).toBeLessThanOrEqual(inner);
  await page.evaluate(axe.source);
  const violations = await page.evaluate(async () => {
    type Violation = { id: string; help: string; nodes: { html: string }[] };
    const runner = (window as unknown as { axe: { run: (context: Document, options: unknown) => Promise<{ violations: Violation[] }> } }).axe;
    return (await runner.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations.map((one) => `${one.id}: ${one.nodes.slice(0, 2).map((node) => node.html).join(' | ')}`);
  });
  expect(violations).toEqual([]);
  const small = await page.evaluate((least) => [...document.querySelectorAll<HTMLElement>('main button, main .button')].filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < least - 0.5).map((one) => one.outerHTML.slice(0, 100)), leastTargetPx);
  expect(small).toEqual([]);
}

test('a rule of notices is made, tried, changed and removed; what failed is seen and sent again', async () => {
  const { page, context, complaints } = await openPage(browser, WIDE);
  await settled(page, '/notices');
  expect(await page.innerText('main')).toContain('Nobody is told of anything yet.');
  await page.click('text=Add a rule…');
  await page.fill('form >> label:has-text("Your name") >> input', 'Ana');
  await page.fill('label:has-text("Name of the rule") >> input', 'Night desk');
  await page.selectOption('label:has-text("Told by") >> select', 'webhook');
  await page.fill('label:has-text("Address") >> input', receiver.url);
  await page.click('text=Make one');
  expect(await page.inputValue('label:has-text("Secret") >> input')).toMatch(/^whsec_[A-Za-z0-9+/]{42,44}=*$/);
  await page.check('label:has-text("Quiet hours") >> input');
  await page.fill('label:has-text("In the zone") >> input', 'Europe/Lisbon');
  await wellMade(page, 24);
  await shoot(page, 'notices-form-wide');
  await page.click('text=Keep the rule');
  await page.waitForSelector('text=The rule "Night desk" is kept.');
  expect(await readRules(fleet.records)).toMatchObject([{ name: 'Night desk', timeZone: 'Europe/Lisbon', quietHours: { from: '22:00', to: '07:00' }, to: { kind: 'webhook', url: receiver.url } }]);
  await page.click('button:has-text("Send a test")');
  await page.waitForSelector('text=was taken by');
  expect(JSON.parse(receiver.posts.at(-1)!.body)).toMatchObject({ type: 'notice.test', data: { simulated: true } });
  receiver.answer = 500;
  await page.click('button:has-text("Send a test")');
  await page.waitForSelector('.problem:has-text("could not be sent: the receiver answered with 500")');
  receiver.answer = 410;
  await notices.run();
  await fleet.records.recordAction({ finding: 'finding-1', action: 'close', atMs: NOW_MS, by: 'Ana', reason: 'false' });
  await notices.run();
  await fleet.records.recordAction({ finding: 'finding-1', action: 'reopen', atMs: NOW_MS + 1, by: 'Ana' });
  await page.click('button:has-text("Change…")');
  await page.uncheck('label:has-text("Quiet hours") >> input');
  await page.click('text=Keep the rule');
  await page.waitForSelector('text=is kept.');
  expect(await readRules(fleet.records)).toMatchObject([{ quietHours: null, to: { kind: 'webhook', secret: expect.stringMatching(/^whsec_/) } }]);
  await notices.run();
  await settled(page, '/notices');
  await page.waitForSelector('.notice-log >> text=could not be sent: the receiver answered with 410');
  receiver.answer = 204;
  await wellMade(page, 24);
  await shoot(page, 'notices-wide');
  await page.click('button:has-text("Send it again")');
  await page.waitForSelector('text=It goes again within some seconds.');
  await notices.run();
  expect(JSON.parse(receiver.posts.at(-1)!.body)).toMatchObject({ type: 'finding.reopened' });
  await page.click('button:has-text("Remove…")');
  await page.click('button:has-text("Remove it for good")');
  await page.waitForSelector('text=Nobody is told of anything yet.');
  expect(complaints).toEqual([]);
  await context.close();
});

test('a generator that is heard is registered; its limits are changed in the units that this person reads', async () => {
  const { page, context, complaints } = await openPage(browser, WIDE);
  await settled(page, '/settings');
  await page.selectOption('label:has-text("Pressures") >> select', 'psi');
  await page.selectOption('label:has-text("Temperatures") >> select', '°F');
  expect(await page.innerText('#units-title + div')).toContain('94.3\u00a0psi');
  await wellMade(page, 24);
  await shoot(page, 'settings-wide');
  await page.click('a:has-text("Register site-2, gen-2")');
  await page.waitForSelector('form[aria-label="Generator gen-2"]');
  await page.fill('label:has-text("Your name") >> input >> nth=0', 'Ana');
  await page.fill('label:has-text("Nitrogen tank") >> input', '115');
  await page.fill('label:has-text("Compressor starts at, psi") >> input', '80');
  await page.fill('label:has-text("Most running time") >> input', '35');
  await page.click('summary:has-text("Valves")');
  await page.click('text=Add a valve');
  await page.fill('label:has-text("Name on its plate") >> input', 'V1 supply');
  await wellMade(page, 24);
  await shoot(page, 'site-settings-wide');
  await page.click('text=Register it');
  await page.waitForSelector('text=gen-2 is kept.');
  const kept = newestChanges(await fleet.records.registryChanges()).get('site-2');
  expect(kept).toMatchObject({ by: 'Ana', site: { generators: [{ id: 'gen-1' }, { id: 'gen-2', tankLitres: 115, cutInKPa: 551.581, limits: { dutyRatio: 0.35 }, valves: [{ name: 'V1 supply', normal: 'open' }] }] } });
  await page.click('summary:has-text("What was changed")');
  await page.waitForSelector('text=gen-2 › limits › dutyRatio: 0.35');
  await page.click('summary:has-text("exchanged")');
  await page.click('text=Exchange them from now on');
  await page.waitForSelector('text=is kept as');
  expect(newestChanges(await fleet.records.registryChanges()).get('site-2')?.site.generators.map((one) => one.publishesAs)).toEqual(['gen-2', 'gen-1']);
  await settled(page, '/generators/site-1/gen-2');
  await page.waitForSelector('.chart canvas');
  await page.waitForTimeout(300);
  await shoot(page, 'generator-psi-wide');
  const text = await page.innerText('main');
  expect(text).toContain('psi');
  expect(text).not.toMatch(/\d\s?kPa/);
  expect(complaints).toEqual([]);
  await context.close();
});

test('a file shows what it would change, and a meter is typed in; both on a phone', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await settled(page, '/settings');
  const yaml = 'sites: [{ id: site-9, name: Lock house, generators: [{ id: gen-1 }] }]';
  await page.fill('textarea', 'sites: [{ id: Site 9 }]');
  await page.click('text=Show what it would change');
  await page.waitForSelector('.problem:has-text("sites.0.id")');
  await page.fill('textarea', yaml);
  await page.click('text=Show what it would change');
  await page.waitForSelector('text=It would change 1 of 1 sites.');
  await wellMade(page, 44);
  await shoot(page, 'settings-phone');
  await page.fill('.registry-file >> label:has-text("Your name") >> input', 'Rui');
  await page.click('button:has-text("Change 1 site")');
  await page.waitForSelector('text=1 site was written: site-9.');
  await settled(page, '/settings/site-1');
  await page.fill('label:has-text("It shows") >> input', '12');
  await page.fill('section:has(#meter-title) >> label:has-text("Your name") >> input', 'Rui');
  await page.click('text=Keep the reading');
  await page.waitForSelector('.problem:has-text("The meter stood at")');
  await page.fill('label:has-text("It shows") >> input', '99999');
  await page.click('text=Keep the reading');
  await page.waitForSelector('text=Kept: gen-1, 99999 h.');
  await page.click('button:has-text("Change…")');
  await page.waitForSelector('form[aria-label="Generator gen-1"]');
  await wellMade(page, 44);
  await shoot(page, 'site-settings-phone');
  await settled(page, '/notices');
  await page.click('text=Add a rule…');
  await wellMade(page, 44);
  await shoot(page, 'notices-form-phone');
  expect(complaints.filter((one) => !/409|status of 4/.test(one))).toEqual([]);
  await context.close();
});

/** How many things can be used, and how many of them the Tab key meets with their focus shown. */
async function reachedByKeyboard(page: Page): Promise<{ readonly wanted: number; readonly reached: number }> {
  const wanted = await page.evaluate(() => {
    const usable = [...document.querySelectorAll<HTMLElement>('a[href], button:not(:disabled), input, select, textarea, summary')].filter((one) => one.checkVisibility());
    usable.forEach((one, index) => one.setAttribute('data-order', String(index)));
    return usable.length;
  });
  const reached = new Set<string>();
  // A field for a date or a time takes several presses.
  for (let presses = 0; presses < wanted * 2 + 60; presses += 1) {
    await page.keyboard.press('Tab');
    const order = await page.evaluate(() => {
      const one = document.activeElement;
      if (one === null || one === document.body) return 'end';
      return getComputedStyle(one).outlineStyle === 'none' ? 'unseen' : (one.getAttribute('data-order') ?? 'other');
    });
    if (order === 'end') break;
    if (order !== 'other') reached.add(order);
  }
  return { wanted, reached: reached.has('unseen') ? -1 : reached.size };
}

test('notices and settings hold in the dark, and the keyboard reaches all of them', async () => {
  const { page, context } = await openPage(browser, WIDE, true);
  for (const path of ['/notices', '/settings', '/settings/site-1?generator=gen-1']) {
    await settled(page, path);
    await wellMade(page, 24);
    await shoot(page, `dark${path.replaceAll(/\W+/g, '-')}`);
    const { wanted, reached } = await reachedByKeyboard(page);
    expect([path, reached]).toEqual([path, wanted]);
  }
  await context.close();
});
