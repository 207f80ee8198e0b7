import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Truth } from '../../analysis/scoring/truth.ts';
import type { Channel } from '../../shared/channels.ts';
import type { Entry } from '../../shared/entry.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { PresenceEvent } from '../../shared/log-event.ts';
import type { QuarantineItem } from '../../shared/quarantine.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import type { RegistryChange } from '../../shared/registry.ts';
import { exportRecording } from '../../shared/recording/write-recording.ts';
import { DAY_MS } from '../../shared/time.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { worldTruth } from '../../simulator/truth.ts';
import { startWorld } from '../../simulator/world.ts';
import { writeRecording } from '../../simulator/write-recording.ts';
import { truthForScoring } from './score-run.ts';

/** What was received beside readings in a stretch, of its generators alone. */
export type StretchTold = { readonly registry: readonly RegistryChange[]; readonly entries: readonly Entry[]; readonly presence: readonly PresenceEvent[]; readonly refused: readonly QuarantineItem[] };
type Stretch = { readonly generators: readonly { readonly key: GeneratorKey; readonly channels: readonly Channel[]; readonly zone: string }[]; readonly fromMs: number; readonly toMs: number; /** About so many, for the progress. */ readonly readings: number; readonly told: StretchTold };

/** What a run works on; plain JSON, so that it can be handed to a thread. */
export type ReplayWork =
  | { readonly kind: 'simulated'; readonly scenario: Scenario; readonly seed: number; readonly startMs: number; readonly days: number }
  | { readonly kind: 'rebuilt'; readonly scenario: Scenario; readonly seed: number; readonly startMs: number; readonly days: number; readonly entries: readonly Entry[] }
  | ({ readonly kind: 'history' } & Stretch);

/** The main thread has the reading store; it hands a stretch over batch by batch, in order of receipt. */
export type ReplaySource = { next(): Promise<ReadingBatch | null> };

/** What was written into the scratch folder. `truth` only of an invented world. */
export type Written = {
  readonly fromMs: number;
  readonly untilMs: number;
  readonly readings: number;
  readonly generators: readonly { readonly key: GeneratorKey; readonly channels: readonly Channel[]; readonly zone: string; readonly visits: readonly string[] }[];
  readonly truth: Truth | null;
  readonly laidOver: Truth['faults'];
};

/** Write what is to be folded as a recording, as gateways or an export of ours would have it. */
export async function writeInput(work: ReplayWork, folder: string, source: ReplaySource, told: (ratio: number) => void): Promise<Written> {
  return work.kind === 'history' ? writeStretch(work, folder, source, told) : writeWorld(work, folder, told);
}

async function writeWorld(work: Exclude<ReplayWork, { kind: 'history' }>, folder: string, told: (ratio: number) => void): Promise<Written> {
  const { scenario, seed, startMs, days } = work;
  const untilMs = startMs + days * DAY_MS;
  const world = startWorld({ scenario, seed, startMs });
  const { readings } = await writeRecording({ world, folder, toMs: untilMs, onProgress: told });
  const truth = truthForScoring(worldTruth(world));
  if (work.kind === 'rebuilt') await writeFile(join(folder, 'visits.json'), JSON.stringify(work.entries));
  const entries = work.kind === 'rebuilt' ? work.entries : undefined;
  const generators = scenario.generators.map(({ key, channels }) => {
    const [site = '', generator = ''] = key.split('/');
    const visits = entries === undefined ? truth.upsets.filter((one) => one.kind === 'visit' && one.site === site && one.generator === generator).map((one) => one.from) : visitsOf(entries, key);
    return { key, channels, zone: scenario.registry.sites.find((one) => one.id === site)?.timeZone ?? 'UTC', visits };
  });
  return { fromMs: startMs, untilMs, readings, generators, truth: work.kind === 'simulated' ? truth : null, laidOver: work.kind === 'rebuilt' ? laidOverIn(scenario, truth.faults) : [] };
}

/** Only what the scenario lays over: what loads and wears by itself in the simulation is no part of the question. */
function laidOverIn(scenario: Scenario, faults: Truth['faults']): Truth['faults'] {
  return faults.filter((fault) => scenario.generators.some(({ key, faults: own }) => key === `${fault.site}/${fault.generator}` && own.some((one) => one.cause === fault.cause && one.severity === fault.severity)));
}

async function writeStretch(work: Extract<ReplayWork, { kind: 'history' }>, folder: string, source: ReplaySource, told: (ratio: number) => void): Promise<Written> {
  const { fromMs, toMs, generators } = work;
  const { registry, entries, presence, refused } = work.told;
  const { readings } = await exportRecording({
    folder, fromMs, toMs, generators: generators.map(({ key }) => key),
    readings: { byReceipt: () => batchesOf(source) },
    // People's closings are left out: they answer findings that this fold may not make.
    records: { presenceSince: async () => presence, entries: async () => entries, registryChanges: async () => registry, actions: async () => [], quarantined: async ({ afterId = 0, limit = refused.length } = {}) => refused.slice(afterId, afterId + limit) },
    onProgress: (count) => told(Math.min(1, count / Math.max(1, work.readings))),
  });
  return { fromMs, untilMs: toMs, readings, generators: generators.map((one) => ({ ...one, visits: visitsOf(entries, one.key) })), truth: null, laidOver: [] };
}

async function* batchesOf(source: ReplaySource): AsyncGenerator<ReadingBatch> {
  for (let batch = await source.next(); batch !== null; batch = await source.next()) yield batch;
}

function visitsOf(entries: readonly Entry[], key: GeneratorKey): string[] {
  return entries.filter((entry) => entry.kind === 'service' && `${entry.site}/${entry.generator}` === key).map((entry) => entry.startedAt);
}
