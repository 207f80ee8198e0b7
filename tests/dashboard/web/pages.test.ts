// Issue: the pages carry the job at the desk and on a phone: complete, readable, usable with the keyboard, no complaint of the browser.
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type InventedFleet, inventedFleet } from './invented-fleet.ts';
import { launchBrowser, openPage, type RealPages, shoot, startRealPages } from './real-pages.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };
const PAGES = [
  { name: 'overview', path: '/', ready: '.ranked tbody tr' },
  { name: 'plane', path: '/?view=plane', ready: '.plane .dot' },
  { name: 'generator', path: '/generators/site-1/gen-2', ready: '.chart canvas' },
  { name: 'service-list', path: '/service-list', ready: '.service tbody tr' },
  { name: 'gateways', path: '/gateways', ready: '.gateway' },
] as const;

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

for (const { name, path, ready } of PAGES) {
  for (const [sizeName, size] of [['wide', WIDE], ['phone', PHONE]] as const) {
    test(`${name} at ${size.width} px shows itself without sideways scrolling or a complaint`, async () => {
      const { page, context, complaints } = await openPage(browser, size);
      await page.goto(pages.url + path);
      await page.waitForSelector(ready);
      await page.waitForTimeout(300);
      await shoot(page, `${name}-${sizeName}`);
      const [inner, scroll] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollWidth] as const);
      expect(scroll).toBeLessThanOrEqual(inner);
      expect(await page.locator('footer.care').innerText()).toContain('Maintenance information only');
      expect(await page.locator('.banner-simulated').innerText()).toContain('Simulated readings');
      expect(await page.locator('h1').count()).toBe(1);
      expect(complaints).toEqual([]);
      await context.close();
    });
  }
}

test('a generator’s page says how urgent it would be, what would be seen, demand as a leak, and how the looks back at a visit went', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await page.goto(`${pages.url}/generators/site-1/gen-2`);
  await page.waitForSelector('#looks-title');
  const textOf = async (id: string): Promise<string> => page.locator(`section[aria-labelledby="${id}"]`).innerText();
  expect(await textOf('urgency-title')).toContain('the low-pressure signal of the piping comes in about 8.9 h');
  expect(await textOf('can-show-title')).toMatch(/of 24 % or more would be seen within 10 days[\s\S]*no finding is no proof of order/);
  expect(await textOf('leak-title')).toContain('never a test result');
  expect(await textOf('since-title')).toMatch(/It improved\.[\s\S]*31\s%\s+19\s%/);
  const looks = page.locator('section[aria-labelledby="looks-title"]');
  expect(await looks.locator('summary').allInnerTexts()).toEqual([expect.stringMatching(/^by whole days: improved/), expect.stringMatching(/^4 h after it: not enough data yet/)]);
  await looks.locator('summary').first().click();
  expect(await looks.innerText()).toMatch(/Run time 31 % before, 19 % after[\s\S]*It came back/);
  expect(await looks.locator('a').count()).toBe(2);
  expect(complaints).toEqual([]);
  await context.close();
});

test('a generator that nothing is written of yet shows none of these', async () => {
  const { page, context } = await openPage(browser, WIDE);
  await page.goto(`${pages.url}/generators/site-1/gen-1`);
  await page.waitForSelector('#finding-title');
  expect(await page.locator('#urgency-title, #can-show-title, #leak-title, #looks-title').count()).toBe(0);
  await context.close();
});

/** What a page must not say before the server has answered: that there is nothing. */
const NOTHING = /\b0 (generators|of)\b|\(0\)|None (is|yet|are)|No visit|Nothing (yet|waits|is due|new)|No (generator|gateway) has/;

for (const path of ['/', '/plan', '/service-list', '/visits', '/records', '/gateways', '/notices', '/settings', '/hand-over', '/replay', '/generators/site-1/gen-2', '/findings/finding-1', '/settings/site-1']) {
  test(`${path} with a server that is slow says that it is loading, and claims nothing yet`, async () => {
    const { page, context } = await openPage(browser, WIDE);
    let answer = (): void => undefined;
    const answered = new Promise<void>((resolve) => (answer = resolve));
    await page.route('**/api/**', async (route) => {
      await answered;
      await route.continue().catch(() => undefined);
    });
    await page.goto(pages.url + path, { waitUntil: 'commit' });
    await page.getByText('Loading').first().waitFor();
    await page.waitForTimeout(200);
    expect(await page.locator('main').innerText()).not.toMatch(NOTHING);
    answer();
    await expect.poll(() => page.locator('main').innerText()).not.toContain('Loading');
    await context.close();
  });
}

test('on every page but those that say more stands that no broker is connected', async () => {
  const { page, context } = await openPage(browser, PHONE);
  pages.setStatus({ brokerConnected: false, brokerSays: 'connection refused', wants: ['no broker: connection refused'] });
  for (const path of ['/plan', '/findings/finding-1', '/service-list']) {
    await page.goto(pages.url + path);
    await page.getByText('No broker is connected, so no new readings come in.').waitFor();
  }
  await page.goto(pages.url);
  await page.getByText('This service wants a person:').waitFor();
  expect(await page.getByText('so no new readings come in').count()).toBe(0);
  pages.setStatus({ brokerConnected: true, brokerSays: 'connected', wants: [] });
  await context.close();
});

for (const path of ['/hand-over', '/replay', '/notices', '/settings', '/settings/site-1', '/records', '/visits', '/nowhere']) {
  test(`${path} listens to the server, so that it is not called silent while it answers`, async () => {
    const { page, context } = await openPage(browser, WIDE);
    const listened = page.waitForRequest((request) => request.url().includes('/api/v1/live'));
    await page.goto(pages.url + path);
    await listened;
    // Seven status messages fit into the time after which silence is said.
    if (path === '/replay') {
      await page.waitForTimeout(17_000);
      expect(await page.getByText('has not been heard').count()).toBe(0);
    }
    await context.close();
  });
}
