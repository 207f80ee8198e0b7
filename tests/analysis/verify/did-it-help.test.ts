// Issue: "A diagnosis that holds up", item 7: before and after a visit at matched hours and temperature. Days and cycles are invented by hand.
import { expect, test } from 'vitest';
import { earlyLook, lookByDays, recurrenceOf } from '../../../analysis/verify/did-it-help.ts';
import { atSameHours, spanOfCycles, spanOfDays } from '../../../analysis/verify/matched.ts';
import type { Cycle, DayRow } from '../../../shared/cycle.ts';
import type { Entry } from '../../../shared/entry.ts';
import type { Finding } from '../../../shared/finding.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';

const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;
const START_MS = Date.parse('2026-10-01T00:00:00Z');
const generator = 's/g' as GeneratorKey;

function day(index: number, dutyRatio: number, change: Partial<DayRow> = {}): DayRow {
  const startMs = START_MS + index * DAY_MS;
  return {
    day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, coveredS: 86_400, runS: 86_400 * dutyRatio, restS: 86_400 * (1 - dutyRatio), starts: 20, dutyRatio,
    unit: 'NL/min', demand: { value: 5, se: 0.1 }, delivery: { value: 5 / dutyRatio, se: 1 }, nitrogen: null, elementDropKPa: null, roomC: null, pipeC: null, holdingRatio: 1, ...change,
  } as DayRow;
}
const visit: Entry = { id: 'v1', site: 's', generator: 'g', kind: 'service', startedAt: '2026-10-15T09:00:00Z', finishedAt: '2026-10-15T11:00:00Z', recordedAt: '2026-10-15T11:00:00Z', replaced: [], adjusted: {}, readings: {} };
const VISITED_MS = Date.parse('2026-10-15T11:00:00Z');
const wobble = (index: number): number => 1 + 0.03 * ((index * 7) % 5);
const days = (dutyOf: (index: number) => number, change: (index: number) => Partial<DayRow> = () => ({})): DayRow[] => Array.from({ length: 30 }, (_, index) => day(index, dutyOf(index) * wobble(index), change(index)));
const byDays = (rows: readonly DayRow[], findings: readonly Finding[] = []) => lookByDays({ generator, visit, findings, atMs: START_MS + 30 * DAY_MS, days: rows });

test('lookByDays() tells better from worse from the same', () => {
  expect(byDays(days((index) => (index < 14 ? 0.4 : 0.25))).verdict).toBe('improved');
  expect(byDays(days((index) => (index < 14 ? 0.25 : 0.4))).verdict).toBe('worse');
  expect(byDays(days(() => 0.3)).verdict).toBe('not improved');
  // 8 % better every day is sure, but no more than weather does.
  expect(byDays(days((index) => (index < 14 ? 0.3 : 0.276))).verdict).toBe('not improved');
});

test('lookByDays() calls nothing improved that swings more than it moved', () => {
  expect(byDays(days((index) => (index < 14 ? 0.4 : 0.3) * (index % 2 === 0 ? 0.2 : 1.8))).verdict).toBe('not improved');
});

test('lookByDays() waits for three whole days on both sides, and says so', () => {
  const helped = days((index) => (index < 14 ? 0.4 : 0.2));
  const early = byDays(helped.slice(0, 17));
  expect(early).toMatchObject({ verdict: 'not enough data yet', after: { days: 2 } });
  expect(early.says).toEqual(['2 whole days since the visit and 14 before it: 3 of each are the least that can be compared.']);
  expect(byDays(helped.slice(0, 18))).toMatchObject({ verdict: 'improved', after: { days: 3 } });
  expect(byDays(helped.slice(12, 30))).toMatchObject({ verdict: 'not enough data yet', before: { days: 2 } });
});

test('lookByDays() leaves out the day of the visit, purging and provisional days, and looks at 14 days on each side', () => {
  const seen = byDays(days(() => 0.3, (index) => (index === 16 ? { holdingRatio: 0.1 } : index === 29 ? { provisional: true } : {})));
  // 1 to 14 October before; 16 to 30 October after, without one purging and one provisional day.
  expect([seen.before.days, seen.after.days]).toEqual([14, 13]);
});

