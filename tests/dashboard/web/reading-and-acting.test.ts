// Issue: rows keep still under the pointer, what a person does is kept with a name, old values are never shown as live, filters live in the address.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import axe from 'axe-core';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { readingBatch } from '../../../shared/reading-batch.ts';
import { type InventedFleet, inventedFleet, keyAt, NOW_MS } from './invented-fleet.ts';
import { launchBrowser, openPage, PAGES_FOLDER, type RealPages, shoot, startRealPages } from './real-pages.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };
const PATHS = ['/', '/?view=plane', '/generators/site-1/gen-2', '/service-list', '/gateways'] as const;

let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;

beforeAll(async () => {
  fleet = await inventedFleet(40);
  pages = await startRealPages(fleet);
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser?.close();
  await pages?.stop();
});

async function settled(page: Page, path: string): Promise<void> {
  await page.goto(pages.url + path);
  await page.waitForSelector('h1');
  await page.waitForFunction(() => !document.body.innerText.includes('Loading'));
}

type Violation = { id: string; help: string; nodes: { html: string; failureSummary?: string }[] };

for (const path of PATHS) {
  for (const dark of [false, true]) {
    test(`${path} in ${dark ? 'dark' : 'light'} passes the rules of WCAG 2.2 AA that a program can look for`, async () => {
      const { page, context } = await openPage(browser, WIDE, dark);
      await settled(page, path);
      await page.evaluate(axe.source);
      const violations = await page.evaluate(async () => {
        const runner = (window as unknown as { axe: { run: (context: Document, options: unknown) => Promise<{ violations: Violation[] }> } }).axe;
        return (await runner.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations;
      });
      expect(violations.map((one) => `${one.id}: ${one.help}: ${one.nodes.slice(0, 3).map((node) => `${node.html} ${node.failureSummary ?? ''}`).join(' | ')}`)).toEqual([]);
      if (dark) await shoot(page, `dark-${path.replaceAll(/\W+/g, '-')}`);
      await context.close();
    });
  }
}

for (const path of PATHS) {
  test(`${path}: the keyboard reaches everything that can be used, in order, and each shows its focus`, async () => {
    const { page, context } = await openPage(browser, PHONE);
    await settled(page, path);
    const wanted = await page.evaluate(() => {
      const seen = [...document.querySelectorAll<HTMLElement>('a[href], button, input, select, textarea, summary')].filter((one) => one.checkVisibility());
      seen.forEach((one, index) => one.setAttribute('data-order', String(index)));
      return seen.length;
    });
    const reached = new Set<string>();
    for (let presses = 0; presses < wanted + 40; presses += 1) {
      await page.keyboard.press('Tab');
      const order = await page.evaluate(() => {
        const one = document.activeElement;
        if (one === null || one === document.body) return 'end';
        const style = getComputedStyle(one);
        const target = one.querySelector('.dot-target');
        const shown = style.outlineStyle !== 'none' || (target !== null && getComputedStyle(target).stroke !== 'none');
        return `${one.getAttribute('data-order') ?? 'other'} ${shown}`;
      });
      if (order === 'end') break;
      const [name, shown] = order.split(' ');
      expect(shown, `focus shows on ${order}`).toBe('true');
      if (name !== 'other') reached.add(name!);
    }
    expect(reached.size).toBe(wanted);
    await context.close();
  });
}

test('targets are at least 24 px in both directions, or stand in a line of text', async () => {
  const { page, context } = await openPage(browser, PHONE);
  for (const path of ['/', '/generators/site-1/gen-2', '/service-list'] as const) {
    await settled(page, path);
    const small = await page.evaluate(() =>
      [...document.querySelectorAll<HTMLElement>('a[href], button, input, select, summary')]
        .filter((one) => one.checkVisibility() && !one.classList.contains('skip') && one.closest('p, li, label') === null)
        .filter((one) => one.getBoundingClientRect().height < 23.5)
        .map((one) => one.outerHTML.slice(0, 120)),
    );
    expect(small).toEqual([]);
  }
  await context.close();
});

test('a filter lives in the address, is read from it, and leaves only rows that fit', async () => {
  const { page, context } = await openPage(browser, WIDE);
  await settled(page, '/?cause=leak');
  expect(await page.locator('.ranked tbody tr').count()).toBe(1);
  expect(await page.locator('.ranked .cause').allInnerTexts()).toEqual(['Leak']);
  await page.selectOption('select >> nth=1', '');
  await page.fill('input[type=search]', 'ice rink');
  await expect.poll(() => page.url()).toContain('text=ice+rink');
  expect(await page.locator('.ranked tbody tr').count()).toBe(4);
  await page.fill('input[type=search]', 'nothing is called so');
  await page.getByText('None of 40 generators fits these filters').waitFor();
  await context.close();
});

test('a generator that the registry has out of service is not said to be without a finding', async () => {
  const { page, context } = await openPage(browser, PHONE);
  const before = (await fleet.records.report())!;
  const calm = before.ranking.find((row) => row.findings.length === 0)!;
  const off = before.ranking.map((row) => (row === calm ? { ...row, dataState: 'out-of-service' as const } : row));
  await fleet.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report: { ...before, ranking: off } });
  pages.server.ticked();
  await settled(page, `/generators/${calm.site}/${calm.generator}`);
  await page.getByRole('heading', { name: 'Nothing is looked for' }).waitFor();
  expect(await page.getByText('Nothing found').count() + await page.getByText('Can wait until').count()).toBe(0);
  await fleet.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report: before });
  pages.server.ticked();
  await context.close();
});

