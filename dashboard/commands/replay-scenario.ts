import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { purposeOfSeed } from '../../analysis/scoring/seeds.ts';
import { DAY_MS } from '../../shared/time.ts';
import { MOST_REPLAY_DAYS, MOST_REPLAY_GENERATORS, MOST_REPLAY_READINGS, type ReplayInput, type ScenarioChoice } from '../../shared/world-replay.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { parseScenarioFile } from '../../simulator/scenario-file.ts';
import { scenarioOfFile } from '../../simulator/scenario-of-file.ts';
import { worldStartOf } from './score-run.ts';

/** What is to be replayed: a world that is within the limits. */
export type AskedWorld = { readonly scenario: Scenario; readonly seed: number; readonly startMs: number; readonly days: number };

/** As `lull simulate` starts the world of a file, so that both tell the same story. */
const FILE_FIRST_MS = Date.UTC(2026, 0, 5);
const FILE_SEED = 7;
const MOST_PROBLEMS_TOLD = 10;

/** Where the scenario files of the program are: beside the sources, also when what runs was built. */
export function scenarioFolder(): string {
  const places = ['../../simulator/scenarios', '../../../simulator/scenarios'].map((place) => fileURLToPath(new URL(place, import.meta.url)));
  return places.find((place) => existsSync(join(place, 'two-at-once.yaml'))) ?? places[0]!;
}

/** The scenario files of a folder that describe a world, by name of file. A folder that isn't there has none. */
export function scenarioChoices(folder: string): ScenarioChoice[] {
  if (!existsSync(folder)) return [];
  return readdirSync(folder).filter((file) => file.endsWith('.yaml')).sort().flatMap((file) => {
    const text = readFileSync(join(folder, file), 'utf8');
    const parsed = parseScenarioFile(text);
    if ('problems' in parsed) return [];
    return [{ file, name: parsed.file.name, generators: parsed.file.sites.reduce((sum, site) => sum + site.generators.length, 0), days: Math.floor(parsed.file.days), text }];
  });
}

/** The world that was asked for; every reason why there is none, with the limits in numbers. */
export function worldAsked(asked: Exclude<ReplayInput, { history: unknown }>, choices: readonly ScenarioChoice[]): { readonly world: AskedWorld } | { readonly problems: readonly string[] } {
  if ('generators' in asked) return withinLimits(asked.generators, asked.days, () => randomWorld(asked), purposeProblems(asked.seed));
  let text: string | undefined;
  if ('text' in asked) text = asked.text;
  else text = choices.find((choice) => choice.file === asked.scenario)?.text;
  if (text === undefined) return { problems: [`There is no scenario file ${'scenario' in asked ? asked.scenario : ''}. Known: ${choices.map((choice) => choice.file).join(', ')}.`] };
  const parsed = parseScenarioFile(text);
  if ('problems' in parsed) {
    const more = parsed.problems.length - MOST_PROBLEMS_TOLD;
    return { problems: [...parsed.problems.slice(0, MOST_PROBLEMS_TOLD).map((one) => `${one.where}: ${one.says}`), ...(more > 0 ? [`and ${more} more`] : [])] };
  }
  const { file } = parsed;
  const generators = file.sites.reduce((sum, site) => sum + site.generators.length, 0);
  const days = Math.floor(file.days);
  return withinLimits(generators, days, () => ({ scenario: scenarioOfFile(file, FILE_FIRST_MS), seed: asked.seed ?? FILE_SEED, startMs: FILE_FIRST_MS, days }));
}

/** The world of that seed as `lull score --campaign` has it. */
function randomWorld({ seed, generators, days }: { readonly seed: number; readonly generators: number; readonly days: number }): AskedWorld {
  const startMs = worldStartOf(seed);
  return { scenario: randomScenario({ seed, generators, days, startMs }), seed, startMs, days };
}

/** Worlds of reporting seeds are only ever added up; a page that shows one would tune on it. */
function purposeProblems(seed: number): string[] {
  return purposeOfSeed(seed) === 'tuning' ? [] : [`Seed ${seed} is even: such worlds are kept for the score table and never looked at singly. Take an odd one, such as ${seed + 1}.`];
}

function withinLimits(generators: number, days: number, make: () => AskedWorld, before: readonly string[] = []): { readonly world: AskedWorld } | { readonly problems: readonly string[] } {
  const problems = [...before];
  if (generators > MOST_REPLAY_GENERATORS) problems.push(`One run has at most ${MOST_REPLAY_GENERATORS} generators: here are ${generators}.`);
  if (days > MOST_REPLAY_DAYS) problems.push(`One run has at most ${MOST_REPLAY_DAYS} days: here are ${days}.`);
  if (problems.length > 0) return { problems };
  const world = make();
  const readings = world.scenario.generators.reduce((sum, one) => sum + one.channels.length * (days * DAY_MS / 1000 / one.reportEveryS), 0);
  if (readings > MOST_REPLAY_READINGS) return { problems: [`One run has at most ${MOST_REPLAY_READINGS / 1e6} million readings: these ${generators} generators would send about ${Math.ceil(readings / 1e6)} million. Take fewer generators or days, or let them report less often.`] };
  return { world };
}
