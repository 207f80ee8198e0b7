import type { Entry } from '../shared/entry.ts';
import { type GeneratorKey, splitGeneratorKey } from '../shared/ids.ts';
import { DAY_MS, HOUR_MS, isoFromMs } from '../shared/time.ts';
import type { Condition, Slot } from './causes/condition.ts';
import { endsMs } from './data-state.ts';

/** When the registry had a generator out of service; `toMs` null while it still has. Plain JSON. */
export type OffTime = { readonly fromMs: number; readonly toMs: number | null };

const OFF_KEPT = 20;
/** Latest time that a date can be written for: the end of what goes on. */
const NO_END = '9999-12-31T00:00:00.000Z';

/** The times with the registry's word of now added; the same list where it says nothing new. */
export function noteOff(times: readonly OffTime[], isOff: boolean, sinceMs: number): readonly OffTime[] {
  const last = times.at(-1);
  const wasOff = last !== undefined && last.toMs === null;
  if (isOff === wasOff) return times;
  return isOff ? [...times, { fromMs: sinceMs, toMs: null }].slice(-OFF_KEPT) : [...times.slice(0, -1), { fromMs: last!.fromMs, toMs: Math.max(last!.fromMs, sinceMs) }];
}

/** These times as what people log when a system is out: they are kept out of what is usual, and what follows is a refill. */
export function offEntries(key: GeneratorKey, times: readonly OffTime[]): Entry[] {
  const { site, generator } = splitGeneratorKey(key);
  return times.map(({ fromMs, toMs }) => ({ id: `out-of-service-${fromMs}`, site, generator, kind: 'impairment', startedAt: isoFromMs(fromMs), finishedAt: toMs === null ? NO_END : isoFromMs(toMs), recordedAt: isoFromMs(fromMs), replaced: [], adjusted: {}, readings: {} }));
}

/** Nothing that stands still or is shut in such times does so by fault. */
const EXPECTED: ReadonlySet<Entry['kind']> = new Set(['impairment', 'trip-test', 'low-pressure-test', 'hold-test']);
/** What an impairment let down is filled again for so long; a compressor that doesn't start then is told after an hour. Common practice, no source. */
const REFILL_MS = 12 * HOUR_MS;
const STARTS_WITHIN_MS = HOUR_MS;

/** So long after it a rest that began before says nothing by its length. */
const RESTS_ANEW_MS = 2 * DAY_MS;

/** The conditions of the clock without what people said they would bring about: what is out of service, or under test, isn't left so by a fault. */
export function withoutExpected(conditions: readonly Condition[], entries: readonly Entry[], nowMs: number): readonly Condition[] {
  if (conditions.length === 0) return conditions;
  // A purge goes through what it lets out for days: piping is low, and a tank never full.
  if (entries.some((entry) => entry.kind === 'purge' && Date.parse(entry.startedAt) <= nowMs && nowMs < endsMs(entry))) return withoutExpected(conditions.filter(({ slot, cause }) => slot === 'power' || cause === 'not-starting'), entries.filter((entry) => entry.kind !== 'purge'), nowMs);
  const known = entries.filter((entry) => EXPECTED.has(entry.kind) && Date.parse(entry.startedAt) <= nowMs);
  if (known.some((entry) => nowMs < endsMs(entry))) return conditions.filter((condition) => condition.slot === 'power');
  const backMs = Math.max(-Infinity, ...known.filter((entry) => entry.kind === 'impairment').map(endsMs));
  if (nowMs - backMs > RESTS_ANEW_MS) return conditions;
  const told = conditions.filter((condition) => !condition.missingChannels.includes('tank-pressure'));
  return nowMs - backMs > REFILL_MS ? told : told.filter((condition) => condition.slot === 'power' || (condition.cause === 'not-starting' && nowMs - backMs > STARTS_WITHIN_MS));
}

/** What an open finding of a generator out of service waits for: it is neither confirmed nor over. What went by the clock is over by intent. */
export const WAIT_WHILE_OFF: readonly Slot[] = ['demand', 'delivery', 'duty', 'sensor', 'set-point', 'counters'];
