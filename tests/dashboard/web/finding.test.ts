// Issue: the story of a finding in one screen: charts on one time axis, zoomed together, its limit and when it is met, its life with names, a closing that can be corrected.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import axe from 'axe-core';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type InventedFleet, inventedFleet } from './invented-fleet.ts';
import { buildPages, launchBrowser, openPage, type RealPages, shoot, startRealPages } from './real-pages.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };

let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;
const folder = mkdtempSync(join(tmpdir(), 'lull-finding-'));

beforeAll(async () => {
  await buildPages(folder);
  fleet = await inventedFleet(40);
  pages = await startRealPages(fleet, folder);
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser?.close();
  await pages?.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function open(page: Page, path: string): Promise<void> {
  await page.goto(pages.url + path);
  await page.waitForSelector('h1');
  await page.waitForFunction(() => !document.body.innerText.includes('Loading'));
}

test('the story stands in one page: sentence, split, evidence, causes, limits, charts on one axis that a drag zooms together', async () => {
  const { page, context, complaints } = await openPage(browser, WIDE);
  await open(page, '/findings/finding-1');
  await page.waitForSelector('.story-charts canvas');
  await page.waitForTimeout(500);
  await shoot(page, 'finding-wide');
  const text = await page.locator('main').innerText();
  for (const says of ['Leak (very likely', 'Can wait until', 'More drawn, or less delivered?', 'What speaks for it', 'What speaks against it', 'Causes weighed against each other', 'half of the chances between', 'Who said and did what']) expect(text).toContain(says);
  expect(await page.locator('.story-charts canvas').first().getAttribute('aria-label')).toContain('limit 50 %');
  expect(await page.getByText('Single cycles show when the span is 30 days or less').count()).toBe(1);
  // A drag over the first picture zooms all of them, and the span stands in the address.
  await page.locator('.story-charts canvas').first().scrollIntoViewIfNeeded();
  const box = (await page.locator('.story-charts canvas').first().boundingBox())!;
  await page.mouse.move(box.x + box.width * 0.45, box.y + 60);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.52, box.y + 60, { steps: 5 });
  await page.mouse.up();
  await page.getByText('Every cycle: run, and rest after it').waitFor();
  const from = new URL(page.url()).searchParams.get('from')!;
  const to = new URL(page.url()).searchParams.get('to')!;
  expect(Date.parse(to) - Date.parse(from)).toBeLessThan(15 * 86_400_000);
  await page.waitForTimeout(500);
  await shoot(page, 'finding-zoomed-wide');
  await page.getByRole('button', { name: 'Zoom in' }).click();
  await expect.poll(() => new URL(page.url()).searchParams.get('from')).not.toBe(from);
  await page.getByRole('button', { name: 'All of it' }).click();
  await expect.poll(() => new URL(page.url()).search).toBe('');
  expect(complaints).toEqual([]);
  await context.close();
});

test('a closing is corrected as a line of its own; nothing is taken out', async () => {
  const { page, context } = await openPage(browser, PHONE);
  await open(page, '/findings/finding-2');
  await page.getByRole('button', { name: 'Close with a reason' }).click();
  await page.getByLabel('Your name').fill('C. Invented');
  await page.locator('.form button[type=submit]').click();
  await page.getByText('Closed 23 Nov: improved.').waitFor();
  await page.getByRole('button', { name: 'Correct the closing' }).click();
  await page.getByLabel('Reason').selectOption('false');
  await page.getByLabel('Note').fill('the gauge was wrong');
  await page.locator('.form button[type=submit]').click();
  await page.getByText('Closed 23 Nov: false finding.').waitFor();
  const life = await page.locator('[aria-labelledby=life-title] li').allInnerTexts();
  expect(life.slice(-2)).toEqual([expect.stringContaining('C. Invented: closed, improved'), expect.stringContaining('C. Invented: closing corrected, false finding')]);
  await shoot(page, 'finding-phone');
  const [inner, scroll] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollWidth] as const);
  expect(scroll).toBeLessThanOrEqual(inner);
  await context.close();
});

type Violation = { id: string; help: string; nodes: { html: string; failureSummary?: string }[] };

for (const path of ['/findings/finding-1', '/plan'] as const) {
  for (const dark of [false, true]) {
    test(`${path} in ${dark ? 'dark' : 'light'} passes the rules of WCAG 2.2 AA that a program can look for`, async () => {
      const { page, context } = await openPage(browser, WIDE, dark);
      await open(page, path);
      await page.evaluate(axe.source);
      const violations = await page.evaluate(async () => {
        const runner = (window as unknown as { axe: { run: (context: Document, options: unknown) => Promise<{ violations: Violation[] }> } }).axe;
        return (await runner.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations;
      });
      expect(violations.map((one) => `${one.id}: ${one.help}: ${one.nodes.slice(0, 3).map((node) => `${node.html} ${node.failureSummary ?? ''}`).join(' | ')}`)).toEqual([]);
      await context.close();
    });
  }
}
