import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import type { LifePoint } from './life-curve.ts';

const DAY_MS = 86_400_000;
/** The elements between the two pressures that the drop is taken from. */
const BETWEEN = ['particulate-element', 'coalescing-element', 'carbon-element'] as const;

/** What is known of one generator's elements: its closed days, what people entered, and what the registry says is fitted. */
export type Lived = { readonly rows: readonly DayRow[]; readonly entries: readonly Entry[]; readonly registered: RegisteredGenerator };
/** Elements that were changed: from one change to the next, in ms, and what they showed over their running hours. */
export type PastLife = { readonly fromMs: number; readonly endedMs: number; readonly points: readonly LifePoint[] };

const pastOf = new WeakMap<Lived, readonly PastLife[]>();

/** Lives that are over, oldest first; one that began before the first day is left out, for its hours aren't known. */
export function pastLives(lived: Lived): readonly PastLife[] {
  let past = pastOf.get(lived);
  if (past === undefined) {
    const firstMs = lived.rows[0]?.startMs ?? Infinity;
    const changes = changesOf(lived);
    past = changes.slice(0, -1).flatMap((fromMs, i): PastLife[] => {
      const endedMs = changes[i + 1] as number;
      const points = fromMs < firstMs ? [] : lifeBetween(lived.rows, fromMs, endedMs, 0);
      return points.length === 0 ? [] : [{ fromMs, endedMs, points }];
    });
    pastOf.set(lived, past);
  }
  return past;
}

/** When elements between the two pressures were changed, ms, oldest first. */
export function changesOf({ entries }: Pick<Lived, 'entries'>): number[] {
  return entries.filter((entry) => entry.kind === 'service' && BETWEEN.some((part) => entry.replaced.includes(part))).map((entry) => Date.parse(entry.finishedAt ?? entry.startedAt)).sort((a, b) => a - b);
}

/** When the newest of them was fitted by the registry, ms; `undefined` where it doesn't say. */
export function fittedMsOf({ registered }: Pick<Lived, 'registered'>): number | undefined {
  const dates = BETWEEN.flatMap((part) => registered.generator.fitted[part] ?? []).map((date) => Date.parse(date));
  return dates.length === 0 ? undefined : Math.max(...dates);
}

/** How long the present elements have run; hours before the first day are taken to have gone at the mean rate. `undefined` where nobody said when they were fitted. */
export function presentAge(lived: Lived): { readonly fromMs: number; readonly hoursBefore: number; readonly hoursRun: number } | undefined {
  const { rows } = lived;
  const firstMs = rows[0]?.startMs;
  const fromMs = changesOf(lived).at(-1) ?? fittedMsOf(lived);
  if (firstMs === undefined || fromMs === undefined) return undefined;
  const hoursBefore = fromMs >= firstMs ? 0 : ((hoursPerDayOf(rows) ?? 0) * (firstMs - fromMs)) / DAY_MS;
  return { fromMs, hoursBefore, hoursRun: rows.reduce((sum, row) => sum + (row.runS / 3600) * shareWithin(row, fromMs, Infinity), hoursBefore) };
}

/** Hours run a day; `undefined` where it doesn't run. */
export function hoursPerDayOf(rows: readonly DayRow[]): number | undefined {
  const heard = rows.filter((row) => row.coveredS > 0);
  const covered = heard.reduce((sum, row) => sum + row.coveredS, 0);
  const run = heard.reduce((sum, row) => sum + row.runS, 0);
  return run > 0 ? (24 * run) / covered : undefined;
}

/** The part of a day that lies in a span. */
function shareWithin(row: DayRow, fromMs: number, toMs: number): number {
  return Math.max(0, Math.min(row.endMs, toMs) - Math.max(row.startMs, fromMs)) / (row.endMs - row.startMs);
}

/** The drop over the hours run since the change; days that the change cuts count for hours by their part, and show no drop. */
export function lifeBetween(rows: readonly DayRow[], fromMs: number, toMs: number, hoursBefore: number): LifePoint[] {
  let hours = hoursBefore;
  const points: LifePoint[] = [];
  for (const row of rows) {
    hours += (row.runS / 3600) * shareWithin(row, fromMs, toMs);
    if (row.elementDropKPa !== null && row.startMs >= fromMs && row.endMs <= toMs) points.push({ work: hours, level: row.elementDropKPa.value });
  }
  return points;
}
