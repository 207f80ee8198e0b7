// Issue: runs that are cut short at different pressures, where nobody sends the pressure at which they stop (design, section 6: `stops-short`).
import { describe, expect, test } from 'vitest';
import { rememberCycle, startRecentCycles, type RecentCycles } from '../../../analysis/causes/recent-cycles.ts';
import { scatteredStops, unevenRuns } from '../../../analysis/causes/uneven-runs.ts';
import { entrySchema, type Entry } from '../../../shared/entry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 5, 1);
type Told = { readonly runMin: number; readonly restMin: number; readonly startKPa?: number; readonly stopKPa?: number };

/** Cycles one after another, with the moment at which the last one ended. */
function cycles(told: readonly Told[]): RecentCycles {
  const recent = startRecentCycles();
  let startMs = START_MS;
  for (const { runMin, restMin, startKPa = null, stopKPa = null } of told) {
    rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs, runS: runMin * 60, restS: restMin * 60, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa, stopKPa });
    startMs += (runMin + restMin) * MINUTE_MS;
  }
  return recent;
}

/** Three weeks of whole runs of a quarter of an hour; what is drawn makes rests of three to five hours. */
const usual: Told[] = Array.from({ length: 120 }, (_, index) => ({ runMin: 16.5 + 0.1 * (index % 5), restMin: 180 + 30 * (index % 5) }));
/** Cut short after so many minutes, with the rest that so much gas lasts. */
const cut = (...minutes: number[]): Told[] => minutes.map((runMin) => ({ runMin, restMin: 14 * runMin }));
const work = (fromHours: number): Entry => entrySchema.parse({ id: 'v', site: 'a', generator: 'b', kind: 'service', startedAt: new Date(START_MS + fromHours * HOUR_MS).toISOString(), finishedAt: new Date(START_MS + (fromHours + 1) * HOUR_MS).toISOString() });

describe('unevenRuns()', () => {
  test('runs of different lengths, each with a rest in proportion, are cut short', () => {
    const [condition] = [unevenRuns(cycles([...usual, ...cut(9, 12.5)]), [], false)];
    expect(condition).toMatchObject({ slot: 'running', cause: 'stops-short', hides: ['demand', 'delivery', 'duty', 'set-point'] });
    expect(condition!.evidence[0]!.says).toBe('Of the last 6 runs 2 ended after 9.0 and 12.5 min, and the rests after them were shorter by as much; hardly any lasted less than 16.5 min in the weeks before. They stop at different pressures, before the tank is full.');
    // Alike, with a whole one between.
    expect(unevenRuns(cycles([...usual, ...cut(9, 16.6, 9)]), [], false)).toBeDefined();
  });

  test('a switch that was turned makes runs alike, more delivery leaves rests as they were, and one run may be cut by the mains', () => {
    expect(unevenRuns(cycles([...usual, ...cut(9, 9.1, 9.2, 9)]), [], false)).toBeUndefined();
    expect(unevenRuns(cycles([...usual, ...[7, 9, 8, 7].map((runMin) => ({ runMin, restMin: 260 }))]), [], false)).toBeUndefined();
    expect(unevenRuns(cycles([...usual, ...cut(9)]), [], false)).toBeUndefined();
    expect(unevenRuns(cycles(usual), [], false)).toBeUndefined();
  });

  test('nor does anybody who works on it, nor a stop at the usual pressure', () => {
    const short = cycles([...usual, ...cut(3, 4, 9)]);
    const atHours = (short.last.at(-2)![0] - START_MS) / HOUR_MS;
    expect(unevenRuns(short, [], false)).toBeDefined();
    expect(unevenRuns(short, [work(atHours)], false)).toBeUndefined();
    // Within two hours, and logged later.
    expect(unevenRuns(cycles([...usual, ...cut(2, 3, 2.5)]), [], false)).toBeUndefined();
    const whole = [...usual, ...cut(9, 12.5)].map((one) => ({ ...one, startKPa: 520, stopKPa: 640 }));
    expect(unevenRuns(cycles(whole), [], false)).toBeUndefined();
  });

  test('a band that stands lower stops at one pressure, whatever bursts make of a run', () => {
    const lower = (stops: readonly number[]): RecentCycles => cycles([...usual.map((one) => ({ ...one, startKPa: 640, stopKPa: 770 })), ...stops.map((stopKPa, index) => ({ runMin: index === 2 ? 16.6 : 10.8, restMin: 150, startKPa: 540, stopKPa }))]);
    expect(unevenRuns(lower([670, 671, 669, 670, 671, 670]), [], false)).toBeUndefined();
    expect(unevenRuns(lower([670, 640, 669, 700, 655, 690]), [], false)).toBeDefined();
  });

  test('once told it goes on while one of the last six is short, or two of the last twenty, and weeks of it do not become usual', () => {
    const whole = (count: number): number[] => Array.from({ length: count }, () => 16.6);
    expect(unevenRuns(cycles([...usual, ...cut(9, ...whole(3))]), [], true)).toBeDefined();
    expect(unevenRuns(cycles([...usual, ...cut(9, ...whole(3))]), [], false)).toBeUndefined();
    expect(unevenRuns(cycles([...usual, ...cut(9, ...whole(6))]), [], true)).toBeUndefined();
    expect(unevenRuns(cycles([...usual, ...cut(9, 8, ...whole(18))]), [], true)).toBeDefined();
    expect(unevenRuns(cycles([...usual, ...cut(9, 8, ...whole(19))]), [], true)).toBeUndefined();
    const month = Array.from({ length: 300 }, (_, index) => 6 + (index % 7));
    expect(unevenRuns(cycles([...usual, ...cut(...month)]), [], true)).toBeDefined();
  });

  test('once told a visit between does not end it; only runs after it do', () => {
    const short = cycles([...usual, ...cut(9, 12.5, 8, 11)]);
    const atHours = (short.last.at(-2)![0] - START_MS) / HOUR_MS;
    expect(unevenRuns(short, [work(atHours)], false)).toBeUndefined();
    expect(unevenRuns(short, [work(atHours)], true)).toBeDefined();
  });

  test('once told, runs that are as long as one another are those of a band that stands elsewhere, or of a timer', () => {
    const even = unevenRuns(cycles([...usual, ...cut(12, 9, 9, 9.1, 9.2, 9, 9.1)]), [], true);
    expect(even).toMatchObject({ slot: 'running', cause: 'set-point-changed' });
    expect(even!.evidence[0]!.says).toContain('They stop at one pressure');
    expect(unevenRuns(cycles([...usual, ...cut(12, 9, 9, 16.6, 9.1, 9.2, 9, 9.1)]), [], true)).toMatchObject({ cause: 'stops-short' });
    // Of many the shortest and the longest are said.
    expect(unevenRuns(cycles([...usual, ...cut(9, 10, 8, 11, 9, 12, 7)]), [], true)!.evidence[0]!.says).toContain('7 ended after 7.0 to 12.0 min');
  });

  test('a run that a burst called for before its time is short for want of room', () => {
    const burst: Told[] = [{ runMin: 16.6, restMin: 150 }, { runMin: 12, restMin: 230 }, { runMin: 16.6, restMin: 160 }, { runMin: 9, restMin: 200 }, { runMin: 16.6, restMin: 140 }, { runMin: 11, restMin: 220 }];
    expect(unevenRuns(cycles([...usual, ...burst]), [], false)).toBeUndefined();
    expect(unevenRuns(cycles([...usual, ...burst.map((one) => (one.runMin > 16 ? { ...one, restMin: 240 } : one))]), [], false)).toBeDefined();
  });

  test('where some of the cycles before were as short, messages get lost or somebody draws so', () => {
    const habit = (every: number): Told[] => usual.map((one, index) => (index % every === 0 ? cut(9)[0]! : one));
    expect(unevenRuns(cycles([...habit(15), ...cut(9, 12.5, 8)]), [], false)).toBeUndefined();
    expect(unevenRuns(cycles([...habit(60), ...cut(9, 12.5, 8)]), [], false)).toBeDefined();
  });
});

