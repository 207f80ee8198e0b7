// How fast a campaign is scored, and where its time goes: node tests/bench/campaign.mjs [generators, default 200] [days, default 180] [threads, default 2]
// Runs on the build (npm run build) and on tuning seeds; keeps nothing. Prints JSON. Not part of the tests: a busy machine makes every figure worse.
import { mkdtempSync, rmSync } from 'node:fs';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { worldSeeds } from '../../.build/analysis/scoring/seeds.js';
import { runCampaign } from '../../.build/dashboard/commands/score-campaign.js';
import { DEFAULT_ANALYSIS_SETTINGS } from '../../.build/shared/analysis-settings.js';

const [generators = 200, days = 180, threads = 2] = process.argv.slice(2).map(Number);
const PER_WORLD = 25;
const BUDGET_S = 300;
const folder = mkdtempSync(join(tmpdir(), 'lull-bench-'));
try {
  const seeds = worldSeeds(0, 'tuning', Math.ceil(generators / PER_WORLD));
  const from = performance.now();
  const [worlds] = await runCampaign({ seeds, generators: seeds.map((_, index) => Math.min(PER_WORLD, generators - index * PER_WORLD)), days, settings: [DEFAULT_ANALYSIS_SETTINGS], folder, threads }, new AbortController().signal, () => undefined);
  const seconds = (performance.now() - from) / 1000;
  const readings = worlds.reduce((sum, world) => sum + world.readings, 0);
  const stages = {};
  for (const world of worlds) for (const [stage, ms] of Object.entries(world.times)) stages[stage] = (stages[stage] ?? 0) + ms;
  const all = Object.values(stages).reduce((sum, ms) => sum + ms, 0);
  const shares = Object.fromEntries(Object.entries(stages).map(([stage, ms]) => [stage, Math.round((ms / all) * 1000) / 1000]));
  console.log(JSON.stringify({ generators, days, threads, cores: availableParallelism(), load: loadavg()[0], seconds: Math.round(seconds), budgetS: BUDGET_S, readings, readingsPerSecond: Math.round(readings / seconds), readingsPerSecondOfAThread: Math.round(readings / (all / 1000)), generatorYears: worlds.reduce((sum, world) => sum + world.score.generatorYears, 0), shares, mostMemoryMB: Math.round(process.resourceUsage().maxRSS / 1024) }, null, 2));
} finally {
  rmSync(folder, { recursive: true, force: true });
}
