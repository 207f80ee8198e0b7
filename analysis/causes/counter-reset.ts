import { DAY_MS, MINUTE_MS } from '../../shared/time.ts';
import { certainCondition, type Condition } from './condition.ts';
import { dayWords } from './evidence.ts';

/*
 * Running totals that were set anew: a controller was replaced or reset, or a counter came round its end. Run time over that
 * span is a gap of one report (cycles/counters.ts); here it is told by name, so that nobody takes the new count for the machine's age.
 */

export type CounterName = 'run-time' | 'starts';
type Sample = [value: number, atMs: number];
/** A counter that left its line for good: the last value of the old line, the first of the new one, and when that was sure. Plain JSON. */
export type CounterStep = { from: Sample; to: Sample; sureMs: number };
/** What is remembered of a counter: its newest value, a step that isn't sure yet with how often the new line was kept to, the last sure one. */
export type CounterWatch = { last: Sample; pending: { from: Sample; to: Sample; times: number } | null; step: CounterStep | null };

/** How fast a total may rise, a second: the hour meter as time goes, a compressor starts every 10 s at most; and what clocks and steps of the meter add. */
const FASTEST: Readonly<Record<CounterName, readonly [perS: number, more: number]>> = { 'run-time': [1.02, 400], starts: [0.1, 3] };
/** Smaller steps may come of a gateway's clock that was set, s and starts. Common practice, no source. */
const LEAST_BACK: Readonly<Record<CounterName, number>> = { 'run-time': 7200, starts: 20 };
const LEAST_AHEAD: Readonly<Record<CounterName, number>> = { 'run-time': 86_400, starts: 200 };
/** A wrong single value is no new count: so many later ones must go on from it. */
const SURE_TIMES = 2;
/** Two gateways' clocks, and what each heard last. Common practice, no source. */
const CLOCKS_APART_MS = 15 * MINUTE_MS;
/** Whether another one's counters jumped too, and names were exchanged, is known when both were heard: most send them each hour. */
const WAITS_MS = 70 * MINUTE_MS;
/** So long it is news. */
const TOLD_MS = 3 * DAY_MS;
/** Both counters of a controller are set at once, and heard in their own time. */
const TOGETHER_MS = DAY_MS;

function goesOn(name: CounterName, [value, atMs]: Sample, [later, laterMs]: Sample): boolean {
  const [perS, more] = FASTEST[name];
  return later >= value && later - value <= (perS * (laterMs - atMs)) / 1000 + more;
}

/** Whether a value is one that a counter may have come to from another; the clocks of two generators may differ a little. */
export function continues(name: CounterName, from: Sample, to: Sample): boolean {
  const [perS, more] = FASTEST[name];
  const sinceMs = Math.max(0, to[1] - from[1]);
  return to[1] - from[1] > -CLOCKS_APART_MS && to[0] - from[0] > -CLOCKS_APART_MS * perS / 1000 && to[0] - from[0] <= (perS * sinceMs) / 1000 + more;
}

function isStep(name: CounterName, [value, atMs]: Sample, [later, laterMs]: Sample): boolean {
  const [perS, more] = FASTEST[name];
  return value - later >= LEAST_BACK[name] || later - value >= (perS * (laterMs - atMs)) / 1000 + more + LEAST_AHEAD[name];
}

/** A running total came, in order of device time. */
export function noteCounter(name: CounterName, watch: CounterWatch | undefined, value: number, atMs: number): CounterWatch {
  const now: Sample = [value, atMs];
  if (watch === undefined) return { last: now, pending: null, step: null };
  const { last, pending, step } = watch;
  if (goesOn(name, last, now)) {
    if (pending === null) return { last: now, pending, step };
    const times = pending.times + 1;
    return times < SURE_TIMES ? { last: now, pending: { ...pending, times }, step } : { last: now, pending: null, step: { from: pending.from, to: pending.to, sureMs: atMs } };
  }
  // Back on the old line: what was between was wrong.
  if (pending !== null && goesOn(name, pending.from, now)) return { last: now, pending: null, step };
  const from = pending?.from ?? last;
  return { last: now, pending: isStep(name, from, now) ? { from, to: now, times: 0 } : null, step };
}

/** Where counters of usual makes begin again: hour meters show tenths, counters have digits or two bytes. Common practice, no source. */
const ENDS: Readonly<Record<CounterName, readonly number[]>> = { 'run-time': [1e4 * 3600, 1e5 * 3600], starts: [1e4, 65_536, 1e5, 1e6] };

function cameRound(name: CounterName, { from, to }: CounterStep): boolean {
  return ENDS[name].some((end) => from[0] < end && to[0] < from[0] && goesOn(name, from, [to[0] + end, to[1]]));
}

const NAMES: Readonly<Record<CounterName, string>> = { 'run-time': 'hour meter', starts: 'start counter' };

/** "4,120.3 h", "28,841". */
export function counterAmount(name: CounterName, value: number): string {
  return name === 'run-time' ? `${new Intl.NumberFormat('en-GB', { minimumFractionDigits: 1, maximumFractionDigits: 1 }).format(value / 3600)} h` : new Intl.NumberFormat('en-GB', { maximumFractionDigits: 0 }).format(value);
}

function sentence(name: CounterName, step: CounterStep, timeZone: string): string {
  const span = `from ${counterAmount(name, step.from[0])} to ${counterAmount(name, step.to[0])} on ${dayWords(new Date(step.to[1]).toISOString(), timeZone)}`;
  const goesOnFrom = name === 'run-time' ? 'run times go on from the new count' : 'starts are counted on from the new count';
  if (cameRound(name, step)) return `The ${NAMES[name]} came round its end, ${span}; ${goesOnFrom}.`;
  if (step.to[0] < step.from[0]) return `The ${NAMES[name]} went back ${span}: its counter was reset or its controller replaced; ${goesOnFrom}.`;
  return `The ${NAMES[name]} jumped ${span}, faster than it can count: it was set, or its controller replaced; ${goesOnFrom}.`;
}

/** Counters that were set anew in the last days. They hide nothing: what was counted before stays counted. */
export function countersSetAnew(counters: Readonly<Partial<Record<CounterName, CounterWatch>>>, frontierMs: number, timeZone: string): Condition[] {
  const steps = (['run-time', 'starts'] as const).flatMap((name) => (counters[name]?.step ? [{ name, step: counters[name].step }] : []));
  const newestMs = Math.max(...steps.map(({ step }) => step.sureMs));
  if (steps.length === 0 || frontierMs - newestMs < WAITS_MS || frontierMs - newestMs > WAITS_MS + TOLD_MS) return [];
  const fresh = steps.filter(({ step }) => newestMs - step.sureMs < TOGETHER_MS);
  const made = certainCondition('counters', 'sensor-fault', 0.99, Math.min(...fresh.map(({ step }) => step.from[1])), sentence(fresh[0]!.name, fresh[0]!.step, timeZone), false);
  return [{ ...made, evidence: fresh.map(({ name, step }) => ({ ...made.evidence[0]!, says: sentence(name, step, timeZone) })) }];
}
