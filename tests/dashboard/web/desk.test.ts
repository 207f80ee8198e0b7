// Issue: the desk's shift: what is new, who has it, everything by keyboard, a part of the plane marked, the note at the end.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import axe from 'axe-core';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { visitSchema } from '../../../shared/visit.ts';
import { type InventedFleet, inventedFleet, NOW_MS } from './invented-fleet.ts';
import { buildPages, launchBrowser, openPage, type RealPages, shoot, startRealPages } from './real-pages.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };
const DAY_MS = 86_400_000;

let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;
const folder = mkdtempSync(join(tmpdir(), 'lull-desk-'));

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

async function settled(page: Page, path: string): Promise<void> {
  await page.goto(pages.url + path);
  await page.waitForSelector('h1');
  await page.waitForFunction(() => !document.body.innerText.includes('Loading'));
}

const focusedRow = (page: Page): Promise<string | undefined> => page.evaluate(() => document.activeElement?.closest<HTMLElement>('tr')?.dataset['index']);

test('a shift by keyboard alone: next, acknowledge, note, shelve, open; who has it stands in the row', async () => {
  const { page, context, complaints } = await openPage(browser, WIDE);
  await settled(page, '/');
  await page.getByText('Keys, while the focus is in the list').waitFor();
  await page.locator('tr[data-index="0"] .where a').focus();
  await page.keyboard.press('ArrowDown');
  expect(await focusedRow(page)).toBe('1');
  await page.keyboard.press('a');
  await page.getByLabel('Your name').fill('E. Invented');
  await shoot(page, 'overview-acting-wide');
  await page.keyboard.press('Enter');
  await page.locator('tr[data-index="1"]').getByText('acknowledged, E. Invented').waitFor();
  await expect.poll(() => focusedRow(page)).toBe('1');
  await page.keyboard.press('n');
  await expect.poll(() => page.evaluate(() => document.activeElement?.tagName)).toBe('INPUT');
  // Keys are letters again inside a form.
  await page.getByLabel('Note').fill('rang the site, a sad jan');
  await page.locator('.row-form button[type=submit]').click();
  await page.locator('.row-form').waitFor({ state: 'detached' });
  await page.keyboard.press('j');
  await page.keyboard.press('s');
  await page.getByLabel('Shelve until').fill('2026-11-30T08:00');
  await page.locator('.row-form button[type=submit]').click();
  await page.locator('tr[data-index="2"]').getByText('shelved until 30 Nov').waitFor();
  await page.keyboard.press('n');
  await page.getByLabel('Note').waitFor();
  await page.keyboard.press('Escape');
  await page.locator('.row-form').waitFor({ state: 'detached' });
  await expect.poll(() => focusedRow(page)).toBe('2');
  await page.keyboard.press('k');
  await page.keyboard.press('o');
  await page.waitForURL(/\/findings\/finding-1$/);
  expect((await fleet.records.actions()).map((one) => [one.action, one.by, one.finding])).toEqual([['acknowledge', 'E. Invented', 'finding-1'], ['note', 'E. Invented', 'finding-1'], ['shelve', 'E. Invented', 'finding-2']]);
  expect(complaints).toEqual([]);
  await context.close();
});

test('what was found since the reader last looked is counted, shown alone, and seen', async () => {
  const { page, context } = await openPage(browser, WIDE);
  await settled(page, '/');
  await page.getByText('Nothing new since you last looked').waitFor();
  // Ten days ago: all that was found since is new.
  await page.evaluate((ms) => window.localStorage.setItem('lull.looked-at', String(ms)), NOW_MS - 10 * DAY_MS);
  await settled(page, '/');
  await page.getByText('7 new since you last looked').waitFor();
  expect(await page.getByText('new since you looked', { exact: true }).count()).toBe(7);
  await page.getByRole('button', { name: 'Show only these' }).click();
  await expect.poll(() => page.url()).toContain('fresh=yes');
  expect(await page.locator('.ranked tbody tr[data-index]').count()).toBe(7);
  await page.getByRole('button', { name: 'I have seen them' }).click();
  await page.getByText('Nothing new since you last looked').waitFor();
  expect(await page.locator('.ranked tbody tr[data-index]').count()).toBe(40);
  await context.close();
});