test('while the pointer is on the list a new order waits, values are renewed; then the rows move', async () => {
  const { page, context } = await openPage(browser, WIDE);
  const before = (await fleet.records.report())!;
  await settled(page, '/');
  const names = (): Promise<string[]> => page.locator('.ranked .where a').allInnerTexts();
  const first = await names();
  await page.hover('.ranked tbody tr >> nth=2');
  const turned = [...before.ranking].reverse().map((row, index) => ({ ...row, rank: index + 1, dutyRatio: 0.99 }));
  await fleet.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report: { ...before, ranking: turned } });
  pages.server.ticked();
  await page.getByText('The order has changed').waitFor();
  expect(await names()).toEqual(first);
  expect((await page.locator('.ranked .number').allInnerTexts()).every((text) => text.startsWith('99'))).toBe(true);
  await page.mouse.move(5, 5);
  await expect.poll(names).toEqual([...first].reverse());
  await fleet.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report: before });
  pages.server.ticked();
  await context.close();
});

test('a finding is acknowledged, noted, shelved, closed and reopened with a name, which is remembered', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await settled(page, '/generators/site-2/gen-2');
  await page.getByRole('button', { name: 'Acknowledge' }).click();
  await page.locator('.form button[type=submit]').click();
  expect(await page.locator('.form input:invalid').count()).toBe(1);
  await page.getByLabel('Your name').fill('B. Invented');
  await page.locator('.form button[type=submit]').click();
  await page.getByText('State: acknowledged.').waitFor();
  await page.getByRole('button', { name: 'Add a note' }).click();
  expect(await page.getByLabel('Your name').inputValue()).toBe('B. Invented');
  await page.getByLabel('Note').fill('gauge <b>looks</b> odd');
  await page.locator('.form button[type=submit]').click();
  await page.getByText('gauge <b>looks</b> odd').waitFor();
  await page.getByRole('button', { name: 'Shelve until' }).click();
  await shoot(page, 'shelve-phone');
  await page.getByLabel('Shelve until').fill('2026-12-01T08:00');
  await page.locator('.form button[type=submit]').click();
  // 08:00 in Denver is 15:00 UTC, whatever zone the browser is in.
  await page.getByText('Shelved until 1 Dec 2026, 08:00.').waitFor();
  expect((await fleet.records.actions()).find((action) => action.action === 'shelve')?.untilMs).toBe(Date.parse('2026-12-01T15:00:00Z'));
  await page.getByRole('button', { name: 'Close with a reason' }).click();
  await page.getByLabel('Reason').selectOption('not-confirmed');
  await page.locator('.form button[type=submit]').click();
  await page.getByRole('heading', { name: 'Nothing found' }).waitFor();
  await page.getByText('1 other finding').click();
  await page.getByText('not confirmed').first().waitFor();
  await page.getByRole('button', { name: 'Reopen' }).click();
  await page.locator('.form button[type=submit]').click();
  await page.getByText('State: new.').waitFor();
  expect((await fleet.records.actions()).map((action) => `${action.by} ${action.action}`)).toEqual(['acknowledge', 'note', 'shelve', 'close', 'reopen'].map((action) => `B. Invented ${action}`));
  expect(complaints).toEqual([]);
  await context.close();
});

