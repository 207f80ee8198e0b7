import type { DayRow } from '../../shared/cycle.ts';
import { DAY_MS } from '../../shared/time.ts';
import { mad, median } from '../change/robust.ts';
import { type CounterName, type CounterStep, type CounterWatch } from './counter-reset.ts';
import { isUsableDay, lastRows } from './day-series.ts';

/*
 * When a generator became another one: many of its traits moved at one moment, or its counters jumped. Alone that says nothing;
 * beside another one of its site that became what this one was, names were exchanged (`exchanged.ts`).
 */

/** What tells generators apart whatever the registry says of them: nothing that is worked out by a registered tank or band. */
export const TRAITS = ['start', 'stop', 'run', 'rest', 'nitrogen', 'discharge', 'feed', 'drop', 'system'] as const;
export type Trait = (typeof TRAITS)[number];
/** Traits of one group move together. */
const GROUP: Readonly<Record<Trait, string>> = { start: 'band', stop: 'band', run: 'run', rest: 'rest', nitrogen: 'nitrogen', discharge: 'feed', feed: 'feed', drop: 'drop', system: 'piping' };
/** Least scatter of a day: kPa, logarithms of run and rest, per cent of nitrogen. Common practice, no source. */
const FLOOR: Readonly<Record<Trait, number>> = { start: 1.5, stop: 1.5, run: 0.03, rest: 0.06, nitrogen: 0.05, discharge: 3, feed: 3, drop: 1, system: 1.5 };

/** [middle, scatter of a day] of each trait that the days tell. */
export type Profile = Partial<Record<Trait, readonly [middle: number, scatter: number]>>;
/** A generator that became another: since when, what it was, what it is, and its counters' steps at that moment. Plain JSON. */
export type Turn = { readonly sinceMs: number; readonly before: Profile; readonly after: Profile; readonly steps: Readonly<Partial<Record<CounterName, CounterStep>>> };

const BEFORE_DAYS = 14;
const LEAST_BEFORE = 6;
const AFTER_DAYS = 5;
const JUMP_DAYS = 2;
/** So many scatters a trait must have moved by to have moved. */
const MOVED_SD = 5;
/** A band is two set points: alone it is as much as two other groups. */
const LEAST_WEIGHT = 2;
/** Counters that jumped within so long of a turn are of it: a day is a mixture where names changed at noon. */
export const TOGETHER_MS = 1.5 * DAY_MS;
/** Nobody exchanges half of it: a turn that no other answers is forgotten. */
const KEPT_MS = 30 * DAY_MS;

const READ: Readonly<Record<Trait, (row: DayRow) => number | null | undefined>> = {
  start: (row) => row.cutInKPa,
  stop: (row) => row.cutOutKPa,
  run: (row) => (row.starts >= 1 && row.runS > 0 ? Math.log(row.runS / row.starts) : null),
  rest: (row) => (row.starts >= 1 && row.restS > 0 ? Math.log(row.restS / row.starts) : null),
  nitrogen: (row) => row.nitrogen && row.nitrogen.value * 100,
  discharge: (row) => row.dischargeKPa?.value,
  feed: (row) => row.feedKPa?.value,
  drop: (row) => row.elementDropKPa?.value,
  system: (row) => row.systemKPa?.value,
};

/** More digits would only fill the saved state. */
function rounded(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}

export function profileOf(rows: readonly DayRow[], least: number): Profile {
  const profile: Profile = {};
  for (const trait of TRAITS) {
    const values = rows.flatMap((row) => READ[trait](row) ?? []);
    const middle = median(values);
    if (middle !== undefined && values.length >= least) profile[trait] = [rounded(middle), rounded(Math.max(FLOOR[trait], mad(values, middle) ?? 0))];
  }
  return profile;
}

/** How much a list of traits tells: each group once. */
export function weightOf(traits: readonly Trait[]): number {
  const groups = new Set(traits.map((trait) => GROUP[trait]));
  return groups.size + (groups.has('band') ? 1 : 0);
}

/** Whether that day stands off from what was before in as much as tells generators apart. */
function stoodOff(before: Profile, row: DayRow): boolean {
  const moved = TRAITS.filter((trait) => {
    const [was, value] = [before[trait], READ[trait](row) ?? undefined];
    return was !== undefined && value !== undefined && Math.abs(value - was[0]) > MOVED_SD * was[1];
  });
  return weightOf(moved) >= LEAST_WEIGHT;
}

function before(rows: readonly DayRow[], sinceMs: number): Profile {
  return profileOf(lastRows(rows, BEFORE_DAYS, (row) => row.endMs <= sinceMs && isUsableDay(row)), LEAST_BEFORE);
}

function after(rows: readonly DayRow[], sinceMs: number): Profile {
  return profileOf(rows.filter((row) => row.startMs >= sinceMs && isUsableDay(row)).slice(0, AFTER_DAYS), 1);
}

function stepsNear(counters: Readonly<Partial<Record<CounterName, CounterWatch>>>, sinceMs: number): Turn['steps'] {
  const near: Partial<Record<CounterName, CounterStep>> = {};
  for (const name of ['run-time', 'starts'] as const) {
    const step = counters[name]?.step ?? null;
    if (step !== null && Math.abs(step.to[1] - sinceMs) < TOGETHER_MS) near[name] = step;
  }
  return near;
}

/** The newest turn of a generator, or null. `known` is what was believed before. */
export function newestTurn(rows: readonly DayRow[], counters: Readonly<Partial<Record<CounterName, CounterWatch>>>, known: Turn | null, frontierMs: number): Turn | null {
  const step = Object.values(counters).flatMap((counter) => counter.step ?? []).sort((a, b) => b.to[1] - a.to[1])[0];
  const jumpMs = jumpOf(rows);
  let sinceMs = known?.sinceMs ?? -Infinity;
  if (jumpMs !== undefined && jumpMs > sinceMs + TOGETHER_MS) sinceMs = jumpMs;
  if (step !== undefined && step.to[1] > sinceMs + TOGETHER_MS) sinceMs = step.to[1];
  if (frontierMs - sinceMs > KEPT_MS) return null;
  const was = known?.sinceMs === sinceMs ? known.before : before(rows, sinceMs);
  const steps = stepsNear(counters, sinceMs);
  const last = lastRows(rows, JUMP_DAYS, (row) => row.startMs >= sinceMs && isUsableDay(row));
  if (Object.keys(steps).length === 0 && last.length === JUMP_DAYS && !last.some((row) => stoodOff(was, row))) return null;
  return { sinceMs, before: was, after: after(rows, sinceMs), steps };
}

/** The last two days stand off from the days before, and the one before them did not. */
function jumpOf(rows: readonly DayRow[]): number | undefined {
  const last = lastRows(rows, JUMP_DAYS + 1, isUsableDay);
  if (last.length <= JUMP_DAYS) return undefined;
  const [still, first] = last;
  const was = before(rows, first!.startMs);
  return last.slice(1).every((row) => stoodOff(was, row)) && !stoodOff(was, still!) ? first!.startMs : undefined;
}
