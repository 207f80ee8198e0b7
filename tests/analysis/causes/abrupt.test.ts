// Issue: a step of many cycle scatters is known within hours, before a day has closed (design, section 6).
import { describe, expect, test } from 'vitest';
import { abruptChange } from '../../../analysis/causes/abrupt.ts';
import { type RecentCycles, rememberCycle, startRecentCycles } from '../../../analysis/causes/recent-cycles.ts';
import { seesOf } from '../../../shared/distinguish.ts';
import { type Entry, entrySchema } from '../../../shared/entry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { DAY_MS, HOUR_MS } from '../../../shared/time.ts';

const STEP_MS = Date.UTC(2026, 5, 10, 9);
const sees = seesOf(new Set(['running', 'tank-pressure', 'nitrogen', 'discharge-pressure', 'feed-pressure'] as const));

/** Three weeks of cycles of 6 and 54 min that scatter by 4 %, then what is given, hour by hour; a busy week lies 10 days back. */
function cycles(after: readonly (readonly [runS: number, restS: number])[], busy = 1): { readonly recent: RecentCycles; readonly endMs: number } {
  const recent = startRecentCycles();
  const add = (startMs: number, runS: number, restS: number): void => rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs, runS, restS, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: 550, stopKPa: 700 });
  for (let hour = -21 * 24; hour < 0; hour += 1) add(STEP_MS + hour * HOUR_MS, 360 * (1 + 0.02 * Math.sin(3 * hour)), (3240 * (1 + 0.04 * Math.cos(5 * hour))) / (hour > -17 * 24 && hour < -8 * 24 ? busy : 1));
  let atMs = STEP_MS;
  for (const [runS, restS] of after) {
    add(atMs, runS, restS);
    atMs += (runS + restS) * 1000;
  }
  return { recent, endMs: atMs };
}

function told(after: readonly (readonly [runS: number, restS: number])[], { entries = [], busy, laterMs = 0 }: { readonly entries?: readonly Entry[]; readonly busy?: number; readonly laterMs?: number } = {}): string[] {
  const { recent, endMs } = cycles(after, busy);
  return abruptChange(recent, entries, endMs + laterMs, sees).map((condition) => condition.cause);
}

const times = (count: number, runS: number, restS: number): (readonly [number, number])[] => Array.from({ length: count }, () => [runS, restS] as const);

describe('abruptChange()', () => {
  test('what a logged test of the low-pressure switch let out is made up for within half a day', () => {
    const tested = (hoursBefore: number): Entry[] => [entrySchema.parse({ id: 't', site: 'a', generator: 'b', kind: 'low-pressure-test', startedAt: new Date(STEP_MS - (hoursBefore + 0.5) * HOUR_MS).toISOString(), finishedAt: new Date(STEP_MS - hoursBefore * HOUR_MS).toISOString() })];
    const drawn = times(9, 380, 2200);
    expect(told(drawn)).toEqual(['leak']);
    expect(told(drawn, { entries: tested(1) })).toEqual([]);
    expect(told(drawn, { entries: tested(13) })).toEqual(['leak']);
  });

  test('half more on a day is no news of a generator that is known for a week', () => {
    const young = (restS: number): string[] => {
      const { recent, endMs } = cycles(times(9, 380, restS));
      return abruptChange({ ...recent, weeks: recent.weeks.slice(-1) }, [], endMs, sees).map((condition) => condition.cause);
    };
    expect(told(times(9, 380, 2200))).toEqual(['leak']);
    expect(young(2200)).toEqual([]);
  });

  test('is silent in good order, and until six cycles over four hours agree', () => {
    expect(told(times(6, 360, 3240))).toEqual([]);
    expect(told(times(5, 460, 3240))).toEqual([]);
    expect(told([...times(3, 460, 3240), [360, 3240], ...times(3, 460, 3240)])).toEqual([]);
    // Two hours of a user who draws.
    expect(told(times(6, 380, 900))).toEqual([]);
  });

  test('tells less made by longer runs, and more drawn by shorter rests', () => {
    expect(told(times(6, 460, 3240))).toEqual(['drain-stuck-open']);
    expect(told(times(7, 370, 2200))).toEqual(['leak']);
  });

  test('is silent where the cycles are unlike each other: people who draw in bursts, not something that broke', () => {
    expect(told([[420, 3240], [760, 3240], [430, 3240], [900, 3240], [640, 3240], [1100, 3240]])).toEqual([]);
  });

  test('holds runs against those after the same rests: where bursts of drawing that cut rests short end, less is not made', () => {
    const recent = startRecentCycles();
    let atMs = STEP_MS - 20 * DAY_MS;
    const add = (runS: number, restS: number): void => {
      rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: atMs, runS, restS, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: null, stopKPa: null });
      atMs += (runS + restS) * 1000;
    };
    // Most rests end in a burst, and the runs after them are shorter; then nobody draws.
    for (let index = 0; index < 120; index += 1) if (index % 8 === 0) add(380 + (index % 3), 18_000); else add(325 + (index % 3), 12_000);
    for (let index = 0; index < 6; index += 1) add(388 + (index % 3), 18_000);
    expect(abruptChange(recent, [], atMs, sees)).toEqual([]);
    const { last } = recent;
    for (let index = last.length - 6; index < last.length; index += 1) last[index] = [last[index]![0], 470, 18_000, null, null];
    expect(abruptChange(recent, [], atMs, sees).map((condition) => condition.cause)).toEqual(['drain-stuck-open']);
  });

  test('tells gas that runs back by delivery that seems to rise with demand', () => {
    // What is drawn in 2,000 s and not in 3,240 also seems to be made: 1/run rises by as much.
    expect(told(times(7, 340, 2100))).toEqual(['check-valve-leaking']);
  });

  test('is no more than the worst week of late was, and nothing after tests, purges and visits', () => {
    expect(told(times(7, 370, 2200), { busy: 1.5 })).toEqual([]);
    const entry = (kind: Entry['kind'], atMs: number): Entry => entrySchema.parse({ id: kind, site: 'a', generator: 'b', kind, startedAt: new Date(atMs).toISOString(), finishedAt: new Date(atMs + HOUR_MS).toISOString() });
    expect(told(times(7, 370, 2200), { entries: [entry('trip-test', STEP_MS - 2 * DAY_MS)] })).toEqual([]);
    expect(told(times(7, 370, 2200), { entries: [entry('service', STEP_MS - DAY_MS)] })).toEqual([]);
    expect(told(times(7, 370, 2200), { entries: [entry('service', STEP_MS - 5 * DAY_MS)] })).toEqual(['leak']);
    expect(told(times(7, 370, 2200), { laterMs: 9 * HOUR_MS })).toEqual([]);
  });
});
