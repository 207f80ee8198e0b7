import { type Analysis, openAnalysis } from '../../analysis/analysis.ts';
import { CYCLE_SPAN_MS, cycleScatter } from '../../analysis/scoring/cycle-scatter.ts';
import type { RunTimes } from '../../analysis/scoring/run-time.ts';
import type { WatchedGenerator, WorldOutcome } from '../../analysis/scoring/score-world.ts';
import { type StatedChange, statedChange } from '../../analysis/scoring/stated-changes.ts';
import type { TrueDays } from '../../analysis/scoring/true-days.ts';
import type { Truth } from '../../analysis/scoring/truth.ts';
import type { AnalysisSettings } from '../../shared/analysis-settings.ts';
import { baseChannel } from '../../shared/channels.ts';
import type { DayRow } from '../../shared/cycle.ts';
import type { RankingReport } from '../../shared/finding.ts';
import { type GeneratorKey, splitGeneratorKey } from '../../shared/ids.ts';
import type { Log } from '../../shared/log.ts';
import type { LogEvent } from '../../shared/log-event.ts';
import { openMemoryReadings } from '../../shared/store/memory-readings.ts';
import { openMemoryRecords } from '../../shared/store/memory-records.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import { BRANCH_EVERY_DAYS, branchWorld } from '../../simulator/branches.ts';
import { randomScenario } from '../../simulator/random-worlds.ts';
import { worldEntries, worldPresence } from '../../simulator/story-times.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld, stepWorld, type World } from '../../simulator/world.ts';
import { type DailyMeters, dailyMeters } from './score-run-meters.ts';
import { startTwins, type TwinMaker } from './score-run-twins.ts';

export type WorldJob = { readonly seed: number; readonly generators: number; readonly days: number; readonly settings: readonly AnalysisSettings[]; /** Whose days are wanted too, for a picture of it. */ readonly watch?: GeneratorKey };
/** Where the time of a world went, ms. `fold` is that of all settings together. */
export type WorldTimes = { simulate: number; store: number; fold: number; branch: number; twin: number };
/** What can be scored, for each of the job's settings, in their order. */
export type WorldResult = { readonly seed: number; readonly readings: number; readonly times: WorldTimes; readonly outcomes: readonly WorldOutcome[]; /** Of the one that is watched, under the first settings. */ readonly seenDays?: readonly DayRow[] };

/** Readings older than this can't be asked for again: the analysis keeps 35 checkpoints of a day. */
const KEEP_MS = 40 * DAY_MS;
/** Worlds begin on a day of the year after this; which year is of no matter. */
const EPOCH_MS = Date.UTC(2024, 0, 1);

/** The world's first midnight: any day of a year, so that worlds begin in every season. */
export function worldStartOf(seed: number): number {
  return EPOCH_MS + (Math.imul(seed, 0x9e3779b1) >>> 0) % 365 * DAY_MS;
}

type Folded = { readonly analysis: Analysis; readonly records: RecordStore; readonly reports: RankingReport[]; readonly stated: Map<GeneratorKey, StatedChange[]> };
type Course = { readonly world: World; readonly untilMs: number; readonly folded: readonly Folded[]; readonly times: WorldTimes; readonly nowMs: () => number; readonly told: (ratio: number) => void };

/**
 * Simulate one random world, and fold it once for each of the settings.
 * Readings are handed over as decoded ones; the decoder has its own tests.
 *
 * @param nowMs a clock for the times alone; nothing that is found depends on it.
 */
export async function runWorld(job: WorldJob, nowMs: () => number, told: (ratio: number) => void): Promise<WorldResult> {
  const startMs = worldStartOf(job.seed);
  const scenario = randomScenario({ seed: job.seed, generators: job.generators, days: job.days, startMs });
  const world = startWorld({ scenario, seed: job.seed, startMs });
  const times: WorldTimes = { simulate: 0, store: 0, fold: 0, branch: 0, twin: 0 };
  const readings = openMemoryReadings();
  const folded = await Promise.all(job.settings.map(async (settings): Promise<Folded> => {
    const records = openMemoryRecords();
    return { records, analysis: await openAnalysis({ records, readings, settings, log: SILENT }), reports: [], stated: new Map() };
  }));
  const course: Course = { world, untilMs: startMs + job.days * DAY_MS, folded, times, nowMs, told };
  const { branches, count, meters, twins } = await live(course, readings);
  const twin = timed(times, 'twin', nowMs, () => twins.twins(meters, job.days));
  const truth: Truth = truthForScoring(worldTruth(world, branches));
  const watched = scenario.generators.map((one, index): WatchedGenerator => {
    const without = twin.get(one.key);
    const days: TrueDays = { startMs, was: meters.books[index]!, ...(without === undefined ? {} : { without: without.book }) };
    const runTimes: { readonly runTimes?: RunTimes } = without === undefined ? {} : { runTimes: { startMs, withFaultsS: meters.runS[index]!, withoutS: without.runS } };
    return { ...splitGeneratorKey(one.key), channels: one.channels.map(baseChannel), fromMs: startMs, untilMs: course.untilMs, days, ...runTimes };
  });
  const outcomes = folded.map(({ analysis, reports, stated }) => ({ truth, watched: watched.map((one, index) => ({ ...one, stated: stated.get(scenario.generators[index]!.key) ?? [] })), findings: analysis.report().findings, reports }));
  const seenDays = job.watch === undefined ? {} : { seenDays: await folded[0]!.records.days({ generator: job.watch }) };
  return { seed: job.seed, readings: count, times, outcomes, ...seenDays };
}

