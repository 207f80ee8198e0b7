import type { Channel } from '../../shared/channels.ts';
import type { CycleSource, DayRow } from '../../shared/cycle.ts';
import { longestNormal } from './normal.ts';
import { addedUp, bestSource } from './periods.ts';
import { rowOf } from './rows.ts';
import { STATE_HOLDS_MS } from './run-state.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';

/** What is going on at the frontier, for the faults that go by the clock and for live pages. */
export type Present = {
  /** `null` when the data can't tell. */
  readonly running: boolean | null;
  /** Since when it runs or rests; `null` when that change wasn't seen. */
  readonly sinceMs: number | null;
  /** Since when it is known to run or rest without a change, whether or not the change was seen. */
  readonly knownSinceMs: number | null;
  readonly source: CycleSource | null;
  readonly tankKPa: number | null;
  readonly tankAtMs: number | null;
  readonly systemKPa: number | null;
  readonly systemAtMs: number | null;
  readonly power: boolean | null;
  readonly operating: 'holding' | 'filling' | 'purging';
  /** The present day so far; provisional. */
  readonly today: DayRow | null;
  readonly lastRunS: number | null;
  readonly lastRestS: number | null;
  /** 90 % quantile of the last 16 complete cycles in holding; `null` with fewer than 4. */
  readonly longestNormalRunS: number | null;
  readonly longestNormalRestS: number | null;
  readonly lastAtMs: Readonly<Partial<Record<Channel, number>>>;
};

/** Doesn't change the state; call it after `passTo` with the same frontier. */
export function presentOf(state: DescriptorState, setup: DescriptorSetup, frontierMs: number): Present {
  const { run, saw, tank, quarter } = state;
  const byState = run.phase !== null && frontierMs - run.heardMs <= STATE_HOLDS_MS;
  const phase = byState ? run.phase : saw.phase;
  const since = byState ? run : saw;
  const sums = quarter === null ? null : addedUp([...state.quarters, quarter], quarter.day, (state.quarters[0] ?? quarter).startMs, quarter.endMs);
  return {
    running: phase === null ? null : phase === 1,
    sinceMs: phase === null || !since.seen ? null : since.sinceMs,
    knownSinceMs: phase === null ? null : since.sinceMs,
    source: byState ? 'running' : phase !== null ? 'tank-pressure' : sums === null ? null : bestSource(sums),
    tankKPa: tank.last?.kPa ?? null,
    tankAtMs: tank.last?.atMs ?? null,
    systemKPa: state.systemKPa,
    systemAtMs: state.systemAtMs,
    power: state.power,
    operating: operatingAt(state, setup, frontierMs),
    today: sums === null ? null : todayRow(state, setup),
    lastRunS: state.recentRunS.at(-1) ?? null,
    lastRestS: state.recentRestS.at(-1) ?? null,
    longestNormalRunS: longestNormal(state.recentRunS),
    longestNormalRestS: longestNormal(state.recentRestS),
    lastAtMs: state.lastAtMs,
  };
}

function todayRow(state: DescriptorState, setup: DescriptorSetup): DayRow {
  const quarter = state.quarter!;
  const day = setup.calendar(quarter.startMs);
  return rowOf(addedUp([...state.quarters, quarter], day.day, day.startMs, day.endMs), day.day, true, state, setup);
}

function operatingAt(state: DescriptorState, setup: DescriptorSetup, atMs: number): Present['operating'] {
  if (setup.outages.some((outage) => outage.kind === 'purge' && atMs >= outage.fromMs && atMs <= outage.toMs)) return 'purging';
  return state.run.filling ? 'filling' : 'holding';
}
