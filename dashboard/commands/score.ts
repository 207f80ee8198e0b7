import { existsSync, statSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { compareScores, compareText } from '../../analysis/scoring/compare-scores.ts';
import { listText, type NamedWorld } from '../../analysis/scoring/list-text.ts';
import { scorePage } from '../../analysis/scoring/score-page.ts';
import { type ScoreTable, scoreTable } from '../../analysis/scoring/score-table.ts';
import { scoreText } from '../../analysis/scoring/score-text.ts';
import { type SeedPurpose, worldSeeds } from '../../analysis/scoring/seeds.ts';
import { type AnalysisSettings, hashOfSettings } from '../../shared/analysis-settings.ts';
import { ConfigError } from '../../shared/errors.ts';
import { type Context, defineCommand, UsageError, wholeNumberOf } from './command.ts';
import { readConfiguration } from './configuration.ts';
import { refuseNoRecording } from './import.ts';
import { logTo } from './log-lines.ts';
import { keepCampaign } from './kept-campaigns.ts';
import { runCampaign } from './score-campaign.ts';
import { pictureOfWorld } from './score-picture.ts';
import { sayProblems } from './say-problems.ts';
import { scoreRecording } from './score-recording.ts';
import { sweepText, sweptSettings } from './sweep.ts';
import { programVersion } from './version.ts';

/** Generators of one random world, unless asked for otherwise: enough that the ten worst are not all there are. */
const WORLD_GENERATORS = 25;
const CAMPAIGN_DAYS = 180;
const MOST_GENERATORS = 20_000;
/** That of the last world of the last campaign. */
const MOST_SEED = 1e5 * 2e4 + 2e4;

/** What was scored, under each of the settings. */
type Scored = { readonly says: string; readonly purpose: SeedPurpose | 'recording'; readonly worlds: readonly (readonly NamedWorld[])[]; /** Of a campaign: where it is kept, and by which name. */ readonly kept?: { readonly folder: string; readonly id: string; readonly generators: number; readonly days: number } };

export const score = defineCommand({
  name: 'score',
  summary: 'fold simulated worlds in memory and say what was found, how early, and at what price in false findings',
  more: [
    'Either recordings that hold a truth.json, or --campaign: random worlds, simulated and folded here, in as many threads as there are cores.',
    'A campaign uses reporting seeds, which are only ever added up; with --tuning it uses others, and --list may tell them one by one.',
    'Finished worlds are kept; the same command goes on where it was stopped. The settings of the analysis are the configured ones.',
    'With --world, one generator of a tuning world is drawn as it was: what was true, what was found, and what was seen day by day.',
    'What a campaign says is kept too, and listed on the Replay page of a server on the same data folder; --sweep gives its curve.',
  ].join('\n'),
  wants: [],
  wantsMore: 'FOLDER…',
  options: {
    campaign: { type: 'string', value: 'N', says: 'score N random generators instead of recordings' },
    seed: { type: 'string', value: 'N', says: 'which campaign: 0 to 100000 (default 1)' },
    days: { type: 'string', value: 'D', says: `days of each world (default ${CAMPAIGN_DAYS})` },
    generators: { type: 'string', value: 'G', says: `generators of each world (default ${WORLD_GENERATORS})` },
    tuning: { type: 'boolean', says: 'use tuning seeds' },
    list: { type: 'boolean', says: 'tell every false finding and every miss; not with reporting seeds' },
    compare: { type: 'string', value: 'A.yaml B.yaml', says: 'the same worlds under the "analysis:" of two configuration files' },
    sweep: { type: 'string', value: '[NAME=]A,B,C', says: 'with --campaign: the same worlds at several prices in false findings a year, such as 0.05,0.2,1,5, or values of another setting, such as smallestChange=0.05,0.1,0.2' },
    json: { type: 'boolean', says: 'the whole table as one JSON object' },
    picture: { type: 'string', value: 'FILE', says: 'write the table as a page with pictures (FILE.html); with --world, the picture of one generator (FILE.svg)' },
    world: { type: 'string', value: 'SEED', says: 'with --of and --picture: the world that a tuning campaign has under this odd seed' },
    of: { type: 'string', value: 'SITE/GENERATOR', says: 'with --world: which generator is drawn' },
    keep: { type: 'string', value: 'FOLDER', says: 'where finished worlds are kept (default LULL_DATA/score)' },
    threads: { type: 'string', value: 'N', says: 'threads (default: one for each core)' },
  },
  example: 'npx --no-install lull score --campaign 200 --seed 1 --picture score.html',
  async run(values, given, context) {
    if (values.world !== undefined || values.of !== undefined) return drawWorld(values, given, context);
    if (values.sweep !== undefined && (values.campaign === undefined || values.compare !== undefined)) throw new UsageError('--sweep wants --campaign, and no --compare');
    const settings = values.sweep === undefined ? settingsOf(values.compare, given, context) : sweptSettings(values.sweep, readConfiguration(context.environment, context.folder).config.analysis);
    const folders = values.compare === undefined ? given : given.slice(1);
    if (values.campaign === undefined && folders.length === 0) throw new UsageError('give recordings, or --campaign N');
    if (values.campaign !== undefined && folders.length > 0) throw new UsageError('give either recordings or --campaign, not both');
    const ofCampaigns = (['seed', 'days', 'generators', 'tuning', 'keep', 'threads'] as const).find((name) => values[name] !== undefined);
    if (values.campaign === undefined && ofCampaigns !== undefined) throw new UsageError(`--${ofCampaigns} goes with --campaign N: a recording is scored as it is`);
    if (values.picture !== undefined) pictureFile(values.picture, context);
    const purpose: SeedPurpose = values.tuning === true ? 'tuning' : 'reporting';
    if (values.list === true && values.campaign !== undefined && purpose === 'reporting') throw new UsageError('--list tells worlds one by one, and reporting seeds are only ever added up; add --tuning');
    const scored = values.campaign === undefined ? await scoreFolders(folders, settings, context) : await scoreCampaign({ ...values, campaign: values.campaign }, purpose, settings, context);
    context.terminal.clearProgress();
    const tables = scored.worlds.map((worlds) => scoreTable(worlds.map((world) => world.score)));
    const { kept, says } = scored;
    if (kept !== undefined) keepCampaign(kept.folder, { id: `${kept.id}-${settings.map(hashOfSettings).join('-')}`, says, purpose, at: new Date(context.clock.nowMs()).toISOString(), version: programVersion(), generators: kept.generators, days: kept.days, settings, tables });
    tell({ scored, settings, tables, names: namesOf(values.compare, given) }, values, context);
  },
});

/** Looked at before the work, which takes minutes. @throws {ConfigError} if no file can be written there. */
function pictureFile(name: string, { folder }: Context): string {
  const file = resolve(folder, name);
  if (!existsSync(dirname(file))) throw new ConfigError(`--picture ${name} can't be written: there is no folder ${dirname(file)}`);
  if (existsSync(file) && statSync(file).isDirectory()) throw new ConfigError(`--picture ${name} can't be written: it is a folder; name a file in it`);
  return file;
}

type WorldValues = Omit<CampaignValues, 'campaign'> & { readonly campaign?: string; readonly world?: string; readonly of?: string; readonly picture?: string; readonly compare?: string; readonly sweep?: string; readonly json?: boolean; readonly list?: boolean };

/** One generator of one tuning world, as a picture. */
async function drawWorld(values: WorldValues, given: readonly string[], context: Context): Promise<void> {
  if (values.world === undefined || values.picture === undefined) throw new UsageError('a picture of one generator wants --world SEED --of SITE/GENERATOR --picture FILE.svg');
  const other = (['campaign', 'seed', 'compare', 'sweep', 'json', 'list', 'keep', 'threads'] as const).find((name) => values[name] !== undefined);
  if (other !== undefined || given.length > 0) throw new UsageError(`--world draws one generator, and goes with no ${other === undefined ? 'recording' : `--${other}`}`);
  const file = pictureFile(values.picture, context);
  const { svg, says } = await pictureOfWorld({
    seed: wholeNumberOf('world', values.world, 1, 0, MOST_SEED), generators: wholeNumberOf('generators', values.generators, WORLD_GENERATORS, 1, 500), days: wholeNumberOf('days', values.days, CAMPAIGN_DAYS, 1, 400),
    settings: readConfiguration(context.environment, context.folder).config.analysis, of: values.of,
  }, context.stopSignal(), (ratio) => context.terminal.progress('simulating and folding', ratio));
  context.terminal.clearProgress();
  writeFileSync(file, svg);
  context.terminal.out(says);
  context.terminal.say(`picture: ${values.picture}`);
}

/** The configured settings, or those of the two files that are compared. */
function settingsOf(compare: string | undefined, given: readonly string[], context: Context): readonly AnalysisSettings[] {
  if (compare === undefined) return [readConfiguration(context.environment, context.folder).config.analysis];
  const second = given[0];
  if (second === undefined) throw new UsageError('--compare wants two configuration files');
  const missing = [compare, second].find((file) => !existsSync(resolve(context.folder, file)));
  if (missing !== undefined) throw new ConfigError(`--compare: there is no file ${resolve(context.folder, missing)}`);
  return [compare, second].map((file) => readConfiguration({ ...context.environment, LULL_CONFIG: resolve(context.folder, file) }, context.folder).config.analysis);
}

function namesOf(compare: string | undefined, given: readonly string[]): readonly [string, string] {
  return [basename(compare ?? ''), basename(given[0] ?? '')];
}

async function scoreFolders(folders: readonly string[], settings: readonly AnalysisSettings[], context: Context): Promise<Scored> {
  const stopping = context.stopSignal();
  const log = logTo(context.terminal, context.clock, (context.environment['LULL_DEBUG'] ?? '') !== '');
  const worlds: NamedWorld[][] = settings.map(() => []);
  for (const name of folders) {
    const folder = resolve(context.folder, name);
    refuseNoRecording(folder);
    for (const [index, one] of settings.entries()) {
      const result = await scoreRecording(folder, one, { nowMs: context.clock.nowMs(), log, stopping, told: (readings) => context.terminal.progress(`scoring ${name}`, undefined, `${readings} readings`), refused: (problems) => sayProblems(problems, context) });
      worlds[index]!.push({ name, score: result });
    }
  }
  return { says: `Recordings: ${folders.join(', ')}`, purpose: 'recording', worlds };
}

type CampaignValues = { readonly campaign: string; readonly seed?: string; readonly days?: string; readonly generators?: string; readonly keep?: string; readonly threads?: string };

async function scoreCampaign(values: CampaignValues, purpose: SeedPurpose, settings: readonly AnalysisSettings[], context: Context): Promise<Scored> {
  const total = wholeNumberOf('campaign', values.campaign, 200, 1, MOST_GENERATORS);
  const perWorld = wholeNumberOf('generators', values.generators, WORLD_GENERATORS, 1, 500);
  const days = wholeNumberOf('days', values.days, CAMPAIGN_DAYS, 1, 400);
  const campaignSeed = wholeNumberOf('seed', values.seed, 1, 0, 1e5);
  const threads = wholeNumberOf('threads', values.threads, availableParallelism(), 1, 64);
  const seeds = worldSeeds(campaignSeed, purpose, Math.ceil(total / perWorld));
  const generators = seeds.map((_, index) => Math.min(perWorld, total - index * perWorld));
  const folder = values.keep === undefined ? join(resolve(context.folder, readConfiguration(context.environment, context.folder).config.data), 'score') : resolve(context.folder, values.keep);
  if (existsSync(folder) && !statSync(folder).isDirectory()) throw new ConfigError(`${folder} is a file; --keep wants a folder`);
  const startedMs = context.clock.nowMs();
  const kept = await runCampaign({ seeds, generators, days, settings, folder, threads }, context.stopSignal(), (ratio, done) => context.terminal.progress('scoring', ratio, `${done} of ${seeds.length} worlds`));
  context.terminal.clearProgress();
  const readings = (kept[0] ?? []).reduce((sum, world) => sum + world.readings, 0);
  context.terminal.say(`${readings} readings; ${((context.clock.nowMs() - startedMs) / 1000).toFixed(1)} s on ${threads} threads`);
  return {
    says: `Campaign ${campaignSeed}: ${total} generators, ${days} days each, ${purpose} seeds ${seeds[0]} to ${seeds.at(-1)}`,
    purpose,
    kept: { folder, id: `${purpose}-${campaignSeed}-${total}x${days}`, generators: total, days },
    worlds: kept.map((worlds) => worlds.map((world) => ({ name: `world ${world.seed}`, score: world.score }))),
  };
}

type Told = { readonly scored: Scored; readonly settings: readonly AnalysisSettings[]; readonly tables: readonly ScoreTable[]; readonly names: readonly [string, string] };

function tell({ scored, settings, tables, names }: Told, values: { readonly json?: boolean; readonly list?: boolean; readonly picture?: string; readonly sweep?: string }, context: Context): void {
  const { terminal } = context;
  const table = tables[0];
  const other = values.sweep === undefined ? tables[1] : undefined;
  if (table === undefined) return;
  const hashes = settings.map(hashOfSettings);
  const head = `${scored.says}; settings ${hashes.join(' and ')}`;
  const compared = other === undefined ? undefined : compareScores(table, other);
  if (values.picture !== undefined) {
    writeFileSync(resolve(context.folder, values.picture), scorePage({ head, table, ...(compared === undefined ? {} : { comparison: compareText(compared, names) }) }));
    terminal.say(`picture page: ${values.picture}`);
  }
  if (values.json === true) terminal.out(JSON.stringify({ says: scored.says, seeds: scored.purpose, settings: hashes, tables, ...(compared === undefined ? {} : { compared }) }, null, 2));
  else terminal.out([head, '', values.sweep !== undefined ? sweepText(settings, tables) : compared === undefined ? scoreText(table) : compareText(compared, names)].join('\n'));
  if (values.list === true && values.json !== true) terminal.out(['', listText(scored.worlds[0] ?? [])].join('\n'));
}
