import type { CycleSource } from '../../shared/cycle.ts';
import { shortenBlocks } from './blocks.ts';
import { type Mean, type PeriodSums, type RunSums, SOURCES, startPeriod, sumsBy } from './period-sums.ts';
import { rounded, type Thinned } from './thinned.ts';

/** The quarters of a day added up; lists are joined, not thinned again. */
export function addedUp(quarters: readonly PeriodSums[], day: string, startMs: number, endMs: number): PeriodSums {
  const whole = startPeriod(day, 0, startMs, endMs);
  for (const one of quarters) {
    for (const source of SOURCES) if (one.by[source] !== undefined) addRunSums(sumsBy(whole, source), one.by[source]);
    if (one.tankSpan !== undefined) whole.tankSpan = [Math.min(one.tankSpan[0], whole.tankSpan?.[0] ?? Infinity), Math.max(one.tankSpan[1], whole.tankSpan?.[1] ?? -Infinity)];
    for (const name of ['fall', 'restS'] as const) whole.falls[name].push(...one.falls[name]);
    for (const name of ['made', 'openS', 'runS'] as const) whole.balance[name].push(...one.balance[name]);
    for (const name of ['dips', 'feedFalls', 'dischargeLeast', 'feedLeast'] as const) whole[name]!.push(...(one[name] ?? []));
    if (one.runLengths !== undefined) addThinnedList(whole.runLengths!, one.runLengths);
    for (const name of ['cutIn', 'cutOut', 'nitrogen', 'discharge', 'feed', 'drop'] as const) addThinnedList(whole[name], one[name]);
    for (const name of ['system', 'room', 'pipe', 'humidity'] as const) addMean(whole[name], one[name]);
    whole.slopeKPa = rounded(whole.slopeKPa! + (one.slopeKPa ?? 0));
    whole.burstKPa = rounded(whole.burstKPa! + (one.burstKPa ?? 0));
    if (one.compressor !== undefined) {
      whole.compressor ??= { runS: 0, knownS: 0 };
      whole.compressor.runS += one.compressor.runS;
      whole.compressor.knownS += one.compressor.knownS;
    }
    if (one.fullRun !== undefined) {
      whole.fullRun ??= { riseKPa: 0, runS: 0 };
      whole.fullRun.riseKPa += one.fullRun.riseKPa;
      whole.fullRun.runS += one.fullRun.runS;
    }
    whole.bends!.n += one.bends?.n ?? 0;
    whole.bends!.sum += one.bends?.sum ?? 0;
    for (const [channel, count] of Object.entries(one.heard)) whole.heard[channel] = (whole.heard[channel] ?? 0) + count;
  }
  return whole;
}

/** Values of a list that the joined part of a day keeps. */
const MOST_JOINED = 10;

/** The ended quarters of a day as one period with short lists, so that a generator's state stays small. */
export function joinedPast(quarters: readonly PeriodSums[]): PeriodSums {
  const first = quarters[0]!;
  const past = addedUp(quarters, first.day, first.startMs, quarters.at(-1)!.endMs);
  shortenBlocks(past.falls, past.balance, MOST_JOINED);
  for (const source of SOURCES) roundSums(past.by[source]);
  for (const name of ['system', 'room', 'pipe', 'humidity', 'bends', 'compressor', 'fullRun'] as const) roundSums(past[name]);
  for (const name of ['runLengths', 'cutIn', 'cutOut', 'nitrogen', 'discharge', 'feed', 'drop'] as const) {
    const list = past[name]!;
    // Of two compressors that take turns, every second run is one's alone.
    while (list.values.length > MOST_JOINED) list.values = list.values.filter((_, index) => (name === 'runLengths' ? index % 3 !== 1 : index % 2 === 0));
  }
  return past;
}

/** Sums of seconds and readings gather digits that mean nothing and fill the state. */
function roundSums(sums: Record<string, number> | undefined): void {
  for (const name in sums) sums[name] = rounded(sums[name]!);
}

function addRunSums(to: RunSums, one: RunSums): void {
  for (const name of Object.keys(one) as (keyof RunSums)[]) {
    if (name === 'longestRunS' || name === 'longestRestS') to[name] = Math.max(to[name], one[name]);
    else to[name] = (to[name] ?? 0) + one[name]!;
  }
}

function addThinnedList(to: Thinned, one: Thinned): void {
  to.values.push(...one.values);
  to.seen += one.seen;
}

function addMean(to: Mean, one: Mean): void {
  to.n += one.n;
  to.sum += one.sum;
  to.squares += one.squares;
}

/** A source is passed over for a lesser one when that one covers more than twice as much of the period. */
const COVERS_TWICE = 2;

/** The best source with coverage in a period; `null` when none has any. */
export function bestSource(sums: PeriodSums): CycleSource | null {
  const covered = SOURCES.map((source) => (sums.by[source]?.runS ?? 0) + (sums.by[source]?.restS ?? 0));
  const most = Math.max(...covered);
  return most > 0 ? (SOURCES.find((_, index) => covered[index]! * COVERS_TWICE >= most) ?? null) : null;
}