test('lookByDays() compares days that were about as warm, and says when there were none', () => {
  // It ran more in the cold, and the visit changed nothing: warm days before it are no measure of cold ones after it.
  const cold = (index: number): boolean => index >= 8;
  const rows = days((index) => (cold(index) ? 0.4 : 0.2), (index) => ({ pipeC: cold(index) ? -5 : 15 }));
  const matched = byDays(rows);
  expect(matched).toMatchObject({ verdict: 'not improved', before: { days: 6 } });
  expect(matched.says.at(-1)).toContain('within 6 K of each other');
  const apart = byDays(days((index) => (index < 14 ? 0.4 : 0.25), (index) => ({ pipeC: index < 14 ? 15 : -5 })));
  expect(apart.before.days).toBe(14);
  expect(apart.says.at(-1)).toContain('20 K colder after the visit');
});

test('lookByDays() compares with the days since the finding that was open, where they are enough', () => {
  const found = (onset: string): Finding => ({ id: 'f', openedAt: '2026-10-11T00:00:00Z', closedAt: null, cause: 'leak', among: null, onset: { earliest: null, likely: onset, latest: null } }) as Finding;
  // Good order until the 9th, a leak until the visit, good order again.
  const rows = days((index) => (index >= 9 && index < 14 ? 0.4 : 0.2));
  expect(byDays(rows, [found('2026-10-10T00:00:00Z')])).toMatchObject({ verdict: 'improved', before: { days: 5 } });
  // Two days are too few: all of them then.
  expect(byDays(rows, [found('2026-10-13T00:00:00Z')]).before.days).toBe(14);
  expect(byDays(rows, [{ ...found('2026-10-10T00:00:00Z'), closedAt: '2026-10-12T00:00:00Z' }]).before.days).toBe(14);
});

test('lookByDays() sees what an element change was for where run time is the same', () => {
  const change = (index: number) => ({ elementDropKPa: { value: (index < 14 ? 52 : 18) + (index % 3), se: 1 } });
  const seen = byDays(days(() => 0.3, change));
  expect(seen.verdict).toBe('improved');
  expect(seen.says).toContainEqual(expect.stringMatching(/^Drop over the elements 52\.9 kPa before, 18\.9 kPa after\.$/));
  const nitrogen = (index: number) => ({ nitrogen: { value: (index < 14 ? 0.985 : 0.978) + 0.0002 * (index % 3), se: 0.0005 } });
  expect(byDays(days(() => 0.3, nitrogen)).verdict).toBe('worse');
});

/** Cycles of the first 16 days, one an hour on the hour, run and rest in minutes as told. */
function hourly(minutesOf: (atMs: number) => readonly [run: number, rest: number], untilMs: number): Cycle[] {
  const cycles: Cycle[] = [];
  for (let startMs = START_MS; startMs < untilMs; startMs += HOUR_MS) {
    const [run, rest] = minutesOf(startMs);
    cycles.push({ generator, startMs, runS: run * 60 * wobble(startMs / HOUR_MS), restS: rest * 60, source: 'running', cut: false, fallKPaPerMin: 150 / rest, riseKPaPerMin: 150 / run, startKPa: 550, stopKPa: 700 });
  }
  return cycles;
}
const early = (cycles: readonly Cycle[], look: '4 h' | '24 h', hours: number) => earlyLook({ generator, visit, findings: [], atMs: VISITED_MS + hours * HOUR_MS, look, cycles });

test('earlyLook() compares at the same hours of the day: what each noon does is no improvement', () => {
  // More is drawn from 12 to 18 h, on every day, visit or not.
  const noon = (atMs: number): boolean => new Date(atMs).getUTCHours() >= 12 && new Date(atMs).getUTCHours() < 18;
  const untouched = hourly((atMs) => (noon(atMs) ? [20, 39] : [5, 54]), VISITED_MS + 6 * HOUR_MS);
  expect(early(untouched, '4 h', 6).verdict).toBe('not improved');
  const mended = hourly((atMs) => (noon(atMs) && atMs < VISITED_MS ? [20, 39] : [5, 54]), VISITED_MS + 6 * HOUR_MS);
  const seen = early(mended, '4 h', 6);
  expect(seen).toMatchObject({ verdict: 'improved', look: '4 h', before: { unit: 'kPa/min' }, after: { unit: 'kPa/min' } });
  expect(seen.says[0]).toMatch(/^Run time 3\d(\.\d)? % before, \d\.\d+ % after \(−7\d %\)\.$/);
  const left = hourly((atMs) => (atMs < VISITED_MS ? [5, 54] : [15, 44]), VISITED_MS + 26 * HOUR_MS);
  expect(early(left, '24 h', 25).verdict).toBe('worse');
});

