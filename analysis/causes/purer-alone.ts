import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { mad, median } from '../change/robust.ts';
import { certainCondition, type Condition } from './condition.ts';
import { bothEnds, isUsableDay, oxygenAtReference } from './day-series.ts';

/** Days at the beginning and at the end that are compared. */
const FIRST_DAYS = 28;
const LAST_DAYS = 7;
/** ln by which oxygen must have fallen at least, and in scatters of the days. Oxygen goes with about the square of the flow: a tenth less flow is a fifth less oxygen, and would be seen in delivery. Common practice, no source. */
const LESS_OXYGEN = 0.35;
const LESS_SD = 5;
/** Within this delivery is the same, and runs are as long, as ln. */
const SAME_DELIVERY = 0.06;
const SAME_RUNS = 0.3;
/** No day of the last may differ by more. */
const ANY_DELIVERY = 0.15;
/** What is poorer than this is still being cleaned of air, share of nitrogen. */
const CLEAN = 0.95;

/**
 * A product that gets ever purer while as much of it is made, in runs as long: no membrane or bed gets better by itself, and an oxygen
 * cell that ages or drifts reads less oxygen (design, section 6). Of readings in the product of runs alone: tanks and piping get purer by right.
 */
export function purerAlone(rows: readonly DayRow[], entries: readonly Entry[], { generator }: RegisteredGenerator, fromMs: number): Condition | undefined {
  if (generator.nitrogenAt !== 'product') return undefined;
  // What a service or a set point made better is better by right.
  const anewMs = Math.max(fromMs, ...entries.filter((entry) => entry.kind === 'service' || entry.kind === 'set-point').map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt)));
  const ends = bothEnds(rows, [FIRST_DAYS, LAST_DAYS], (row) => row.startMs >= anewMs && row.nitrogen !== null && row.nitrogen.value > CLEAN && row.nitrogen.value < 1 && row.delivery !== null && row.delivery.value > 0 && row.starts > 0 && isUsableDay(row));
  if (ends === undefined) return undefined;
  const [first, last] = ends;
  const oxygen = (row: DayRow): number => Math.log((1 - row.nitrogen!.value) * oxygenAtReference(row.roomC));
  const moved = (read: (row: DayRow) => number): number => median(last.map(read))! - median(first.map(read))!;
  const scatter = mad(first.map(oxygen)) ?? 0;
  if (moved(oxygen) > -Math.max(LESS_OXYGEN, LESS_SD * scatter)) return undefined;
  // Where less is made now and then, as by a drain, gas is purer now and then.
  const firstMade = median(first.map((row) => row.delivery!.value))!;
  if (last.some((row) => Math.abs(Math.log(row.delivery!.value / firstMade)) > ANY_DELIVERY)) return undefined;
  if (Math.abs(moved((row) => Math.log(row.delivery!.value))) > SAME_DELIVERY || Math.abs(moved((row) => Math.log(row.runS / row.starts))) > SAME_RUNS) return undefined;
  const percent = (some: readonly DayRow[]): string => `${(100 * median(some.map((row) => row.nitrogen!.value))!).toFixed(2)} %`;
  const says = `Nitrogen reads ${percent(last)} after ${percent(first)}, while as much is made as before in runs as long: nothing gets purer by itself. Its cell ages or has drifted, and nitrogen is poorer than it looks.`;
  return { ...certainCondition('sensor', 'sensor-fault', 0.85, last[0]!.startMs, says, false), aside: true };
}
