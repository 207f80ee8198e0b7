// Issue: the desk's shift, the story of a finding, the lead's week: each person's day in a real browser over the real server.
import axe from 'axe-core';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Finding } from '../../../shared/finding.ts';
import { visitSchema } from '../../../shared/visit.ts';
import { type InventedFleet, inventedFleet, NOW_MS } from './invented-fleet.ts';
import { launchBrowser, openPage, type RealPages, shoot, startRealPages } from './real-pages.ts';

const WIDE = { width: 1440, height: 900 };
const PHONE = { width: 390, height: 844 };
const DAY_MS = 86_400_000;

let fleet: InventedFleet;
let pages: RealPages;
let browser: Browser;

beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser?.close();
});

/** A fleet of its own for each person's day. */
function withFleet(): void {
  beforeAll(async () => {
    fleet = await inventedFleet(40);
    pages = await startRealPages(fleet);
  });
  afterAll(() => pages.stop());
}

async function settled(page: Page, path: string): Promise<void> {
  await page.goto(pages.url + path);
  await page.waitForSelector('h1');
  await page.waitForFunction(() => !document.body.innerText.includes('Loading'));
}

describe('the desk', () => {
  withFleet();


  const focusedRow = (page: Page): Promise<string | undefined> => page.evaluate(() => document.activeElement?.closest<HTMLElement>('tr')?.dataset['index']);

  test('a shift by keyboard alone: next, acknowledge, note, shelve, open; who has it stands in the row', async () => {
    const { page, context, complaints } = await openPage(browser, WIDE);
    await settled(page, '/');
    await page.getByText('Keys, while the focus is in the list').waitFor();
    await page.locator('tr[data-index="0"] .where a').focus();
    await page.keyboard.press('ArrowDown');
    await expect.poll(() => focusedRow(page)).toBe('1');
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

  test('the list comes anew in another order while a form is open: the order stands, the focus and what was typed stay', async () => {
    // So high that every row is drawn, whatever stands in it.
    const { page, context, complaints } = await openPage(browser, { ...WIDE, height: 1600 });
    await settled(page, '/');
    await page.locator('tr[data-index="8"] .where a').focus();
    const names = (): Promise<string[]> => page.locator('tr[data-index] .where a').allInnerTexts();
    const before = await names();
    const focusedTag = (): Promise<string | undefined> => page.evaluate(() => document.activeElement?.tagName);
    // A form that is opened and left at once, within one frame, leaves the focus in its row.
    await page.evaluate(() => {
      for (const key of ['ArrowUp', 'ArrowUp', 'ArrowUp']) document.activeElement!.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
    });
    await expect.poll(() => focusedRow(page)).toBe('5');
    await page.evaluate(async () => {
      const row = document.activeElement!;
      row.dispatchEvent(new KeyboardEvent('keydown', { key: 'n', bubbles: true, cancelable: true }));
      await Promise.resolve();
      (document.activeElement ?? row).dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape', bubbles: true, cancelable: true }));
    });
    await page.locator('.row-form').waitFor({ state: 'detached' });
    await page.waitForTimeout(200);
    expect(await focusedRow(page)).toBe('5');
    await page.keyboard.press('n');
    await page.getByLabel('Note').fill('rang the si');
    // The pointer comes by and goes, as it lies on the desk.
    await page.locator('tr[data-index="2"]').hover();
    await page.mouse.move(5, 5);
    const report = (await fleet.records.report())!;
    await fleet.records.saveAnalysis({ tickMs: NOW_MS, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report: { ...report, at: new Date(NOW_MS).toISOString(), ranking: report.ranking.toReversed().map((row, index) => ({ ...row, rank: index + 1 })) } });
    pages.server.ticked();
    await page.getByText('The order has changed').waitFor();
    expect(await names()).toEqual(before);
    expect(await focusedTag()).toBe('TEXTAREA');
    // From field to field the focus is nowhere for a moment; that is no leave to move.
    await page.keyboard.press('Shift+Tab');
    await page.keyboard.press('Tab');
    expect(await names()).toEqual(before);
    expect(await focusedTag()).toBe('TEXTAREA');
    await page.keyboard.press('End');
    await page.keyboard.type('te');
    expect(await page.getByLabel('Note').inputValue()).toBe('rang the site');
    await page.keyboard.press('Escape');
    await expect.poll(() => focusedRow(page)).toBe('5');
    await page.evaluate(() => (document.activeElement as HTMLElement).blur());
    await expect.poll(names).toEqual(before.toReversed());
    expect(complaints).toEqual([]);
    await context.close();
    await fleet.records.saveAnalysis({ tickMs: NOW_MS + 1, replaced: [], days: [], cycles: [], findings: [], checkpoints: [], hotStates: [], report });
    pages.server.ticked();
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
    // Rows come in frames: what is asked is that all of them come.
    await expect.poll(() => page.locator('.ranked tbody tr[data-index]').count()).toBe(40);
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
    // Shelved by the site's clock; the note keeps UTC, 7 h ahead of Denver.
    expect(await part('Shelved, with its end')).toContain('shelved until 30 Nov 2026, 15:00; E. Invented');
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
    await page.emulateMedia({ media: 'screen' });
    await page.getByLabel('Your name').fill('Desk Invented');
    await page.getByRole('button', { name: 'Keep these words' }).click();
    await expect.poll(async () => await part('Words of earlier shifts')).toContain('24 Nov 2026, 03:12 UTC, Desk Invented');
    expect(await part('Words of earlier shifts')).toContain('the site of Quay rings back at 9');
    expect(await page.getByLabel('Words to the next shift').inputValue()).toBe('');
    expect(complaints).toEqual([]);
    await context.close();
  });
});

describe('the finding', () => {
  withFleet();


  test('the story stands in one page: sentence, split, evidence, causes, limits, charts on one axis that a drag zooms together', async () => {
    const { page, context, complaints } = await openPage(browser, WIDE);
    await settled(page, '/findings/finding-1');
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
    await settled(page, '/findings/finding-2');
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
});

describe('the lead', () => {
  withFleet();

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

  test('what a site says of its access stands beside the day that is proposed, as not taken into account; a change half typed outlives the page', async () => {
    const { page, context } = await openPage(browser, WIDE);
    await page.goto(`${pages.url}/plan`);
    const trip = page.locator('.trip-proposed').first();
    await trip.getByText(/^Access: ring at gate B, weekdays 07:00-16:00$/).waitFor();
    expect(await trip.innerText()).toMatch(/ring at gate B, weekdays 07:00-16:00 \(not taken into account when \w{3} \d+ (Nov|Dec) was proposed\)/);
    const key = await trip.getAttribute('data-trip');
    const same = page.locator(`[data-trip="${key}"]`);
    await same.getByRole('button', { name: /^Change/ }).click();
    await same.getByLabel('Note for who goes').fill('the porter is deaf on one si');
    await page.reload();
    expect(await same.getByLabel('Note for who goes').inputValue()).toBe('the porter is deaf on one si');
    // Refused for want of a name: the words stay.
    await page.getByLabel('Your name').fill('');
    await same.getByRole('button', { name: 'Save' }).click();
    await page.getByText('Please type your name first').waitFor();
    expect(await same.getByLabel('Note for who goes').inputValue()).toBe('the porter is deaf on one si');
    await same.getByRole('button', { name: 'Leave it' }).click();
    await page.reload();
    await same.getByRole('button', { name: /^Change/ }).click();
    expect(await same.getByLabel('Note for who goes').inputValue()).toBe('');
    await context.close();
  });

  test('lists and charts go on paper whole: a heading is not alone on its sheet, and no picture is cut', async () => {
    const { page, context } = await openPage(browser, WIDE);
    await settled(page, '/service-list');
    const pdf = await page.pdf({ preferCSSPageSize: true, format: 'A4' });
    // Landscape from its first sheet on; a sheet more would be the heading alone.
    expect([...pdf.toString('latin1').matchAll(/\/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]/g)].map((box) => Number(box[1]) > Number(box[2]))).toEqual(expect.arrayContaining([true]));
    expect(pdf.toString('latin1')).not.toMatch(/\/MediaBox\s*\[0 0 59\d[.\d]* 84\d/);
    await settled(page, '/findings/finding-1');
    await page.locator('.story-charts canvas').first().waitFor();
    await page.setViewportSize({ width: 1440, height: 900 });
    await page.waitForTimeout(300);
    await page.emulateMedia({ media: 'print' });
    await page.setViewportSize({ width: 720, height: 900 });
    const cut = await page.locator('canvas').evaluateAll((all) => all.filter((one) => one.getBoundingClientRect().right > document.documentElement.clientWidth + 1).length);
    expect(cut).toBe(0);
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

  type Violation = { id: string; help: string; nodes: { html: string; failureSummary?: string }[] };

  // Here, where people, trips and tests have been entered, there is something to look at.
  for (const [path, dark] of [['/plan', false], ['/plan', true], ['/findings/finding-1', false], ['/findings/finding-1', true], ['/hand-over', false], ['/hand-over', true]] as const) {
    test(`${path} in ${dark ? 'dark' : 'light'} passes the rules of WCAG 2.2 AA that a program can look for, and fits a phone`, async () => {
      const { page, context } = await openPage(browser, PHONE, dark);
      await settled(page, path);
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
});
