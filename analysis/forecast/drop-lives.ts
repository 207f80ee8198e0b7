import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { LifePoint } from './life-curve.ts';
import { lifeLeft } from './life-left.ts';
import { type Life, learnLives } from './lives-model.ts';
import type { LimitAnswer } from './time-to-limit.ts';

const DAY_MS = 86_400_000;
/** Days of running whose mean is the present rate, as for the service that was agreed. */
const RATE_DAYS = 14;
/** The elements between the two pressures that the drop is taken from. */
const BETWEEN = ['particulate-element', 'coalescing-element', 'carbon-element'] as const;

export type DropQuestion = { readonly rows: readonly DayRow[]; readonly entries: readonly Entry[]; readonly limitKPa: number; readonly nowMs: number; readonly horizonDays: number };

/**
 * When the drop over the elements reaches its limit, from this generator's own earlier lives of elements: what each showed over
 * running hours from its change to the next. `undefined` unless two of them reached the limit and the present one has a value.
 *
 * Running hours become days at the rate of the last two weeks; that it may change is left out.
 */
export function dropFromLives({ rows, entries, limitKPa, nowMs, horizonDays }: DropQuestion): LimitAnswer['crossesMs'] | undefined {
  const lives = livesOf(rows, entries, limitKPa);
  const present = lives.at(-1);
  if (present === undefined || lives.length < 3) return undefined;
  const model = learnLives(lives.slice(0, -1), limitKPa);
  const left = model && lifeLeft(model, present.points);
  const hoursPerDay = rateOf(rows);
  if (left === undefined || hoursPerDay === undefined) return undefined;
  const at = (hours: number): number | null => (hours / hoursPerDay > horizonDays ? null : Math.round(nowMs + (hours / hoursPerDay) * DAY_MS));
  return { p10: at(left.p10), p25: at(left.p25), p50: at(left.p50), p75: at(left.p75), p90: at(left.p90) };
}

/** Lives of the elements, oldest first, the present one last; one that began before the first day is left out, for its hours aren't known. */
function livesOf(rows: readonly DayRow[], entries: readonly Entry[], limitKPa: number): Life[] {
  const changes = entries.filter((entry) => entry.kind === 'service' && BETWEEN.some((part) => entry.replaced.includes(part))).map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt)).sort((a, b) => a - b);
  return changes.flatMap((fromMs, i): Life[] => {
    const points = lifeBetween(rows, fromMs, changes[i + 1] ?? Infinity);
    const end = points.findIndex((point) => point.level >= limitKPa);
    if (points.length === 0 || (rows[0] as DayRow).startMs > fromMs) return [];
    return [end < 0 ? { points, own: true, reachedLimit: false } : { points: i === changes.length - 1 ? points : points.slice(0, end + 1), own: true, reachedLimit: true }];
  });
}

/** The drop over the hours run since the change; days that the change cuts count for hours by their part, and show no drop. */
function lifeBetween(rows: readonly DayRow[], fromMs: number, toMs: number): LifePoint[] {
  let hours = 0;
  const points: LifePoint[] = [];
  for (const row of rows) {
    if (row.endMs <= fromMs || row.startMs >= toMs) continue;
    hours += ((row.runS / 3600) * (Math.min(row.endMs, toMs) - Math.max(row.startMs, fromMs))) / (row.endMs - row.startMs);
    if (row.elementDropKPa !== null && row.startMs >= fromMs && row.endMs <= toMs) points.push({ work: hours, level: row.elementDropKPa.value });
  }
  return points;
}

/** Hours run a day of late; `undefined` where it doesn't run. */
function rateOf(rows: readonly DayRow[]): number | undefined {
  const recent = rows.slice(-RATE_DAYS).filter((row) => row.coveredS > 0);
  const covered = recent.reduce((sum, row) => sum + row.coveredS, 0);
  const run = recent.reduce((sum, row) => sum + row.runS, 0);
  return run > 0 ? (24 * run) / covered : undefined;
}
