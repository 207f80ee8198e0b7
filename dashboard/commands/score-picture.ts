import { purposeOfSeed } from '../../analysis/scoring/seeds.ts';
import { scoreWorld, type WatchedGenerator } from '../../analysis/scoring/score-world.ts';
import type { DayBook } from '../../analysis/scoring/true-days.ts';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { ReplayedGenerator } from '../../shared/world-replay.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import { bandDaysOf } from '../views/band-days.ts';
import { replayLineSays } from '../views/replay-line-svg.ts';
import { type PlantDays, worldPictureSvg } from '../views/world-picture-svg.ts';
import { UsageError } from './command.ts';
import { inThreads } from './score-campaign.ts';
import { type WorldJob, type WorldResult, worldStartOf } from './score-run.ts';
import { faultOf, findingOf } from './world-replay.ts';

/** One generator of a world, as a picture: `site-1/gen-2` of the world that a tuning campaign has under this seed. */
export type PictureAsked = { readonly seed: number; readonly generators: number; readonly days: number; readonly settings: AnalysisSettings; readonly of: string | undefined };
export type Pictured = { readonly svg: string; /** What was true and what was found, in words. */ readonly says: string };

/**
 * Simulate and fold that whole world, since a generator is also judged by its like, and draw one generator of it.
 * @throws {UsageError} for a reporting seed, or a generator that the world doesn't have.
 */
export async function pictureOfWorld({ seed, generators, days, settings, of }: PictureAsked, stopping: AbortSignal, told: (ratio: number) => void): Promise<Pictured> {
  if (purposeOfSeed(seed) === 'reporting') throw new UsageError(`seed ${seed} is even: worlds of reporting seeds are only ever added up; take an odd one, such as ${seed + 1}`);
  const { generators: all, registry } = randomScenario({ seed, generators, days, startMs: worldStartOf(seed) });
  const scenario = all.find((one) => one.key === of);
  if (scenario === undefined) throw new UsageError(`--of must name a generator of this world: ${of === undefined ? 'none is given' : `current value is ${JSON.stringify(of)}`}. It has ${all.map((one) => one.key).join(', ')}`);
  const job: WorldJob = { seed, generators, days, settings: [settings], watch: scenario.key };
  const results: WorldResult[] = [];
  await inThreads([job], 1, { stopping, stoppedSays: 'stopped; nothing is drawn' }, told, (result) => results.push(result));
  const { outcomes: [outcome], seenDays = [] } = results[0]!;
  const watched = outcome!.watched.find((one) => `${one.site}/${one.generator}` === scenario.key)!;
  const score = scoreWorld(outcome!);
  const own = <T extends { readonly site: string; readonly generator: string }>(items: readonly T[]): T[] => items.filter((item) => item.site === watched.site && item.generator === watched.generator);
  const upsets = own(outcome!.truth.upsets);
  const one: ReplayedGenerator = {
    site: watched.site, generator: watched.generator, zone: registry.sites.find((site) => site.id === watched.site)?.timeZone ?? 'UTC', channels: scenario.channels, days: bandDaysOf(seenDays),
    faults: own(score.faults).map(faultOf), findings: own(score.findings).map(findingOf),
    upsets: upsets.filter((upset) => upset.kind !== 'visit').map(({ kind, from, to }) => ({ kind, from, to })), visits: upsets.filter((upset) => upset.kind === 'visit').map((upset) => upset.from),
  };
  const without = watched.days?.without;
  return {
    svg: worldPictureSvg({
      world: `the world of seed ${seed} (${generators} generators, ${days} days)`, one, reportEveryS: scenario.reportEveryS, days: seenDays, startMs: worldStartOf(seed),
      was: plantDays(watched, watched.days!.was, 'withFaultsS'), ...(without === undefined ? {} : { without: plantDays(watched, without, 'withoutS') }),
    }),
    says: `${scenario.key} of the world of seed ${seed}. ${replayLineSays(one)}`,
  };
}

/** Of one that had no faults the days run are not kept apart. */
function plantDays({ runTimes }: WatchedGenerator, book: DayBook, which: 'withFaultsS' | 'withoutS'): PlantDays {
  return { ...book, dutyRatio: (runTimes?.[which] ?? []).map((runS) => (runS * 1000) / DAY_MS) };
}
