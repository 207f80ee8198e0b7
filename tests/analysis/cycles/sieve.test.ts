// World: sieves in good order whose beds take turns every 47 and 60 s, reports each 10 s, 60 s and 5 min; while beds change over,
// a fifth of the time, their feed is let down by 18 %.
import { expect, test } from 'vitest';
import { startDescriptors, stepDescriptors } from '../../../analysis/cycles/descriptors.ts';
import type { DayRow, Estimate } from '../../../shared/cycle.ts';
import { generatorsOf } from '../../../shared/registry.ts';
import { calendarOf, DAY_MS } from '../../../shared/time.ts';
import { parseScenarioFile } from '../../../simulator/scenario-file.ts';
import { scenarioOfFile } from '../../../simulator/scenario-of-file.ts';
import { startWorld, stepWorld } from '../../../simulator/world.ts';

const START_MS = Date.UTC(2026, 2, 2);

/** Closed days of each generator but its first two. */
function lived(swings: readonly number[], everyS: readonly number[], days: number): DayRow[][] {
  const lines = swings.flatMap((swingS) => everyS.map((reportEveryS) => `      - { id: s${swingS}-r${reportEveryS}, kind: sieve, swingS: ${swingS}, dutyRatio: 0.1, channels: [running, tank-pressure, discharge-pressure, feed-pressure, nitrogen, room-temperature], reportEveryS: ${reportEveryS} }`));
  const parsed = parseScenarioFile(`name: sieves\ndays: ${days}\nsites:\n  - id: a\n    generators:\n${lines.join('\n')}\n`);
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  const scenario = scenarioOfFile(parsed.file, START_MS);
  const world = startWorld({ scenario, seed: 3, startMs: START_MS });
  const calendar = calendarOf('UTC');
  const folds = new Map(generatorsOf(scenario.registry).map((registered) => [registered.key, { registered, state: startDescriptors(), rows: [] as DayRow[] }]));
  for (let day = 1; day <= days; day += 1) {
    const batch = stepWorld(world, START_MS + day * DAY_MS);
    for (const at of Array.from(batch.atMs.keys()).sort((a, b) => batch.atMs[a]! - batch.atMs[b]!)) {
      const { generator, channel } = batch.series[batch.seriesIndex[at]!]!;
      const { registered, state, rows } = folds.get(generator)!;
      stepDescriptors(state, { registered, calendar, outages: [] }, channel, batch.atMs[at]!, batch.value[at]!, { cycle: () => undefined, quarter: () => undefined, day: (row) => rows.push(row) });
    }
  }
  return [...folds.values()].map(({ rows }) => rows.slice(2));
}

const apart = (values: readonly Estimate[]): number[] => {
  const known = values.flatMap((one) => (one === null ? [] : [one.value]));
  const middle = [...known].sort((a, b) => a - b)[Math.floor(known.length / 2)]!;
  return known.map((value) => Math.abs(value - middle));
};

// Medians of runs, and of a day's runs, hold many swings. The drop comes from pairs of one instant, so that it stands as still as a
// membrane's; each pressure by itself jumps by 120 kPa on a day whose reports keep step with the beds, and only tells causes apart.
test('stepDescriptors() tells drop and nitrogen of a sieve through its swings', () => {
  for (const rows of lived([47, 60], [10, 60, 300], 14)) {
    expect(rows.length).toBeGreaterThan(9);
    expect(Math.max(...apart(rows.map((row) => row.elementDropKPa)))).toBeLessThan(1.5);
    expect(Math.max(...apart(rows.map((row) => row.nitrogen)))).toBeLessThan(0.003);
    const feed = apart(rows.map((row) => row.feedKPa)).sort((a, b) => a - b);
    expect(feed[Math.floor(feed.length / 2)]!).toBeLessThan(15);
  }
});