test('earlyLook() waits for three whole cycles, and says how long a cycle takes here', () => {
  const slow = hourly(() => [5, 54], VISITED_MS + 4 * HOUR_MS).filter((cycle) => cycle.startMs < VISITED_MS + 2 * HOUR_MS);
  const seen = early(slow, '4 h', 4);
  expect(seen.verdict).toBe('not enough data yet');
  expect(seen.says[0]).toMatch(/^1 whole cycle since the visit, .* A usual cycle before the visit took 59 min\.$/);
  expect(early([], '4 h', 4).says[0]).toContain('0 whole cycles');
});

test('atSameHours() takes the span that the look covers, a day at most', () => {
  const cycles = hourly(() => [5, 54], VISITED_MS);
  const fromMs = Date.parse('2026-10-15T12:00:00Z');
  expect(atSameHours(cycles, fromMs, fromMs + 3 * HOUR_MS, 14).map((some) => some.length)).toEqual(Array.from({ length: 14 }, () => 3));
  expect(atSameHours(cycles, fromMs, fromMs + 50 * HOUR_MS, 2).map((some) => some.length)).toEqual([24, 23]);
});

test('spanOfCycles() adds up seconds, and takes slopes where most cycles have them', () => {
  const [one, other] = hourly((atMs) => (atMs === START_MS ? [5, 55] : [10, 110]), START_MS + 2 * HOUR_MS) as [Cycle, Cycle];
  const span = spanOfCycles([one, other], 1);
  expect(span.dutyRatio).toBeCloseTo((one.runS + other.runS) / (one.runS + other.runS + one.restS + other.restS), 12);
  // Σ fall·rest ÷ Σ rest: the amounts, not the mean of the two slopes.
  expect(span.demand).toBeCloseTo(300 / 165, 9);
  const without = spanOfCycles([{ ...one, fallKPaPerMin: null }, { ...other, riseKPaPerMin: null }], 1);
  expect(without).toMatchObject({ unit: 'relative' });
  expect(without.demand).toBeCloseTo(2 / 165, 9);
  expect(spanOfCycles([], 0)).toMatchObject({ dutyRatio: null, demand: null });
});

test('spanOfDays() adds up seconds instead of averaging ratios, and mixes no units', () => {
  const span = spanOfDays([day(0, 0.5, { coveredS: 1000, runS: 500, restS: 500, starts: 1 }), day(1, 0.1, { coveredS: 9000, runS: 900, restS: 8100, starts: 3 }), day(2, 0.1, { coveredS: 0, runS: 0, restS: 0, starts: 0, unit: 'relative', demand: { value: 900, se: 1 } })], 'NL/min');
  expect(span.dutyRatio).toBeCloseTo(1400 / 10_000, 12);
  expect(span.meanRunMin).toBeCloseTo(1400 / 4 / 60, 12);
  expect(span.meanRestMin).toBeCloseTo(8600 / 4 / 60, 12);
  expect(span.demand).toBeCloseTo(5, 12);
  expect(span.elementDropKPa).toBeNull();
  expect(spanOfDays([], 'relative')).toEqual({ days: 0, dutyRatio: null, meanRunMin: null, meanRestMin: null, demand: null, delivery: null, unit: 'relative', elementDropKPa: null, nitrogen: null });
});

test('recurrenceOf() links a finding since the visit to the one before it that shares a cause', () => {
  const finding = (id: string, hours: number, cause: Finding['cause'], among: Finding['among'] = null): Finding => ({ id, openedAt: new Date(VISITED_MS + hours * HOUR_MS).toISOString(), cause, among }) as Finding;
  const before = [finding('leak-1', -300, 'leak'), finding('drain-1', -200, 'drain-stuck-open')];
  expect(recurrenceOf([...before, finding('leak-2', 30, 'leak')], VISITED_MS, VISITED_MS + 40 * HOUR_MS)).toEqual(['leak-1', 'leak-2']);
  expect(recurrenceOf([...before, finding('group', 30, 'undetermined', ['compressor-side', 'drain-stuck-open'])], VISITED_MS, VISITED_MS + 40 * HOUR_MS)).toEqual(['drain-1', 'group']);
  // Not yet known at that time, or another thing.
  expect(recurrenceOf([...before, finding('leak-2', 50, 'leak')], VISITED_MS, VISITED_MS + 40 * HOUR_MS)).toBeNull();
  expect(recurrenceOf([...before, finding('n', 30, 'not-starting')], VISITED_MS, VISITED_MS + 40 * HOUR_MS)).toBeNull();
});
