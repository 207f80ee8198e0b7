import type { LeavingCheck } from '../../../shared/leaving-check.ts';
import { selectRows } from '../../../shared/reading-batch.ts';
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
export type Seen = { readonly seed: number; readonly check: LeavingCheck; readonly scenario: GeneratorScenario; readonly registered: RegisteredGenerator };

/** One random generator, in good order until a service visit, which leaves behind what is said; `null`: all is put back. */
function worldOf(seed: number, left: LeftBehind | null): { readonly scenario: Scenario; readonly registered: RegisteredGenerator } {
  const made = randomScenario({ seed, generators: 1, days: 30, startMs: START_MS });
  const [one] = made.generators;
  const faults: FaultScenario[] = left === null ? [] : [{ ...left, shape: 'step', fromDay: VISIT_DAY + VISIT_HOURS / 24 }];
  const generator: GeneratorScenario = { ...one!, faults, upsets: one!.upsets.filter((upset) => upset.kind === 'cold-snap'), visits: [{ id: 'visit-1', atDay: VISIT_DAY, hours: VISIT_HOURS, replaced: [] }] };
  return { scenario: { ...made, generators: [generator] }, registered: generatorsOf(made.registry)[0]! };
}

/** What the check says `afterMin` minutes after the visit's end. */
export function checkAfterVisit(seed: number, left: LeftBehind | null, afterMin = 30): Seen {
  const { scenario, registered } = worldOf(seed, left);
  const world = startWorld({ scenario, seed, startMs: START_MS });
  const nowMs = START_MS + VISIT_DAY * DAY_MS + VISIT_HOURS * HOUR_MS + afterMin * MINUTE_MS;
  const all = stepWorld(world, nowMs);
  const rows = (fromMs: number, toMs: number) => selectRows(all, [...all.atMs.keys()].filter((row) => all.atMs[row]! >= fromMs && all.atMs[row]! < toMs && all.receivedMs[row]! <= nowMs));
  const days = Array.from({ length: Math.floor(VISIT_DAY) - FIRST_DAY }, (_, index) => ({ startMs: START_MS + (FIRST_DAY + index) * DAY_MS, endMs: START_MS + (FIRST_DAY + index + 1) * DAY_MS }));
  const normal = leavingNormal(rows(days[0]!.startMs, days.at(-1)!.endMs), days);
  return { seed, check: leavingCheck({ registered, nowMs, recent: rows(nowMs - 3 * DAY_MS, nowMs + 1), normal }), scenario: scenario.generators[0]!, registered };
}