const SILENT: Log = { info: () => undefined, warn: () => undefined, error: () => undefined };

function timed<T>(times: WorldTimes, what: keyof WorldTimes, nowMs: () => number, work: () => T): T {
  const startedMs = nowMs();
  const result = work();
  times[what] += nowMs() - startedMs;
  return result;
}

/** Truth in the scoring's own shape, as if it had been read from `truth.json`. */
export function truthForScoring(truth: ReturnType<typeof worldTruth>): Truth {
  return { faults: [...truth.faults], upsets: truth.upsets.map((upset) => ({ ...upset, maySay: [...upset.maySay] })), branches: truth.branches.map((branch) => ({ ...branch, crossings: { ...branch.crossings } })) };
}

/** Everything that isn't a reading, by receipt: what is registered, who comes and goes, what people log. */
export function otherEvents(world: World, untilMs: number): { readonly atMs: number; readonly event: LogEvent }[] {
  const { startMs } = world;
  const registry = world.scenario.registry.sites.map((site): { atMs: number; event: LogEvent } => ({ atMs: startMs, event: { kind: 'registry', atMs: startMs, change: { validFromMs: startMs, recordedAtMs: startMs, by: 'world', site } } }));
  const presence = worldPresence(world, -Infinity, untilMs).map((event) => ({ atMs: event.atMs, event: { kind: 'presence', event } as const }));
  const entries = worldEntries(world, -Infinity, untilMs).map((entry) => ({ atMs: Date.parse(entry.recordedAt), event: { kind: 'entry', atMs: Date.parse(entry.recordedAt), entry } as const }));
  return [...registry, ...presence, ...entries].sort((a, b) => a.atMs - b.atMs);
}

/** Live through the world in order of receipt; at each time of branching the ranking is kept, and every generator is left alone in a branch. */
async function live(course: Course, readings: ReturnType<typeof openMemoryReadings>): Promise<{ readonly branches: ReturnType<typeof branchWorld>; readonly count: number; readonly meters: DailyMeters; readonly twins: TwinMaker }> {
  const { world, untilMs, folded, times, nowMs } = course;
  const others = otherEvents(world, untilMs);
  const meters = dailyMeters(world);
  const twins = startTwins(world);
  twins.note(0);
  const branches: ReturnType<typeof branchWorld> = [];
  let count = 0;
  let next = 0;
  for (let day = 1; world.nowMs < untilMs; day += 1) {
    const dayEndMs = world.startMs + day * DAY_MS;
    while (next < others.length && others[next]!.atMs < dayEndMs) {
      count += await step(course, readings, others[next]!.atMs);
      for (const one of folded) await one.analysis.feed(others[next]!.event);
      next += 1;
    }
    count += await step(course, readings, dayEndMs);
    meters.note();
    twins.note(day);
    if (day % BRANCH_EVERY_DAYS === 0) {
      for (const one of folded) {
        await one.analysis.advanceTo(dayEndMs);
        // Findings are scored from the last report alone.
        one.reports.push({ ...one.analysis.report(), findings: [] });
        await noteStated(one, world, dayEndMs);
      }
      if (dayEndMs < untilMs) branches.push(...timed(times, 'branch', nowMs, () => branchWorld(world)));
      await readings.expire(dayEndMs - KEEP_MS);
    }
    course.told((dayEndMs - world.startMs) / (untilMs - world.startMs));
  }
  for (const one of folded) await one.analysis.advanceTo(untilMs);
  return { branches, count, meters, twins };
}

/** What each generator states at this moment that it can show, and how its cycles scattered. */
async function noteStated({ records, stated }: Folded, world: World, atMs: number): Promise<void> {
  for (const { key } of world.scenario.generators) {
    const review = await records.review(key);
    const cycles = await records.cycles({ generator: key, fromMs: atMs - CYCLE_SPAN_MS, toMs: atMs });
    stated.set(key, [...(stated.get(key) ?? []), statedChange(isoFromMs(atMs), review?.canShow, cycleScatter(cycles, CYCLE_SPAN_MS / DAY_MS))]);
  }
}

async function step({ world, folded, times, nowMs }: Course, readings: ReturnType<typeof openMemoryReadings>, toMs: number): Promise<number> {
  if (toMs <= world.nowMs) return 0;
  const batch = timed(times, 'simulate', nowMs, () => stepWorld(world, toMs));
  if (batch.atMs.length === 0) return 0;
  const storeMs = nowMs();
  const { kept } = await readings.append(batch);
  const foldMs = nowMs();
  times.store += foldMs - storeMs;
  for (const one of folded) await one.analysis.feed({ kind: 'readings', batch: kept });
  times.fold += nowMs() - foldMs;
  return kept.atMs.length;
}
