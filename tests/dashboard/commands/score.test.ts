// Issue: `lull score`: recordings and campaigns, resumable, the same each time, reporting seeds never one by one.
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { ScoreTable } from '../../../analysis/scoring/score-table.ts';
import { keptCampaigns } from '../../../dashboard/commands/kept-campaigns.ts';
import { eventually, runLull, startLull } from '../../journeys/lull-process.ts';

type Answer = { readonly says: string; readonly seeds: string; readonly settings: readonly string[]; readonly tables: readonly ScoreTable[] };
const DAYS = 24;
const CAMPAIGN = ['score', '--campaign', '6', '--generators', '3', '--days', String(DAYS), '--seed', '3'];
let folder: string;
let first: Answer;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lull-score-'));
  const ended = await runLull([...CAMPAIGN, '--json', '--picture', 'score.html'], folder);
  expect([ended.code, ended.said]).toEqual([0, expect.stringContaining('readings')]);
  first = JSON.parse(ended.out) as Answer;
}, 180_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const kept = (): string[] => readdirSync(join(folder, 'data', 'score')).filter((file) => file.endsWith('.json')).sort();

test('score --campaign adds up its worlds, says which seeds were used, and draws a page', () => {
  expect(first).toMatchObject({ seeds: 'reporting', says: expect.stringContaining('reporting seeds 60000 to 60002') });
  expect(first.tables[0]).toMatchObject({ worlds: 2, generators: 6 });
  expect(first.tables[0]!.generatorYears).toBeCloseTo((6 * DAYS) / 365.25, 6);
  expect(readFileSync(join(folder, 'score.html'), 'utf8')).toMatch(/^<!doctype html>[\s\S]*<svg /);
});

test('score --sweep scores the same worlds at several prices, and keeps what it says for the Replay page', async () => {
  const one = keptCampaigns(join(folder, 'data', 'score'));
  expect(one).toEqual([expect.objectContaining({ purpose: 'reporting', generators: 6, days: DAYS, says: first.says })]);
  expect(one[0]!.points).toEqual([expect.objectContaining({ hash: first.settings[0], faults: first.tables[0]!.all.faults, found: first.tables[0]!.all.found, falsePerYear: { value: first.tables[0]!.falseFindings.perYear, low: first.tables[0]!.falseFindings.low, high: first.tables[0]!.falseFindings.high } })]);
  const swept = await runLull([...CAMPAIGN, '--sweep', '5,0.05', '--json'], folder);
  expect(swept.code).toBe(0);
  const answer = JSON.parse(swept.out) as Answer;
  expect(answer.tables).toHaveLength(2);
  // The first of them is that of the program, folded before.
  expect(answer.tables[0]).toEqual(first.tables[0]);
  expect(answer.tables[1]!.falseFindings.count).toBeGreaterThanOrEqual(answer.tables[0]!.falseFindings.count);
  const both = keptCampaigns(join(folder, 'data', 'score'));
  expect(both).toHaveLength(2);
  expect(both[0]!.points.map((point) => point.settings.falseFindingsPerYear)).toEqual([0.05, 5]);
  const words = await runLull([...CAMPAIGN, '--sweep', '0.05,5'], folder);
  expect(words.out).toMatch(/falseFindingsPerYear {2}false a generator-year[\s\S]*\n0\.05 [\s\S]*\n5 /);
  expect(keptCampaigns(join(folder, 'nowhere'))).toEqual([]);
}, 180_000);

test('score --campaign goes on where it was stopped, and gives the same table', async () => {
  // Those of the sweep's other price are left alone.
  const files = kept().filter((file) => file.includes(first.settings[0]!));
  expect(files).toHaveLength(2);
  const all = kept();
  // One world is done anew, the other is taken as it is kept: it is marked to be told apart.
  rmSync(join(folder, 'data', 'score', files[0]!));
  const again = await runLull([...CAMPAIGN, '--json'], folder);
  expect(again.code).toBe(0);
  expect(kept()).toEqual(all);
  expect((JSON.parse(again.out) as Answer).tables).toEqual(first.tables);
  const path = join(folder, 'data', 'score', files[1]!);
  const world = JSON.parse(readFileSync(path, 'utf8')) as { outcome: { watched: unknown[] } };
  writeFileSync(path, JSON.stringify({ ...world, outcome: { ...world.outcome, watched: world.outcome.watched.slice(1) } }));
  const marked = await runLull([...CAMPAIGN, '--json'], folder);
  expect((JSON.parse(marked.out) as Answer).tables[0]!.generators).toBe(5);
  rmSync(path);
}, 180_000);

