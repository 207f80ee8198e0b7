import { mkdirSync, rmSync, statfsSync } from 'node:fs';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { type AnalysisSettings, hashOfSettings } from '../../shared/analysis-settings.ts';
import type { Log } from '../../shared/log.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { type Clock, isoFromMs } from '../../shared/time.ts';
import { MOST_REPLAY_DAYS, MOST_REPLAY_GENERATORS, MOST_SCENARIO_TEXT, type KeptCampaign, type ReplayAsked, type ReplayResult, type ReplayRun, type ReplaySettings } from '../../shared/world-replay.ts';
import type { NotStarted, ReplaySurface } from '../server/replay-surface.ts';
import { faultChoices, historyChoices, historyWork, type ReplayStores } from './replay-history.ts';
import type { ReplayWork } from './replay-input.ts';
import { scenarioChoices, scenarioFolder, worldAsked } from './replay-scenario.ts';
import type { WorldReplayJob } from './world-replay.ts';
import type { FromReplayWorker, ToReplayWorker } from './world-replay-worker.ts';

export type ReplayRunnerParams = {
  readonly settings: AnalysisSettings;
  readonly clock: Clock;
  readonly log: Log;
  /** Emptied at the start and after each run: inputs are written here before they are decoded and folded. */
  readonly scratchFolder: string;
  /** The real house, which is only read; without it no history can be replayed. */
  readonly stores?: ReplayStores;
  readonly campaigns?: () => readonly KeptCampaign[];
  /** Built; tests that run from the sources name it. */
  readonly workerFile?: URL;
};
export type ReplayRunner = ReplaySurface & { stop(): Promise<void> };

/** Memory that a run's thread may take for objects, MB; readings lie outside of it and have a limit of their own. */
const MOST_HEAP_MB = 1024;
/** A run is refused where the disk has less than this: a world of the largest size takes about as much. */
const LEAST_FREE_BYTES = 3e9;

type Active = { readonly worker: Worker; readonly folder: string; readonly ended: Promise<unknown> };
type Made = { readonly name: string; readonly generators: number; readonly days: number; readonly work: ReplayWork };

/**
 * Runs what the engineer's page asks for, one at a time, each in a thread of its own that ends with it. The jobs of the record
 * store don't carry these: those are answered from what is stored, and a replay must leave nothing in the real store.
 */
