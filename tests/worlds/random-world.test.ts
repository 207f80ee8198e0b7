// World: random world of tuning seed 11, three generators over 62 days, simulated, folded and scored as a campaign does it.
import { expect, test } from 'vitest';
import { scoreTable } from '../../analysis/scoring/score-table.ts';
import { scoreWorld } from '../../analysis/scoring/score-world.ts';
import { purposeOfSeed } from '../../analysis/scoring/seeds.ts';
import { runWorld } from '../../dashboard/commands/score-run.ts';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../shared/analysis-settings.ts';

const JOB = { seed: 11, generators: 3, days: 62, settings: [DEFAULT_ANALYSIS_SETTINGS] };

test('runWorld() gives the same world, the same findings and the same score each time', async () => {
  expect(purposeOfSeed(JOB.seed)).toBe('tuning');
  const told: number[] = [];
  const first = await runWorld(JOB, () => 0, (ratio) => told.push(ratio));
  const second = await runWorld(JOB, () => 0, () => undefined);
  expect(second.outcomes).toEqual(first.outcomes);
  expect(told.at(-1)).toBe(1);
  const [outcome] = first.outcomes;
  // Branched on the days 30 and 60, each time every generator, and the ranking of the same moment beside it.
  expect(outcome!.truth.branches).toHaveLength(6);
  expect(new Set(outcome!.truth.branches.map((branch) => branch.at))).toEqual(new Set(outcome!.reports.map((report) => report.at)));
  expect(outcome!.reports.map((report) => report.ranking.length)).toEqual([3, 3]);
  // What is kept is plain JSON.
  const kept = JSON.parse(JSON.stringify(outcome)) as typeof outcome;
  expect(scoreWorld(kept!)).toEqual(scoreWorld(outcome!));
  const table = scoreTable([scoreWorld(outcome!)]);
  expect(table.generatorYears).toBeCloseTo((3 * 62) / 365.25, 9);
  expect(table.all.faults).toBe(outcome!.truth.faults.length);
  expect(table.all.faults).toBe(table.all.found + table.all.missed + table.all.apart);
  expect(table.all.faults).toBeGreaterThan(0);
}, 300_000);
