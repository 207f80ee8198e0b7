// Issue: each person's day on the demo fleet, in a real browser over the built program: desk, lead, technician without signal, engineer. World: the demo's invented fleet.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { HandOverNote, Page as ListPage } from '../../shared/api.ts';
import type { Finding } from '../../shared/finding.ts';
import type { Visit } from '../../shared/visit.ts';
import { BROWSER, BROWSER_FLAGS, launchBrowser, shoot } from '../dashboard/web/real-pages.ts';
import { freePort, getJson, type LullProcess, startLull, untilUp } from './lull-process.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };
const folder = mkdtempSync(join(tmpdir(), 'lull-people-'));
let lull: LullProcess;
let browser: Browser;
let url: string;

beforeAll(async () => {
  const [httpPort, mqttPort] = [await freePort(), await freePort()];
  lull = startLull(['demo', '--days', '40', '--http-port', String(httpPort), '--mqtt-port', String(mqttPort)], folder);
  url = `http://127.0.0.1:${httpPort}`;
  await untilUp(lull, url, 180);
  browser = await launchBrowser();
}, 240_000);
afterAll(async () => {
  await browser?.close();
  lull?.child.kill('SIGINT');
  await lull?.ended;
  rmSync(folder, { recursive: true, force: true });
});

/** What a person does, one after the other: counted, and timed as a whole. */
function day(who: string) {
  const startedMs = performance.now();
  let steps = 0;
  return {
    step: async <T>(work: () => Promise<T>): Promise<T> => {
      steps += 1;
      return await work();
    },
    end: () => console.log(`${who}: ${steps} steps, ${((performance.now() - startedMs) / 1000).toFixed(1)} s`),
  };
}

async function opened(size: { readonly width: number; readonly height: number }): Promise<{ readonly page: Page; readonly context: BrowserContext }> {
  const context = await browser.newContext({ viewport: size });
  const page = await context.newPage();
  page.setDefaultTimeout(20_000);
  return { page, context };
}