test("a visit is recorded in the site's time, with parts and numbers, and stands in the list", async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await settled(page, '/generators/site-3/gen-1');
  await page.getByRole('button', { name: 'Record a visit or a test' }).click();
  await page.getByLabel('Your name').fill('C. Invented');
  await page.getByLabel('Began').fill('2026-11-24T09:00');
  await page.getByLabel('Ended').fill('2026-11-24T10:30');
  await page.getByLabel('coalescing element').check();
  await page.getByLabel('drain', { exact: true }).check();
  await page.getByRole('group', { name: 'As found' }).getByLabel('drop over elements').fill('41,5');
  await page.getByRole('group', { name: 'As left' }).getByLabel('drop over elements').fill('not a number');
  await shoot(page, 'visit-phone');
  await page.getByRole('button', { name: 'Record it' }).click();
  await page.getByText('is no number').waitFor();
  await page.getByRole('group', { name: 'As left' }).getByLabel('drop over elements').fill('22');
  await page.getByRole('button', { name: 'Record it' }).click();
  await page.getByText('The visit is recorded').waitFor();
  await page.getByText('replaced: coalescing element, drain').waitFor();
  const entry = (await fleet.records.entries()).find((one) => one.site === 'site-3')!;
  // Site 3 keeps the time of Tokyo.
  expect(entry).toMatchObject({ startedAt: '2026-11-24T00:00:00.000Z', finishedAt: '2026-11-24T01:30:00.000Z', by: 'C. Invented', readings: { asFound: { elementDropKPa: 41.5 }, asLeft: { elementDropKPa: 22 } } });
  expect(complaints).toEqual([]);
  await context.close();
});

test('an entry that is half typed is there again when the browser was away; cancelled, it is gone', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await settled(page, '/generators/site-4/gen-1');
  await page.getByRole('button', { name: 'Record a visit or a test' }).click();
  await page.getByLabel('drain', { exact: true }).check();
  await page.getByRole('group', { name: 'As found' }).getByLabel('drop over elements').fill('41,5');
  await page.getByLabel('Note (may be left empty)').fill('the bowl was full of wat');
  await page.close();
  const again = await context.newPage();
  await settled(again, '/generators/site-4/gen-1');
  await again.getByText('Begun earlier and kept in this browser; it is not sent yet.').waitFor();
  expect(await again.getByLabel('drain', { exact: true }).isChecked()).toBe(true);
  expect(await again.getByRole('group', { name: 'As found' }).getByLabel('drop over elements').inputValue()).toBe('41,5');
  expect(await again.getByLabel('Note (may be left empty)').inputValue()).toBe('the bowl was full of wat');
  // Another generator has none of it.
  await settled(again, '/generators/site-4/gen-2');
  await again.getByRole('button', { name: 'Record a visit or a test' }).waitFor();
  await settled(again, '/generators/site-4/gen-1');
  await again.getByRole('button', { name: 'Cancel' }).click();
  await settled(again, '/generators/site-4/gen-1');
  await again.getByRole('button', { name: 'Record a visit or a test' }).click();
  expect(await again.getByLabel('Note (may be left empty)').inputValue()).toBe('');
  expect(complaints).toEqual([]);
  await context.close();
});

test('a value that is old is named as old; a committed reading appears by itself', async () => {
  const { page, context } = await openPage(browser, WIDE);
  await settled(page, '/generators/site-3/gen-2');
  const tank = (): Promise<string> => page.locator('.values tr', { hasText: 'tank pressure' }).innerText();
  expect(await tank()).toMatch(/was 6\d\d.kPa\s+old: 3.days ago/);
  const batch = readingBatch([{ generator: keyAt(fleet, 5), channel: 'tank-pressure', atMs: NOW_MS - 1000, value: 611, quality: 0, receivedMs: NOW_MS }]);
  await fleet.readings.append(batch);
  pages.server.committed(batch);
  await expect.poll(tank).toMatch(/611.kPa/);
  expect(await tank()).not.toMatch(/old|was/);
  await context.close();
});

test('the line that watches the watcher is quiet when all is well and says what is wanted when not', async () => {
  const { page, context } = await openPage(browser, WIDE);
  await settled(page, '/');
  expect(await page.locator('.watch .wants').count()).toBe(0);
  pages.setStatus({ brokerConnected: false, brokerSays: 'connection refused', wants: ['the broker has been silent for 4 min'] });
  await page.getByText('the broker has been silent for 4 min').waitFor();
  pages.setStatus({ brokerConnected: true, brokerSays: 'connected', wants: [] });
  await page.locator('.watch .wants').waitFor({ state: 'detached' });
  await context.close();
});

