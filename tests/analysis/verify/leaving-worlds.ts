import type { LeavingCheck } from '../../../shared/leaving-check.ts';
import { type ReadingBatch, selectRows } from '../../../shared/reading-batch.ts';
import { generatorsOf, type RegisteredGenerator } from '../../../shared/registry.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';
import { leavingCheck } from '../../../analysis/verify/leaving-check.ts';
import { leavingNormal } from '../../../analysis/verify/leaving-normal.ts';
import { randomScenario } from '../../../simulator/random-worlds.ts';
import type { FaultScenario, GeneratorScenario, Scenario } from '../../../simulator/scenario.ts';
import { startWorld, stepWorld } from '../../../simulator/world.ts';

const START_MS = Date.UTC(2026, 2, 2);
const VISIT_DAY = 24.42;
const VISIT_HOURS = 1.5;
/** Readings begin to be "usual" when the world has settled. */
const FIRST_DAY = 2;

export type LeftBehind = Pick<FaultScenario, 'cause' | 'variant' | 'severity'>;

/** One random generator, in good order until a service visit, which leaves behind what is said; `null`: all is put back. */
function worldOf(seed: number, left: LeftBehind | null): { readonly scenario: Scenario; readonly registered: RegisteredGenerator } {
  const made = randomScenario({ seed, generators: 1, days: 30, startMs: START_MS });
  const [one] = made.generators;
  const faults: FaultScenario[] = left === null ? [] : [{ ...left, shape: 'step', fromDay: VISIT_DAY + VISIT_HOURS / 24 }];
  const generator: GeneratorScenario = { ...one!, faults, upsets: one!.upsets.filter((upset) => upset.kind === 'cold-snap'), visits: [{ id: 'visit-1', atDay: VISIT_DAY, hours: VISIT_HOURS, replaced: [] }] };
  return { scenario: { ...made, generators: [generator] }, registered: generatorsOf(made.registry)[0]! };
}

/** A generator whose world has lived until a while after the visit; `check` asks at any minute after its end. */
export function visited(seed: number, left: LeftBehind | null, hours = 1): { readonly scenario: GeneratorScenario; check(afterMin: number): LeavingCheck } {
  const { scenario, registered } = worldOf(seed, left);
  const doneMs = START_MS + VISIT_DAY * DAY_MS + VISIT_HOURS * HOUR_MS;
  const all = stepWorld(startWorld({ scenario, seed, startMs: START_MS }), doneMs + hours * HOUR_MS);
  const rows = (fromMs: number, toMs: number, receivedMs: number): ReadingBatch => selectRows(all, [...all.atMs.keys()].filter((row) => all.atMs[row]! >= fromMs && all.atMs[row]! < toMs && all.receivedMs[row]! <= receivedMs));
  const days = Array.from({ length: Math.floor(VISIT_DAY) - FIRST_DAY }, (_, index) => ({ startMs: START_MS + (FIRST_DAY + index) * DAY_MS, endMs: START_MS + (FIRST_DAY + index + 1) * DAY_MS }));
  const normal = leavingNormal([rows(days[0]!.startMs, days.at(-1)!.endMs, Infinity)], days);
  return {
    scenario: scenario.generators[0]!,
    check(afterMin) {
      const nowMs = doneMs + afterMin * MINUTE_MS;
      return leavingCheck({ registered, nowMs, recent: rows(nowMs - 3 * DAY_MS, nowMs + 1, nowMs), normal });
    },
  };
}

/** The first check, asked every 10 minutes, whose half hour held a run that could be compared; `undefined` if none came in time. */
export function firstCheckWithRun(seed: number, left: LeftBehind | null): LeavingCheck | undefined {
  const world = visited(seed, left, 24);
  for (let afterMin = 30; afterMin <= 24 * 60; afterMin += 10) {
    const check = world.check(afterMin);
    if (check.items.some((item) => item.part === 'run' && item.state !== 'not seen yet')) return check;
  }
  return undefined;
}

/** What is sent, best first. */
export function channelSetOf({ channels }: GeneratorScenario): 'full' | 'middle' | 'slim' | 'counters' | 'duty' {
  return channels.includes('feed-pressure') ? 'full' : channels.includes('nitrogen') ? 'middle' : channels.includes('running') ? 'slim' : channels.includes('run-time') ? 'counters' : 'duty';
}
