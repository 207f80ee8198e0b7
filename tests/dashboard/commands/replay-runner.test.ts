// Issue: "Worlds", the engineer's page: an invented world runs in a worker, never in the real store. World: small ones of the simulator.
import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { pathToFileURL } from 'node:url';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createReplayRunner, type ReplayRunner } from '../../../dashboard/commands/replay-runner.ts';
import { worldAsked } from '../../../dashboard/commands/replay-scenario.ts';
import { DEFAULT_ANALYSIS_SETTINGS, hashOfSettings } from '../../../shared/analysis-settings.ts';
import { SILENT_LOG } from '../../../shared/log.ts';
import { isoFromMs } from '../../../shared/time.ts';
import type { ReplayAsked, ReplayResult, ReplayRun } from '../../../shared/world-replay.ts';
import { randomScenario } from '../../../simulator/random-worlds.ts';
import { worldStartOf } from '../../../dashboard/commands/score-run.ts';
import { SMALL_WORLD } from './small-world.ts';

const WORKER = pathToFileURL(join(import.meta.dirname, '../../../.build/dashboard/commands/world-replay-worker.js'));
const SETTINGS = { falseFindingsPerYear: 0.05, baselineDays: 14, smallestChange: 0.1, horizonDays: 365 };
const NOW_MS = Date.parse('2026-11-24T03:12:00Z');
const folder = mkdtempSync(join(tmpdir(), 'lull-replay-run-'));
let runner: ReplayRunner;
beforeAll(() => {
  runner = createReplayRunner({ settings: DEFAULT_ANALYSIS_SETTINGS, clock: { nowMs: () => NOW_MS }, log: SILENT_LOG, scratchFolder: join(folder, 'scratch'), workerFile: WORKER });
});
afterAll(async () => {
  await runner.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function started(asked: ReplayAsked): Promise<ReplayRun> {
  const given = await runner.start(asked);
  if (!('run' in given)) throw new Error(JSON.stringify(given));
  return given.run;
}

async function ended(): Promise<{ readonly run: ReplayRun; readonly ratios: readonly number[] }> {
  const ratios: number[] = [];
  for (let run = runner.current(); ; run = runner.current()) {
    if (run !== undefined && run.state !== 'running') return { run, ratios };
    if (run !== undefined && run.ratio !== ratios.at(-1)) ratios.push(run.ratio);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

test('a scenario is lived through in a thread: the leak is found and named, the other generator is left in peace', async () => {
  await started({ text: SMALL_WORLD });
  const { run, ratios } = await ended();
  expect(run).toMatchObject({ name: 'one plain leak', generators: 2, days: 40, seed: 7, state: 'done', ratio: 1, problem: null, endedAt: isoFromMs(NOW_MS) });
  expect(ratios.length).toBeGreaterThan(3);
  expect(ratios).toEqual([...ratios].sort((a, b) => a - b));
  const result = runner.result()!;
  expect(result).toMatchObject({ id: run.id, kind: 'simulated', refused: 0, fromAt: '2026-01-05T00:00:00.000Z', untilAt: '2026-02-14T00:00:00.000Z', other: null, measures: [], first: { hash: hashOfSettings(DEFAULT_ANALYSIS_SETTINGS), summary: { faults: 1, found: 1, missed: 0, causeRight: 1, falseFindings: 0 } } });
  const [leaking, quiet] = result.first.generators;
  expect(leaking?.faults).toEqual([expect.objectContaining({ cause: 'leak', onset: '2026-01-29T00:00:00.000Z', end: null, outcome: 'found', causeRight: true })]);
  expect(leaking?.faults[0]?.delayH).toBeLessThan(8 * 24);
  const opened = Date.parse(leaking?.findings.find((one) => one.outcome === 'right')?.openedAt ?? '');
  expect((opened - Date.parse('2026-01-29T00:00:00Z')) / 3_600_000).toBeCloseTo(leaking?.faults[0]?.delayH ?? NaN, 6);
  expect(quiet).toMatchObject({ faults: [], findings: [] });
  expect(leaking?.days.length).toBeGreaterThanOrEqual(40);
  const rest = (day: number): number => leaking?.days[day]?.restS ?? NaN;
  expect(rest(35)).toBeLessThan(rest(15) * 0.8);
});

test('random generators of a seed are those of the campaign, and the same seed says the same again', async () => {
  const asked = { seed: 15, generators: 3, days: 30 } as const;
  const results: ReplayResult[] = [];
  for (let time = 0; time < 2; time += 1) {
    await started(asked);
    expect((await ended()).run.state).toBe('done');
    results.push(runner.result()!);
  }
  expect({ ...results[1], id: '' }).toEqual({ ...results[0], id: '' });
  const scenario = randomScenario({ ...asked, startMs: worldStartOf(15) });
  expect(results[0]?.first.generators.map((one) => `${one.site}/${one.generator}`)).toEqual(scenario.generators.map((one) => one.key));
  const causes = results[0]?.first.generators.flatMap((one) => one.faults.map((fault) => fault.cause));
  expect(causes).toContain('no-power');
  expect(causes).toEqual(scenario.generators.flatMap((one) => one.faults.filter((fault) => fault.fromDay <= 30).map((fault) => fault.cause)));
});

test('one run at a time; a cancelled one makes room and gives no result', async () => {
  const long = await started({ seed: 3, generators: 40, days: 200 });
  const second = await runner.start({ text: SMALL_WORLD });
  expect('busy' in second && second.busy.id).toBe(long.id);
  expect(runner.cancel('replay-0')).toBeUndefined();
  expect(runner.cancel(long.id)).toMatchObject({ id: long.id, state: 'cancelled', endedAt: isoFromMs(NOW_MS) });
  expect(runner.result()).toBeUndefined();
  const next = await started({ scenario: 'leak-in-a-cold-store.yaml' });
  expect(next.name).toBe('leak in a cold store');
  expect(runner.cancel(next.id)?.state).toBe('cancelled');
  // What was written down on the way goes with the run.
  while (existsSync(join(folder, 'scratch')) && readdirSync(join(folder, 'scratch')).length > 0) await new Promise((resolve) => setTimeout(resolve, 20));
});

test('a worker that can’t be started is a failure that is said, and the next run can be asked for', async () => {
  const broken = createReplayRunner({ settings: DEFAULT_ANALYSIS_SETTINGS, clock: { nowMs: () => NOW_MS }, log: SILENT_LOG, scratchFolder: join(folder, 'broken'), workerFile: new URL('./no-such-worker.js', WORKER) });
  await broken.start({ text: SMALL_WORLD });
  while (broken.current()?.state === 'running') await new Promise((resolve) => setTimeout(resolve, 20));
  expect(broken.current()).toMatchObject({ state: 'failed', problem: expect.stringContaining('log says why') as string });
  expect('run' in (await broken.start({ text: SMALL_WORLD }))).toBe(true);
  await broken.stop();
});

test('two choices of settings fold the same input, and what gets better or worse is told', async () => {
  await started({ text: SMALL_WORLD, settings: SETTINGS, other: { ...SETTINGS, baselineDays: 28 } });
  expect((await ended()).run.state).toBe('done');
  const { first, other, measures } = runner.result()!;
  expect(first.summary).toMatchObject({ faults: 1, found: 1 });
  expect([first.hash, other?.hash]).toEqual([hashOfSettings(DEFAULT_ANALYSIS_SETTINGS), hashOfSettings({ ...DEFAULT_ANALYSIS_SETTINGS, baselineDays: 28 })]);
  // The fault comes on day 24, when only the first has a baseline.
  expect(other?.generators[0]?.faults[0]).not.toEqual(first.generators[0]?.faults[0]);
  expect(measures.find((one) => one.measure === 'found share')).toMatchObject({ a: 1 });
  expect(measures.some((one) => one.better === 'a')).toBe(true);
});

test('worldAsked() refuses what is beyond the limits, with their numbers', async () => {
  const { scenarios } = await runner.choices();
  const problems = (asked: Parameters<typeof worldAsked>[0]): string => {
    const made = worldAsked(asked, scenarios);
    return 'problems' in made ? made.problems.join(' | ') : '';
  };
  expect(problems({ seed: 12, generators: 41, days: 201 })).toBe('Seed 12 is even: such worlds are kept for the score table and never looked at singly. Take an odd one, such as 13. | One run has at most 40 generators: here are 41. | One run has at most 200 days: here are 201.');
  for (const seed of [1, 7, 9, 11]) expect(problems({ seed, generators: 40, days: 200 })).toBe('');
  expect(problems({ text: SMALL_WORLD.replace('days: 40', 'days: 300') })).toBe('One run has at most 200 days: here are 300.');
  expect(problems({ text: SMALL_WORLD.replace('cause: leak', 'cause: gremlins') })).toMatch(/^sites\.0\.generators\.0\.faults\.0\.cause: /);
  const often = Array.from({ length: 40 }, (_, index) => `      - { id: gen-${index}, reportEveryS: 10 }`).join('\n');
  expect(problems({ text: `name: many\ndays: 200\nsites:\n  - id: yard\n    generators:\n${often}` })).toMatch(/^One run has at most 80 million readings: these 40 generators would send about \d{3} million/);
  expect(problems({ scenario: '../../package.json' })).toMatch(/^There is no scenario file/);
  expect(scenarios.length).toBeGreaterThanOrEqual(6);
});