describe('scatteredStops()', () => {
  const filled = (...stops: number[]): Told[] => stops.map((stopKPa) => ({ runMin: 6, restMin: 100, startKPa: 458, stopKPa }));
  const whole = filled(...Array.from({ length: 300 }, (_, index) => 592 + (index % 5)));

  test('by the tank alone, fillings that end far below the usual stop and at different pressures', () => {
    const condition = scatteredStops(cycles([...whole, ...filled(500, 589, 534, 498)]), [], false);
    expect(condition).toMatchObject({ slot: 'running', cause: 'stops-short', evidence: [{ says: 'Of the last 6 fillings 3 ended at 500, 534 and 498 kPa; the usual stop is 594 kPa, and starts stayed at 458 kPa.' }] });
    expect(scatteredStops(cycles([...whole, ...filled(500, 589, 534)]), [], false)).toBeUndefined();
  });

  test('a switch that was turned stops at one pressure, and one whose setting was logged is learned anew', () => {
    expect(scatteredStops(cycles([...whole, ...filled(530, 528, 531, 529)]), [], false)).toBeUndefined();
    const short = cycles([...whole, ...filled(500, 589, 534, 498)]);
    const set = entrySchema.parse({ id: 's', site: 'a', generator: 'b', kind: 'set-point', startedAt: new Date(short.last.at(-5)![0]).toISOString(), adjusted: { cutOutKPa: 530 } });
    expect(scatteredStops(short, [set], false)).toBeUndefined();
  });

  test('where bursts end so many of the fillings before, they end these', () => {
    const bursts = whole.map((one, index) => (index % 12 === 0 ? { ...one, stopKPa: 500 + (index % 5) * 10 } : one));
    expect(scatteredStops(cycles([...bursts, ...filled(500, 589, 534, 498)]), [], false)).toBeUndefined();
  });

  test('once told it goes on while one of the last six is short, or two of the last twenty', () => {
    const back = cycles([...whole, ...filled(500, 534, 498, 592, 593, 594, 592, 593)]);
    expect(scatteredStops(back, [], true)).toMatchObject({ cause: 'stops-short' });
    expect(scatteredStops(back, [], false)).toBeUndefined();
    expect(scatteredStops(cycles([...whole, ...filled(500, 592, 593, 594, 592, 593)]), [], true)).toBeDefined();
    expect(scatteredStops(cycles([...whole, ...filled(500, 592, 593, 594, 592, 593, 594)]), [], true)).toBeUndefined();
  });
});
