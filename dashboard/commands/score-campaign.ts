import { createHash } from 'node:crypto';
import { mkdirSync, readdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { scoreWorld, type WorldOutcome, type WorldScore } from '../../analysis/scoring/score-world.ts';
import { type AnalysisSettings, hashOfSettings } from '../../shared/analysis-settings.ts';
import type { WorldJob, WorldResult, WorldTimes } from './score-run.ts';
import type { FromScoreWorker } from './score-worker.ts';

export type Campaign = { readonly seeds: readonly number[]; readonly generators: readonly number[]; readonly days: number; readonly settings: readonly AnalysisSettings[]; /** Finished worlds are kept here and not done again. */ readonly folder: string; readonly threads: number };
/** A world under one setting, as it is kept: what can be scored, so that a change of the rules needs no new world. */
type KeptWorld = { readonly seed: number; readonly readings: number; readonly times: WorldTimes; readonly outcome: WorldOutcome };
export type ScoredWorld = Omit<KeptWorld, 'outcome'> & { readonly score: WorldScore };

/**
 * Score worlds in as many threads as are asked for; worlds that were finished before, by the same code and with the same
 * settings, are read from the folder. Gives for each setting its worlds in the order of the seeds.
 *
 * @throws what the stop signal gives; what is finished by then is kept.
 */
export async function runCampaign(campaign: Campaign, stopping: AbortSignal, told: (ratio: number, done: number) => void): Promise<ScoredWorld[][]> {
  mkdirSync(campaign.folder, { recursive: true });
  const code = codeHash();
  const fileOf = (index: number, settings: AnalysisSettings): string => join(campaign.folder, `${campaign.seeds[index]}-${campaign.generators[index]}x${campaign.days}-${hashOfSettings(settings)}-${code}.json`);
  const missing = campaign.seeds.flatMap((seed, index): { readonly index: number; readonly job: WorldJob }[] => {
    const settings = campaign.settings.filter((one) => keptWorld(fileOf(index, one)) === undefined);
    return settings.length === 0 ? [] : [{ index, job: { seed, generators: campaign.generators[index]!, days: campaign.days, settings } }];
  });
  const before = campaign.seeds.length - missing.length;
  const jobs = missing.map(({ job }) => job);
  await inThreads(jobs, campaign.threads, { stopping, stoppedSays: 'stopped; finished worlds are kept, and the same command goes on with the others' }, (ratios, done) => told((before + ratios) / campaign.seeds.length, before + done), (result, job) => {
    const { index } = missing.find((one) => one.job === job)!;
    job.settings.forEach((settings, place) => keep(fileOf(index, settings), { seed: result.seed, readings: result.readings, times: result.times, outcome: result.outcomes[place]! }));
  });
  return campaign.settings.map((settings) => campaign.seeds.map((_, index) => {
    const world = keptWorld(fileOf(index, settings));
    if (world === undefined) throw new Error(`the kept world ${fileOf(index, settings)} can't be read`);
    const { outcome, ...rest } = world;
    return { ...rest, score: scoreWorld(outcome) };
  }));
}

function keptWorld(file: string): KeptWorld | undefined {
  try {
    return JSON.parse(readFileSync(file, 'utf8')) as KeptWorld;
  } catch {
    return undefined;
  }
}

/** Written beside and then renamed, so that a kill leaves no half a world. */
function keep(file: string, world: KeptWorld): void {
  writeFileSync(`${file}.new`, JSON.stringify(world));
  renameSync(`${file}.new`, file);
}

/** A hash of the code that makes worlds and looks for what is wrong in them: worlds of other code are not taken for ours. The scoring is no part of it. */
function codeHash(): string {
  const hash = createHash('sha256');
  const root = fileURLToPath(new URL('../../', import.meta.url));
  for (const room of ['analysis', 'shared', 'simulator', 'dashboard/commands']) {
    const files = readdirSync(join(root, room), { recursive: true, encoding: 'utf8' }).filter((file) => file.endsWith('.js') && !file.startsWith('scoring') && (room !== 'dashboard/commands' || file.startsWith('score-run')));
    for (const file of files.sort()) hash.update(file).update(readFileSync(join(root, room, file)));
  }
  return hash.digest('hex').slice(0, 10);
}

/** Hand jobs to threads, the next one to whoever is free. @throws when it is stopped, with the words for that. */
export async function inThreads(jobs: readonly WorldJob[], threads: number, { stopping, stoppedSays }: { readonly stopping: AbortSignal; readonly stoppedSays: string }, told: (ratios: number, done: number) => void, finished: (result: WorldResult, job: WorldJob) => void): Promise<void> {
  if (jobs.length === 0) return;
  const waiting = [...jobs];
  const ratios = new Map<number, number>();
  let done = 0;
  const workers: Worker[] = [];
  const tell = (): void => told([...ratios.values()].reduce((sum, ratio) => sum + ratio, 0), done);
  const work = (): Promise<void> => new Promise((resolve, reject) => {
    const worker = new Worker(new URL('./score-worker.js', import.meta.url));
    workers.push(worker);
    let job: WorldJob | undefined;
    const goOn = (): void => {
      job = waiting.shift();
      if (job === undefined) resolve();
      else worker.postMessage(job);
    };
    worker.on('message', (message: FromScoreWorker) => {
      if (message.kind === 'on-the-way') ratios.set(message.seed, message.ratio);
      else if (message.kind === 'failed') reject(new Error(`a world failed: ${message.message}`));
      else {
        done += 1;
        ratios.set(message.result.seed, 1);
        finished(message.result, job!);
        goOn();
      }
      tell();
    });
    worker.on('error', reject);
    worker.on('exit', () => reject(new Error('a thread ended before its world did')));
    goOn();
  });
  const stopped = new Promise<never>((_, reject) => {
    const stop = (): void => reject(new Error(stoppedSays));
    if (stopping.aborted) stop();
    else stopping.addEventListener('abort', stop, { once: true });
  });
  try {
    await Promise.race([Promise.all(Array.from({ length: Math.min(threads, jobs.length) }, work)), stopped]);
  } finally {
    await Promise.all(workers.map((worker) => worker.terminate()));
  }
}