test('the desk sees who reports, takes the first finding by keyboard, and hands over in words that are kept', async () => {
  const { page, context } = await opened(WIDE);
  const { step, end } = day('desk');
  await step(() => page.goto(url));
  await page.getByText(/of \d+ reporting/).waitFor();
  const row = page.locator('tr[data-index]', { has: page.locator('a[href^="/findings/"]') }).first();
  await step(() => row.locator('.where a').focus());
  await step(() => page.keyboard.press('a'));
  await step(() => page.getByLabel('Your name').fill('Desk Sample'));
  await step(() => page.keyboard.press('Enter'));
  await row.getByText('acknowledged, Desk Sample').waitFor();
  await step(() => page.keyboard.press('o'));
  await page.waitForURL(/\/findings\//);
  await page.getByText('What speaks for it').waitFor();
  const id = page.url().split('/').at(-1)!;
  expect((await getJson<Finding>(`${url}/api/v1/findings/${id}`)).state).toBe('acknowledged');
  await step(() => page.goto(`${url}/hand-over`));
  await step(() => page.getByLabel('Words to the next shift').fill('the hangar rings back at nine'));
  await step(() => page.getByRole('button', { name: 'Keep these words' }).click());
  await page.locator('.hand-notes').getByText('the hangar rings back at nine').waitFor();
  await page.locator('.hand-part', { hasText: 'Changed' }).getByText('acknowledged').first().waitFor();
  await shoot(page, 'journey-desk');
  end();
  expect((await getJson<ListPage<HandOverNote>>(`${url}/api/v1/hand-over/notes`)).items[0]).toMatchObject({ by: 'Desk Sample', words: 'the hangar rings back at nine' });
  await context.close();
});

test('the lead plans the proposed week at once, and each visit can be taken into a calendar', async () => {
  const { page, context } = await opened(WIDE);
  const { step, end } = day('lead');
  await step(() => page.goto(`${url}/plan`));
  await step(() => page.getByLabel('Your name').fill('Lead Sample'));
  await step(() => page.getByRole('button', { name: /^Plan all/ }).click());
  await page.getByText('proposed', { exact: true }).first().waitFor({ state: 'detached' });
  const planned = (await getJson<ListPage<Visit>>(`${url}/api/v1/trips?state=planned`)).items;
  expect(planned.length).toBeGreaterThan(0);
  const calendar = await step(() => page.evaluate(async (id) => await (await fetch(`/api/v1/trips/${id}/calendar.ics`)).text(), planned[0]!.id));
  expect(calendar).toMatch(/BEGIN:VEVENT[\s\S]*STATUS:CONFIRMED/);
  await shoot(page, 'journey-lead');
  end();
  await context.close();
});

test('the technician does the first planned visit without signal; it is recorded when there is signal again', async () => {
  const context = await chromium.launchPersistentContext(join(folder, 'phone'), { executablePath: BROWSER, viewport: PHONE, args: BROWSER_FLAGS });
  const page = context.pages()[0] ?? (await context.newPage());
  page.setDefaultTimeout(20_000);
  const { step, end } = day('technician');
  const [visit] = (await getJson<ListPage<Visit>>(`${url}/api/v1/trips?state=planned`)).items;
  await step(() => page.goto(`${url}/visits`));
  await page.getByText('on this phone').first().waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  await expect.poll(() => page.evaluate(async () => (await caches.keys()).length)).toBe(1);
  await context.setOffline(true);
  await step(() => page.locator(`a[href="/visits/${visit!.id}"]`).click());
  await page.getByText('Normal here').waitFor();
  await step(() => page.getByLabel('Your name').first().fill('Tech Sample'));
  await step(() => page.getByRole('button', { name: 'Start the visit' }).click());
  const tell = page.locator('.step', { has: page.locator('.step-title', { hasText: 'Tell the coordinator' }) });
  for (const who of ["Owner's impairment coordinator", 'Supervising station']) {
    await step(() => tell.getByLabel(who).fill('Somebody Invented'));
    await step(() => tell.getByRole('button', { name: 'Told just now' }).first().click());
  }
  await step(() => tell.getByRole('button', { name: 'Done', exact: true }).click());
  const found = page.locator('.step', { has: page.locator('.step-title', { hasText: 'As found' }) });
  await step(() => found.getByLabel('hour meter').fill('1234'));
  await step(() => found.getByRole('button', { name: 'Done', exact: true }).click());
  await shoot(page, 'journey-technician');
  await step(() => page.getByRole('button', { name: 'Sign and record' }).click());
  await page.getByText(/It is sent as soon as there is signal|The server has it: recorded/).waitFor();
  await context.setOffline(false);
  await expect.poll(async () => (await getJson<Visit>(`${url}/api/v1/trips/${visit!.id}`)).state, { timeout: 40_000 }).toBe('recorded');
  end();
  expect((await getJson<Visit>(`${url}/api/v1/trips/${visit!.id}`)).signed?.by).toBe('Tech Sample');
  await context.close();
});

test('the engineer lays a fault over a stretch of the fleet’s history, and sees when it is told', async () => {
  const { page, context } = await opened(WIDE);
  const { step, end } = day('engineer');
  await step(() => page.goto(`${url}/replay`));
  await step(() => page.selectOption('select >> nth=0', 'rebuilt'));
  await step(() => page.getByRole('button', { name: 'Run' }).click());
  await page.waitForSelector('.replay-faults tbody tr', { timeout: 90_000 });
  expect(await page.innerText('main')).toContain('Rebuilt.');
  expect(await page.innerText('.replay-faults tbody tr')).toMatch(/Leak, marked[\s\S]*(the next finding opened|no new finding opened)/);
  await shoot(page, 'journey-engineer');
  end();
  await context.close();
});
