import { Worker } from 'node:worker_threads';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import type { Log } from '../../shared/log.ts';
import { type Clock, isoFromMs } from '../../shared/time.ts';
import type { ReplayResult, ReplayRun } from '../../shared/world-replay.ts';
import type { ReplaySurface } from '../server/replay-surface.ts';
import { scenarioChoices, scenarioFolder, worldAsked } from './replay-scenario.ts';
import type { WorldReplayJob } from './world-replay.ts';
import type { FromReplayWorker } from './world-replay-worker.ts';

export type ReplayRunnerParams = { readonly settings: AnalysisSettings; readonly clock: Clock; readonly log: Log; /** Built; tests that run from the sources name it. */ readonly workerFile?: URL };
export type ReplayRunner = ReplaySurface & { stop(): Promise<void> };

/** Memory that a run's thread may take for objects, MB; readings lie outside of it and have a limit of their own. */
const MOST_HEAP_MB = 1024;

type Active = { readonly worker: Worker; readonly ended: Promise<unknown> };

/**
 * Runs invented worlds for the engineer's page, one at a time, each in a thread of its own that ends with it. The jobs of the
 * record store don't carry these: they are about a generator that exists, and a replay must leave nothing in the real store.
 */
export function createReplayRunner({ settings, clock, log, workerFile = new URL('./world-replay-worker.js', import.meta.url) }: ReplayRunnerParams): ReplayRunner {
  const choices = scenarioChoices(scenarioFolder());
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
    const worker = new Worker(workerFile, { workerData: job, resourceLimits: { maxOldGenerationSizeMb: MOST_HEAP_MB } });
    const fail = (words: string, said: string): void => {
      if (run?.id !== job.id || run.state !== 'running') return;
      log.error('a replay of an invented world failed', { name: job.scenario.name, error: said });
      end(job.id, 'failed', words);
    };
    worker.on('message', (message: FromReplayWorker) => {
      if (run?.id !== job.id || run.state !== 'running') return;
      if (message.kind === 'on-the-way') run = { ...run, ratio: message.ratio };
      else if (message.kind === 'failed') fail('It failed; the program’s log says why.', message.message);
      else {
        result = message.result;
        end(job.id, 'done');
      }
    });
    worker.on('error', (error: NodeJS.ErrnoException) => fail(error.code === 'ERR_WORKER_OUT_OF_MEMORY' ? `It took more than ${MOST_HEAP_MB} MB of memory. Take fewer generators or days.` : 'It failed; the program’s log says why.', error.message));
    worker.on('exit', () => fail('Its thread ended before it was done.', 'the thread ended'));
    active = { worker, ended: new Promise((resolve) => worker.once('exit', resolve)) };
  };

  return {
    scenarios: () => choices,
    start(asked) {
      if (run?.state === 'running') return { busy: run };
      const made = worldAsked(asked, choices);
      if ('problems' in made) return made;
      const { scenario, seed, days, startMs } = made.world;
      count += 1;
      result = undefined;
      run = { id: `replay-${count}`, name: scenario.name, generators: scenario.generators.length, days, seed, state: 'running', ratio: 0, startedAt: isoFromMs(clock.nowMs()), endedAt: null, problem: null };
      begin({ id: run.id, scenario, seed, startMs, days, settings });
      return { run };
    },
    current: () => run,
    result: () => result,
    cancel(id) {
      if (run?.id !== id) return undefined;
      end(id, 'cancelled');
      return run;
    },
    async stop() {
      const ending = active;
      if (run !== undefined) end(run.id, 'cancelled');
      await ending?.ended;
    },
  };
}
