// Issue: the lead's day: a week is proposed, changed by keyboard and by drag, planned, and comes out as calendar, table and paper.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Finding } from '../../../shared/finding.ts';
import { type InventedFleet, inventedFleet } from './invented-fleet.ts';
import { buildPages, launchBrowser, openPage, type RealPages, shoot, startRealPages } from './real-pages.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };

let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;
const folder = mkdtempSync(join(tmpdir(), 'lull-plan-'));

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

const api = async <T>(path: string): Promise<T> => (await (await fetch(`${pages.url}/api/v1${path}`)).json()) as T;

test('a lead enters who can be sent, gets a week, moves a trip by keyboard and by drag, plans it, and it is in the calendar', async () => {
  const { page, context, complaints } = await openPage(browser, WIDE);
  await page.goto(`${pages.url}/plan`);
  await page.getByText('Nobody is entered who could go. Enter').waitFor();
  await page.getByLabel('Your name').fill('Lead Invented');
  for (const [name, trade] of [['Ana Invented', ''], ['Rui Invented', 'instrument and gateway person']] as const) {
    await page.getByRole('button', { name: 'Enter somebody…' }).click();
    await page.getByLabel('Name', { exact: true }).fill(name);
    if (trade !== '') await page.getByLabel(trade).check();
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.locator('.people').getByText(name, { exact: true }).waitFor();
  }
  await page.waitForSelector('.trip-proposed');
  await shoot(page, 'plan-proposed-wide');
  const days = await page.locator('.plan-day').evaluateAll((sections) => sections.map((one) => ({ day: one.getAttribute('aria-label') ?? '', trips: [...one.querySelectorAll('.trip')].map((trip) => trip.getAttribute('data-trip') ?? '') })));
  expect(days.length).toBeGreaterThanOrEqual(7);
  expect(days[0]!.day).toBe('Tue 24 Nov');
  const first = days.find((one) => one.trips.length > 0)!;

  // By keyboard: the trip goes a day on, becomes a draft, and keeps the focus.
  await page.locator(`[data-trip="${first.trips[0]!}"]`).focus();
  await page.keyboard.press('Alt+ArrowDown');
  await page.locator('.trip-draft').waitFor();
  const moved = (await api<{ items: { id: string; state: string; plannedFor: string; site: string }[] }>('/trips')).items;
  expect(moved.map((one) => [one.state, one.plannedFor])).toEqual([['draft', '2026-11-25']]);
  await expect.poll(() => page.evaluate(() => document.activeElement?.getAttribute('data-trip'))).toBe(moved[0]!.id);

  // By drag to the day after.
  await page.locator(`[data-trip="${moved[0]!.id}"]`).dragTo(page.getByRole('region', { name: 'Thu 26 Nov' }));
  await expect.poll(async () => (await api<{ items: { plannedFor: string }[] }>('/trips')).items[0]?.plannedFor).toBe('2026-11-26');
  await page.getByRole('region', { name: 'Thu 26 Nov' }).locator('.trip-draft').getByRole('button', { name: /^Plan it/ }).click();
  await page.locator('.trip-planned').waitFor();
  const planned = (await api<{ items: { id: string; state: string; revision: number; findings: string[] }[] }>('/trips')).items[0]!;
  expect([planned.state, planned.revision]).toEqual(['planned', 3]);
  for (const id of planned.findings) expect((await api<Finding>(`/findings/${id}`)).state).toBe('planned');
  const calendar = await (await fetch(`${pages.url}/api/v1/trips.ics`)).text();
  expect(calendar).toContain(`UID:${planned.id}@lull`);
  expect(calendar).toContain('SEQUENCE:3');
  expect(complaints).toEqual([]);
  await shoot(page, 'plan-wide');

  // Cancelled: it stays in the feed as such, and its findings leave the plan.
  await page.locator('.trip-planned').getByRole('button', { name: /^Change:/ }).click();
  await page.getByRole('button', { name: 'Cancel the visit' }).click();
  await page.locator('.trip-planned').waitFor({ state: 'detached' });
  expect(await (await fetch(`${pages.url}/api/v1/trips.ics`)).text()).toContain('STATUS:CANCELLED');
  for (const id of planned.findings) expect((await api<Finding>(`/findings/${id}`)).state).toBe('acknowledged');
  await context.close();
});

test('a test of the sprinkler contractor is entered and cancelled, and the plan reads on a phone and on paper', async () => {
  const { page, context, complaints } = await openPage(browser, PHONE);
  await page.goto(`${pages.url}/plan`);
  await page.waitForSelector('.trip');
  await page.getByRole('button', { name: 'Enter a test…' }).click();
  await page.getByRole('button', { name: 'Enter it' }).click();
  expect(await page.locator('.problem').innerText()).toContain('type your name');
  await page.getByLabel('Your name').fill('Lead Invented');
  await page.getByLabel('Begins').fill('2026-11-26T09:00');
  await page.getByRole('button', { name: 'Enter it' }).click();
  await page.locator('.tests li').waitFor();
  const entries = await fleet.records.entries();
  const mine = entries.filter((entry) => entry.kind === 'trip-test');
  expect(mine.map((entry) => entry.site)).toEqual(['site-1', 'site-1']);
  expect(mine.every((entry) => Date.parse(entry.finishedAt!) - Date.parse(entry.startedAt) === 3 * 3_600_000)).toBe(true);
  await shoot(page, 'plan-phone');
  const [inner, scroll] = await page.evaluate(() => [window.innerWidth, document.documentElement.scrollWidth] as const);
  expect(scroll).toBeLessThanOrEqual(inner);
  await page.getByRole('button', { name: 'Cancel the test' }).click();
  await page.getByText('None is entered').waitFor();
  await page.emulateMedia({ media: 'print' });
  await shoot(page, 'plan-paper');
  expect(await page.getByRole('button', { name: 'Print' }).isVisible()).toBe(false);
  expect(complaints).toEqual([]);
  await context.close();
});