test('a part of the plane is marked by a drag or a button, stands in the address, and the list follows', async () => {
  const { page, context, complaints } = await openPage(browser, WIDE);
  await settled(page, '/?view=plane');
  await page.waitForSelector('.plane .dot');
  expect(await page.locator('.ranked').count()).toBe(0);
  await page.getByRole('button', { name: 'Less is delivered' }).click();
  await expect.poll(() => page.locator('.ranked .cause').allInnerTexts()).toEqual([expect.stringContaining('Element loading'), expect.stringContaining('One of'), expect.stringContaining('Drain stuck open')]);
  await page.getByRole('button', { name: 'Whole plane' }).click();
  const box = (await page.locator('.plane').boundingBox())!;
  await page.mouse.move(box.x + box.width * 0.5, box.y + box.height * 0.98 - 60);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.95, box.y + box.height * 0.45, { steps: 6 });
  await page.mouse.up();
  await expect.poll(() => page.url()).toContain('part=');
  const drawn = await page.locator('.ranked tbody tr[data-index]').count();
  expect(drawn).toBeGreaterThan(0);
  expect(drawn).toBeLessThan(40);
  await shoot(page, 'plane-brushed-wide');
  const kept = page.url();
  await page.goto(kept);
  await expect.poll(() => page.locator('.ranked tbody tr[data-index]').count()).toBe(drawn);
  expect(complaints).toEqual([]);
  await context.close();
});

test('the hand-over note lists new, changed, waiting, visits, shelved with its end and silent, and prints', async () => {
  await fleet.records.saveVisit(visitSchema.parse({ id: 'trip-today', site: 'site-3', generators: ['gen-1'], state: 'planned', plannedFor: '2026-11-24', plannedTime: '09:00', technician: 'Ana Invented', updatedAt: '2026-11-23T12:00:00Z', updatedBy: 'Lead' }));
  const { page, context, complaints } = await openPage(browser, WIDE);
  await settled(page, '/hand-over');
  const part = async (title: string): Promise<string> => await page.locator('.hand-part', { hasText: title }).first().innerText();
  expect(await part('Changed')).toContain('Leak (very likely, 93\u00a0%): acknowledged');
  expect(await part('Changed')).toContain('rang the site, a sad jan');
  expect(await part('Waiting for somebody')).toContain('Valve left shut');
  expect(await part('Waiting for somebody')).not.toContain('Element loading');
  expect(await part('Shelved, with its end')).toContain('shelved until 30 Nov 2026, 08:00; E. Invented');
  expect(await part('Visits under way')).toContain('visit planned for Tue 24 Nov, 09:00, 2\u00a0h; Ana Invented');
  expect(await part('Not reporting')).toContain('not reporting; last heard');
  await page.getByRole('button', { name: '3 days' }).click();
  await expect.poll(() => page.url()).toContain('hours=72');
  await shoot(page, 'hand-over-wide');
  await page.getByLabel('Words to the next shift').fill('the site of Quay rings back at 9');
  await page.emulateMedia({ media: 'print' });
  expect(await page.locator('.hand-words').isVisible()).toBe(true);
  expect(await page.getByRole('button', { name: 'Print' }).isVisible()).toBe(false);
  await shoot(page, 'hand-over-paper');
  expect(complaints).toEqual([]);
  await context.close();
});

type Violation = { id: string; help: string; nodes: { html: string; failureSummary?: string }[] };

for (const dark of [false, true]) {
  test(`the hand-over note in ${dark ? 'dark' : 'light'}, and on a phone, passes what a program can look for`, async () => {
    const { page, context } = await openPage(browser, PHONE, dark);
    await settled(page, '/hand-over');
    await page.evaluate(axe.source);
    const violations = await page.evaluate(async () => {
      const runner = (window as unknown as { axe: { run: (context: Document, options: unknown) => Promise<{ violations: Violation[] }> } }).axe;
      return (await runner.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations;
    });
    expect(violations.map((one) => `${one.id}: ${one.help}: ${one.nodes.slice(0, 3).map((node) => `${node.html} ${node.failureSummary ?? ''}`).join(' | ')}`)).toEqual([]);
    const [inner, scroll] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollWidth] as const);
    expect(scroll).toBeLessThanOrEqual(inner);
    await context.close();
  });
}