export function createReplayRunner(params: ReplayRunnerParams): ReplayRunner {
  const { settings, clock, log, scratchFolder, stores, workerFile = new URL('./world-replay-worker.js', import.meta.url) } = params;
  const scenarios = scenarioChoices(scenarioFolder());
  rmSync(scratchFolder, { recursive: true, force: true });
  let count = 0;
  let run: ReplayRun | undefined;
  let result: ReplayResult | undefined;
  let active: Active | undefined;

  const end = (id: string, state: 'done' | 'failed' | 'cancelled', problem: string | null = null): void => {
    if (run === undefined || run.id !== id || run.state !== 'running') return;
    run = { ...run, state, problem, ratio: state === 'done' ? 1 : run.ratio, endedAt: isoFromMs(clock.nowMs()) };
    const ended = active;
    active = undefined;
    void ended?.worker.terminate();
  };

  const begin = (job: WorldReplayJob): void => {
    mkdirSync(job.folder, { recursive: true });
    const worker = new Worker(workerFile, { workerData: job, resourceLimits: { maxOldGenerationSizeMb: MOST_HEAP_MB } });
    const source = sourceOf(job.work, stores);
    const fail = (words: string, said: string): void => {
      if (run?.id !== job.id || run.state !== 'running') return;
      log.error('a replay failed', { name: job.name, error: said });
      end(job.id, 'failed', words);
    };
    worker.on('message', (message: FromReplayWorker) => {
      if (run?.id !== job.id || run.state !== 'running') return;
      if (message.kind === 'on-the-way') run = { ...run, ratio: Math.max(run.ratio, message.ratio), doing: message.doing };
      else if (message.kind === 'next') source.next().then((batch) => worker.postMessage({ batch } satisfies ToReplayWorker), (error: unknown) => fail('The stored readings could not be read; the program’s log says why.', String(error)));
      else if (message.kind === 'failed') fail('It failed; the program’s log says why.', message.message);
      else {
        result = message.result;
        end(job.id, 'done');
      }
    });
    worker.on('error', (error: NodeJS.ErrnoException) => fail(error.code === 'ERR_WORKER_OUT_OF_MEMORY' ? `It took more than ${MOST_HEAP_MB} MB of memory. Take fewer generators or days.` : 'It failed; the program’s log says why.', error.message));
    worker.on('exit', () => fail('Its thread ended before it was done.', 'the thread ended'));
    const ended = tidied(worker, source, job.folder);
    active = { worker, folder: job.folder, ended };
  };

  const make = async (asked: ReplayAsked): Promise<Made | { readonly problems: readonly string[] }> => {
    if ('history' in asked) return stores === undefined ? { problems: ['No history can be replayed here.'] } : historyWork(asked.history, asked.fault, stores, clock.nowMs());
    const made = worldAsked(asked, scenarios);
    if ('problems' in made) return made;
    const { scenario, seed, days, startMs } = made.world;
    return { name: scenario.name, generators: scenario.generators.length, days, work: { kind: 'simulated', scenario, seed, startMs, days } };
  };

  return {
    async choices() {
      const { falseFindingsPerYear, baselineDays, smallestChange, horizonDays } = settings;
      return {
        scenarios, history: stores === undefined ? [] : await historyChoices(stores), faults: faultChoices(),
        settings: { falseFindingsPerYear, baselineDays, smallestChange, horizonDays }, settingsHash: hashOfSettings(settings),
        most: { generators: MOST_REPLAY_GENERATORS, days: MOST_REPLAY_DAYS, textLength: MOST_SCENARIO_TEXT },
      };
    },
    async start(asked): Promise<{ readonly run: ReplayRun } | NotStarted> {
      if (run?.state === 'running') return { busy: run };
      const made = await make(asked);
      if ('problems' in made) return made;
      // Another may have been asked for while the stores were looked at.
      if (isRunning(run)) return { busy: run };
      const short = spaceProblem(scratchFolder);
      if (short !== undefined) return { problems: [short] };
      count += 1;
      result = undefined;
      const { name, generators, days, work } = made;
      run = { id: `replay-${count}`, kind: work.kind, name, generators, days, seed: work.kind === 'simulated' ? work.seed : null, state: 'running', doing: 'writing', ratio: 0, startedAt: isoFromMs(clock.nowMs()), endedAt: null, problem: null };
      begin({ id: run.id, name, work, settings: settingsOf(settings, asked), folder: join(scratchFolder, run.id), nowMs: clock.nowMs() });
      return { run };
    },
    current: () => run,
    result: () => result,
    cancel(id) {
      if (run?.id !== id) return undefined;
      end(id, 'cancelled');
      return run;
    },
    campaigns: () => params.campaigns?.() ?? [],
    async stop() {
      const ending = active;
      if (run !== undefined) end(run.id, 'cancelled');
      await ending?.ended;
    },
  };
}

/** Resolves when the thread is gone and what it wrote down too. */
async function tidied(worker: Worker, source: { close(): Promise<void> }, folder: string): Promise<void> {
  await new Promise((resolve) => worker.once('exit', resolve));
  await source.close();
  rmSync(folder, { recursive: true, force: true });
}

function isRunning(run: ReplayRun | undefined): run is ReplayRun {
  return run?.state === 'running';
}

function settingsOf(configured: AnalysisSettings, { settings, other }: { readonly settings?: ReplaySettings | undefined; readonly other?: ReplaySettings | undefined }): readonly [AnalysisSettings, AnalysisSettings?] {
  const first = { ...configured, ...settings };
  return other === undefined ? [first] : [first, { ...configured, ...other }];
}

/** The main thread's end of a stretch: batches from the reading store, one when the thread asks for it. */
function sourceOf(work: ReplayWork, stores: ReplayStores | undefined): { next(): Promise<ReadingBatch | null>; close(): Promise<void> } {
  if (work.kind !== 'history' || stores === undefined) return { next: async () => null, close: async () => undefined };
  const batches = stores.readings.byReceipt({ fromMs: work.fromMs, toMs: work.toMs, generators: work.generators.map(({ key }) => key) })[Symbol.asyncIterator]();
  return {
    async next() {
      const { done, value } = await batches.next();
      return done === true ? null : value;
    },
    async close() {
      await batches.return?.();
    },
  };
}

function spaceProblem(folder: string): string | undefined {
  mkdirSync(folder, { recursive: true });
  const { bavail, bsize } = statfsSync(folder);
  return bavail * bsize < LEAST_FREE_BYTES ? `A run wants up to ${LEAST_FREE_BYTES / 1e9} GB of free disk space for what it writes down on the way; ${(bavail * bsize / 1e9).toFixed(1)} GB are free.` : undefined;
}
