import type { DayRow } from '../shared/cycle.ts';
import { type GeneratorKey, splitGeneratorKey } from '../shared/ids.ts';
import { type Exchange, exchangeOf, isBack, isOver } from './causes/exchanged.ts';
import { newestTurn, TOGETHER_MS, type Turn } from './causes/turns.ts';
import type { GeneratorFold } from './generator-fold.ts';

/** What a generator remembers of looks at the others of its site; plain JSON. */
export type BesideState = {
  /** The turns that were believed from a tick on: others are held against what was known at theirs, also after a restart. */
  turns: { readonly tickMs: number; readonly turn: Turn | null }[];
  /** When the counters' newest step was sure, as of the last look. */
  steppedMs: number;
  exchange: Exchange | null;
  /** Spans of exchanges that are over. What turns back at such an end is no new one. */
  otherDays: (readonly [fromMs: number, toMs: number])[];
};

export function startBeside(): BesideState {
  return { turns: [], steppedMs: 0, exchange: null, otherDays: [] };
}

/** Another generator of the same site. */
export type Neighbour = { readonly key: GeneratorKey; turnBefore(tickMs: number): Turn | null };

/** One turn is said a little differently on each of its first five days; two generators are saved a day or two apart at most. */
const TURNS_KEPT = 4;
const OTHER_DAYS_KEPT = 4;

/** The turn that was believed before a tick; null for none. */
export function turnBefore({ turns }: BesideState, tickMs: number): Turn | null {
  return turns.findLast((one) => one.tickMs < tickMs)?.turn ?? null;
}

/**
 * Whether this generator became another, and one of its neighbours this one. They are asked for what they knew before this
 * tick, so that neither their order nor a restart matters. Gives whether an exchange began or ended: then another one speaks
 * under this name than before.
 */
export function lookBeside(beside: BesideState, { state, history }: Pick<GeneratorFold, 'state' | 'history'>, { tickMs, dayClosed, neighbours }: { readonly tickMs: number; readonly dayClosed: boolean; readonly neighbours: () => readonly Neighbour[] }): boolean {
  const { counters, frontierMs } = state;
  const steppedMs = Math.max(0, ...Object.values(counters).map((counter) => counter.step?.sureMs ?? 0));
  let changed = false;
  if (dayClosed || steppedMs !== beside.steppedMs) {
    beside.steppedMs = steppedMs;
    const known = beside.turns.at(-1)?.turn ?? null;
    const turn = newestTurn(history, counters, known, frontierMs);
    if (JSON.stringify(turn) !== JSON.stringify(known)) beside.turns = [...beside.turns, { tickMs, turn }].slice(-TURNS_KEPT);
    if (beside.exchange !== null && isBack(beside.exchange, counters, history)) changed = endExchange(beside, frontierMs);
  }
  if (beside.exchange !== null && isOver(beside.exchange, frontierMs)) beside.exchange = null;
  const mine = beside.exchange === null ? turnBefore(beside, tickMs) : null;
  if (mine === null || mine.sinceMs < (beside.otherDays.at(-1)?.[1] ?? 0) + TOGETHER_MS) return changed;
  for (const neighbour of neighbours()) {
    const theirs = neighbour.turnBefore(tickMs);
    beside.exchange ??= (theirs === null ? undefined : exchangeOf(mine, theirs, splitGeneratorKey(neighbour.key).generator)) ?? null;
  }
  return beside.exchange !== null;
}

/** It speaks for itself again; gives whether it did not before. */
export function endExchange(beside: BesideState, backMs: number): boolean {
  if (beside.exchange?.backMs !== null) return false;
  beside.otherDays = [...beside.otherDays, [beside.exchange.sinceMs, backMs] as const].slice(-OTHER_DAYS_KEPT);
  beside.exchange = { ...beside.exchange, backMs };
  return true;
}

/** The days without those that were another one's. */
export function ownDays({ exchange, otherDays }: BesideState, history: readonly DayRow[]): readonly DayRow[] {
  const spans = exchange?.backMs === null ? [...otherDays, [exchange.sinceMs, Infinity] as const] : otherDays;
  return spans.length === 0 ? history : history.filter((row) => !spans.some(([fromMs, toMs]) => row.endMs > fromMs && row.startMs < toMs));
}
