import { certainCondition, type Condition } from './condition.ts';
import { continues, counterAmount, type CounterName, type CounterStep, type CounterWatch } from './counter-reset.ts';
import type { DayRow } from '../../shared/cycle.ts';
import { DAY_MS, isoFromMs } from '../../shared/time.ts';
import { isUsableDay, lastRows } from './day-series.ts';
import { dayWords } from './evidence.ts';
import { type Profile, profileOf, TOGETHER_MS, type Trait, TRAITS, type Turn, weightOf } from './turns.ts';

/*
 * The names, or the wires, of two generators of a site were exchanged: at one moment each became what the other was. What either
 * seems to have since then is the other's, so it hides what its own series say.
 */

/** What is kept of an exchange while it lasts; plain JSON. */
export type Exchange = { readonly other: string; readonly sinceMs: number; /** When it spoke for itself again; null while it doesn't. */ readonly backMs: number | null; readonly steps: Turn['steps']; readonly before: Profile; /** What the other was. */ readonly others: Profile; /** Traits by which the two differ. */ readonly differ: readonly Trait[] };

/** Two generators differ in a trait by so many scatters of a day; in so much, where no counter proves it. */
const APART_SD = 6;
const LEAST_WEIGHT = 2;
/** A trait has become the other's where it is within so many scatters of it, or within this share of what they differ by. */
const SAME_SD = 3;
const SAME_SHARE = 0.25;

function apart(one: Profile, other: Profile, trait: Trait): { readonly by: number; readonly sd: number } | undefined {
  const [a, b] = [one[trait], other[trait]];
  return a === undefined || b === undefined ? undefined : { by: Math.abs(a[0] - b[0]), sd: Math.hypot(a[1], b[1]) };
}

/** Traits by which two generators differ for sure. */
function differing(one: Profile, other: Profile): Trait[] {
  return TRAITS.filter((trait) => {
    const gap = apart(one, other, trait);
    return gap !== undefined && gap.by > APART_SD * gap.sd;
  });
}

/** Whether `now` is what `was` of the other says, in a trait by which the two differ. */
function became(now: Profile, was: Profile, own: Profile, trait: Trait): boolean {
  const [gap, whole] = [apart(now, was, trait), apart(own, was, trait)];
  return gap !== undefined && whole !== undefined && gap.by < Math.max(SAME_SD * gap.sd, SAME_SHARE * whole.by);
}

/** Each counter goes on where the other's stopped. */
function counterProves(name: CounterName, mine: Turn, theirs: Turn): boolean | undefined {
  const [own, other] = [mine.steps[name], theirs.steps[name]];
  return own === undefined || other === undefined ? undefined : continues(name, other.from, own.to) && continues(name, own.from, other.to);
}

/** Whether two generators became each other at one moment. */
export function exchangeOf(mine: Turn, theirs: Turn, other: string): Exchange | undefined {
  if (Math.abs(mine.sinceMs - theirs.sinceMs) > TOGETHER_MS) return undefined;
  const differ = differing(mine.before, theirs.before);
  const proofs = (['run-time', 'starts'] as const).flatMap((name) => counterProves(name, mine, theirs) ?? []);
  if (proofs.includes(false)) return undefined;
  const both = (trait: Trait): boolean => became(mine.after, theirs.before, mine.before, trait) && became(theirs.after, mine.before, theirs.before, trait);
  if (proofs.length === 0 && (weightOf(differ) < LEAST_WEIGHT || !differ.every(both))) return undefined;
  return { other, sinceMs: Math.max(mine.sinceMs, theirs.sinceMs), backMs: null, steps: mine.steps, before: mine.before, others: theirs.before, differ };
}

const BACK_DAYS = 2;