test('score keeps reporting seeds from being told one by one, and refuses what makes no sense', async () => {
  for (const [args, says] of [
    [[...CAMPAIGN, '--list'], 'reporting seeds are only ever added up'],
    [['score'], 'give recordings, or --campaign N'],
    [[...CAMPAIGN, 'folder'], 'not both'],
    [['score', '--campaign', 'many'], '--campaign must be a number'],
    [['score', 'x', '--compare', 'a.yaml'], 'no'],
    [['score', 'x', '--sweep', '0.1,1'], '--sweep wants --campaign'],
    [[...CAMPAIGN, '--sweep', '0.1,much'], '--sweep must name values that falseFindingsPerYear can have'],
    [[...CAMPAIGN, '--sweep', 'horizonDays=30,60'], '--sweep can vary falseFindingsPerYear'],
    [[...CAMPAIGN, '--sweep', '0.1'], '--sweep must name 2 to 8 values'],
  ] as const) {
    const ended = await runLull([...args], folder);
    expect([args, ended.code === 0]).toEqual([args, false]);
    expect(ended.said).toContain(says);
  }
}, 180_000);

test('score --tuning --list tells worlds one by one', async () => {
  const ended = await runLull(['score', '--campaign', '2', '--generators', '2', '--days', '20', '--tuning', '--list'], folder);
  expect(ended.code).toBe(0);
  expect(ended.out).toContain('tuning seeds 20001 to 20001');
  expect(ended.out).toMatch(/world 20001\n false findings: \d/);
}, 120_000);

test('score --compare folds the same worlds under two settings', async () => {
  writeFileSync(join(folder, 'bold.yaml'), 'analysis:\n  smallestChange: 0.01\n');
  writeFileSync(join(folder, 'shy.yaml'), 'analysis:\n  smallestChange: 0.9\n');
  const ended = await runLull([...CAMPAIGN, '--json', '--compare', 'bold.yaml', 'shy.yaml'], folder);
  expect(ended.code).toBe(0);
  const answer = JSON.parse(ended.out) as Answer & { readonly compared: readonly { readonly measure: string }[] };
  expect(new Set(answer.settings).size).toBe(2);
  expect(answer.tables.map((table) => table.all.faults)).toEqual([first.tables[0]!.all.faults, first.tables[0]!.all.faults]);
  expect(answer.compared[0]).toMatchObject({ measure: 'found share' });
}, 180_000);

test('score of a recording reads its truth, and refuses one without', async () => {
  const simulated = await runLull(['simulate', '--out', 'recording', '--days', '2', '--end', '2026-03-05T00:00:00Z'], folder);
  expect(simulated.code).toBe(0);
  const ended = await runLull(['score', 'recording', '--json', '--list'], folder);
  expect([ended.code, ended.said]).toEqual([0, '']);
  const answer = JSON.parse(ended.out) as Answer;
  const truth = JSON.parse(readFileSync(join(folder, 'recording', 'truth.json'), 'utf8')) as { faults: unknown[] };
  expect(answer).toMatchObject({ seeds: 'recording' });
  expect(answer.tables[0]!.all.faults).toBe(truth.faults.length);
  expect(answer.tables[0]!.generators).toBeGreaterThan(35);
  rmSync(join(folder, 'recording', 'truth.json'));
  const without = await runLull(['score', 'recording'], folder);
  expect([without.code, without.said]).toEqual([1, expect.stringContaining('no truth.json')]);
}, 180_000);

test('score of a recording finds in it what replay finds', async () => {
  expect((await runLull(['simulate', '--out', 'leaks', '--generators', '2', '--days', '60', '--seed', '4', '--faults', 'leak'], folder)).code).toBe(0);
  const replayed = JSON.parse((await runLull(['replay', 'leaks', '--json'], folder)).out) as { findings: { cause: string }[] };
  const table = (JSON.parse((await runLull(['score', 'leaks', '--json'], folder)).out) as Answer).tables[0]!;
  expect(replayed.findings.filter((finding) => finding.cause === 'leak').length).toBeGreaterThan(0);
  expect(table.all.found).toBeGreaterThan(0);
  // One wrong word in the registry costs all of its sites: that is said, and where.
  const registry = ['sites.yaml', 'sites.json'].map((name) => join(folder, 'leaks', name)).find((path) => existsSync(path))!;
  writeFileSync(registry, '{"sites":[{"id":"quay-7","generators":[{"id":"gen-1","risers":[{"id":"r","purge":"timer"}]}]}]}');
  for (const command of [['score', 'leaks'], ['replay', 'leaks']]) {
    const { said } = await runLull(command, folder);
    expect(said).toContain('is refused as a whole, and none of its sites is known');
    expect(said).toContain('sites.0.generators.0.risers.0.purge');
  }
}, 180_000);

test('score stops when it is asked to, with what is finished kept', async () => {
  const long = startLull(['score', '--campaign', '60', '--generators', '20', '--days', '300', '--seed', '9', '--keep', 'long'], folder);
  // From here on it listens to signals.
  await eventually('the folder for finished worlds', 60, () => (existsSync(join(folder, 'long')) ? true : undefined));
  long.child.kill('SIGINT');
  const ended = await long.ended;
  expect([ended.code, ended.said]).toEqual([1, expect.stringContaining('goes on with the others')]);
}, 180_000);