test('what was refused is shown as text with its reason; a release says what became of it', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await settled(page, '/gateways');
  await page.locator('#quarantine summary', { hasText: "can't be read" }).click();
  expect(await page.locator('#quarantine pre', { hasText: '<script>' }).innerText()).toBe('<script>alert("not JSON")</script>');
  await page.getByRole('button', { name: 'Release this one' }).last().click();
  await page.getByText('Please type your name before releasing.').waitFor();
  await page.getByLabel('Your name').fill('D. Invented');
  await page.getByRole('button', { name: 'Release this one' }).last().click();
  await page.getByText('0 released; 1 still refused').waitFor();
  expect(complaints).toEqual([]);
  await context.close();
});

test('on paper the words of care stand whole, controls are gone and the ground is white in a dark desk too', async () => {
  const { page, context } = await openPage(browser, WIDE, true);
  await settled(page, '/service-list');
  await page.evaluate(() => window.dispatchEvent(new Event('beforeprint')));
  await page.emulateMedia({ media: 'print', colorScheme: 'dark' });
  await shoot(page, 'paper');
  expect(await page.locator('.care').innerText()).toContain('licensed person and the authority');
  expect(await page.getByRole('button', { name: 'Print' }).isVisible()).toBe(false);
  expect(await page.evaluate(() => getComputedStyle(document.body).backgroundColor)).toBe('rgb(255, 255, 255)');
  expect(await page.locator('.service thead').isVisible()).toBe(true);
  await context.close();
});

test('on the service list what should not wait stands before what is past its date', async () => {
  const { page, context } = await openPage(browser, WIDE);
  await settled(page, '/service-list');
  expect(await page.locator('.service .group').allInnerTexts()).toEqual(['Should not wait (2)', expect.stringMatching(/^Can wait until its date/), 'The work is done and being checked (1)']);
  expect(await page.locator('.service tbody').first().locator('.cause').allInnerTexts()).toEqual(['a valve was left shut', 'the compressor does not start']);
  await context.close();
});

test('on a phone the band is as wide as its card, and times have room to be read', async () => {
  const { page, context } = await openPage(browser, PHONE);
  await settled(page, '/');
  expect((await page.locator('.band').first().boundingBox())!.width).toBeGreaterThan(340);
  expect(await page.locator('.fact-minor').first().isVisible()).toBe(false);
  await settled(page, '/generators/site-1/gen-1');
  await page.getByRole('button', { name: 'Record a visit or a test' }).click();
  expect((await page.getByLabel('Began').boundingBox())!.width).toBeGreaterThan(180);
  expect((await page.locator('.field-time').first().boundingBox())!.width).toBeGreaterThan(300);
  await context.close();
});

test('an unknown generator and an unknown page say so in words', async () => {
  const { page, context } = await openPage(browser, PHONE);
  await settled(page, '/generators/nowhere/gen-1');
  expect(await page.locator('.problem').innerText()).toContain('nowhere/gen-1');
  await settled(page, '/plans');
  expect(await page.locator('h1').innerText()).toBe('No such page');
  await context.close();
});

test('the script of each page is at most 150 KB gzipped, and the Overview needs no chart', async () => {
  const gzipped = new Map(readdirSync(join(PAGES_FOLDER, 'assets')).filter((name) => name.endsWith('.js')).map((name) => [name, gzipSync(readFileSync(join(PAGES_FOLDER, 'assets', name))).length]));
  for (const path of [...PATHS, '/findings/finding-1', '/plan', '/hand-over']) {
    const { page, context } = await openPage(browser, WIDE);
    const asked = new Set<string>();
    page.on('request', (request) => void (request.url().endsWith('.js') ? asked.add(request.url().split('/').at(-1)!) : undefined));
    await settled(page, path);
    await page.waitForTimeout(300);
    const bytes = [...asked].reduce((sum, name) => sum + (gzipped.get(name) ?? 0), 0);
    console.info(`${path} loads ${(bytes / 1000).toFixed(0)} KB of script, gzipped`);
    expect([path, bytes < 150_000]).toEqual([path, true]);
    if (path === '/') expect([...asked].filter((name) => name.includes('draw-chart'))).toEqual([]);
    await context.close();
  }
});