/** Whether a generator speaks for itself again: its counters go on where they stopped, or its last days are its own. */
export function isBack(exchange: Exchange, counters: Readonly<Partial<Record<CounterName, CounterWatch>>>, rows: readonly DayRow[]): boolean {
  for (const [name, { from, to }] of Object.entries(exchange.steps) as [CounterName, CounterStep][]) {
    const newest = counters[name]?.step ?? null;
    if (newest !== null && newest.to[1] > to[1] && continues(name, from, newest.to)) return true;
  }
  const last = lastRows(rows, BACK_DAYS, (row) => row.startMs > exchange.sinceMs + DAY_MS && isUsableDay(row));
  return exchange.differ.length > 0 && last.length === BACK_DAYS && last.every((row) => {
    const now = profileOf([row], 1);
    return exchange.differ.every((trait) => became(now, exchange.before, exchange.others, trait));
  });
}

const SAID: Readonly<Record<Trait, (was: number, others: number) => string>> = {
  start: (was, others) => `starts at ${Math.round(others)} kPa instead of ${Math.round(was)}`,
  stop: (was, others) => `stops at ${Math.round(others)} kPa instead of ${Math.round(was)}`,
  run: (was, others) => `runs of ${minutesOf(others)} min instead of ${minutesOf(was)}`,
  rest: (was, others) => `rests of ${minutesOf(others)} min instead of ${minutesOf(was)}`,
  nitrogen: (was, others) => `nitrogen at ${others.toFixed(2)} % instead of ${was.toFixed(2)}`,
  discharge: (was, others) => `${Math.round(others)} kPa before the elements instead of ${Math.round(was)}`,
  feed: (was, others) => `${Math.round(others)} kPa after the elements instead of ${Math.round(was)}`,
  drop: (was, others) => `a drop over the elements of ${Math.round(others)} kPa instead of ${Math.round(was)}`,
  system: (was, others) => `the piping at ${Math.round(others)} kPa instead of ${Math.round(was)}`,
};
const MOST_SAID = 3;
/** The compressor's own clock learns the other's ways within so long, and its own again; then it may speak again. */
const CLOCK_LEARNS_MS = 7 * DAY_MS;
const CLOCK_KNOWS_MS = 3 * DAY_MS;

function minutesOf(log: number): string {
  const minutes = Math.exp(log) / 60;
  return minutes < 10 ? minutes.toFixed(1) : String(Math.round(minutes));
}

/** So long the days of before it hang on after it is over. */
const SETTLES_MS = 3.25 * DAY_MS;

/** Nothing of it hangs on. */
export function isOver({ backMs }: Exchange, frontierMs: number): boolean {
  return backMs !== null && frontierMs - backMs > SETTLES_MS;
}

export function exchangeCondition(exchange: Exchange, frontierMs: number, timeZone: string): Condition {
  const { other, sinceMs, backMs, steps, before, others, differ } = exchange;
  const meter = (['run-time', 'starts'] as const).flatMap((name) => (steps[name] === undefined ? [] : [`the ${name === 'run-time' ? 'hour meter' : 'start counter'} went from ${counterAmount(name, steps[name].from[0])} to ${counterAmount(name, steps[name].to[0])}, where that of ${other} stood`]));
  const moved = differ.map((trait) => SAID[trait](before[trait]![0], others[trait]![0]));
  const figures = [...meter.slice(0, 1), ...moved.slice(0, MOST_SAID)].join(', ');
  const dayOf = (ms: number): string => dayWords(isoFromMs(ms), timeZone);
  const says = `Since ${dayOf(sinceMs)} it is what ${other} was until then, and ${other} is what this one was: ${figures}. ${backMs === null ? "Their names or their wires were exchanged; what either seems to have is the other's." : `Their names or their wires were exchanged until ${dayOf(backMs)}.`}`;
  const recent = backMs === null ? frontierMs - sinceMs < CLOCK_LEARNS_MS : frontierMs - backMs < CLOCK_KNOWS_MS;
  return { ...certainCondition('sensor', 'sensor-fault', meter.length > 0 ? 0.99 : 0.95, sinceMs, says, false), hides: recent ? ['counters', 'running'] : ['counters'] };
}
