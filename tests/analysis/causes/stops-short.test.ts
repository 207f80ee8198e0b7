// Issue: a trip, a pressure switch or a timer that ends runs short is known within the hour by cycles, in days by counts (design, section 6).
import { describe, expect, test } from 'vitest';
import { rememberCycle, startRecentCycles, type RecentCycles } from '../../../analysis/causes/recent-cycles.ts';
import { shorterRuns, stopsShort } from '../../../analysis/causes/stops-short.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { entrySchema } from '../../../shared/entry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { DAY_MS, HOUR_MS } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 5, 1);

/** Cycles each hour of which start, stop and, where it isn't 50 min, the rest are given. */
function cycles(bands: readonly (readonly [startKPa: number, stopKPa: number, restS?: number])[]): RecentCycles {
  const recent = startRecentCycles();
  for (const [index, [startKPa, stopKPa, restS = 3000]] of bands.entries()) rememberCycle(recent, { generator: 'a/b' as GeneratorKey, startMs: START_MS + index * HOUR_MS, runS: 6 * (stopKPa - startKPa) / 2, restS, source: 'running', cut: false, fallKPaPerMin: 2, riseKPaPerMin: 20, startKPa, stopKPa });
  return recent;
}
const usual = Array.from({ length: 200 }, (_, index) => [520 + (index % 3), 630 - (index % 4)] as const);

describe('stopsShort()', () => {
  test('is silent in good order and after one run that was cut, as by the mains', () => {
    expect(stopsShort(cycles(usual), [], null, false)).toEqual([]);
    expect(stopsShort(cycles([...usual, [521, 580], [560, 630], [520, 629]]), [], null, false)).toEqual([]);
  });

  test('names a trip that cools and goes on before the tank has fallen, by its third run', () => {
    expect(stopsShort(cycles([...usual, [521, 591], [560, 628], [594, 629]]), [], null, false)[0]).toMatchObject({ slot: 'running', cause: 'stops-short', evidence: [{ says: 'A run stopped at 591 kPa, below the usual 629 kPa, and the compressor went on from 560 kPa and 594 kPa; it usually waits until 521 kPa.' }] });
  });

  test('names a trip as soon as the compressor goes on minutes later, unless somebody works on it, the stop was the usual one, or all rests are short', () => {
    const tripped = cycles([...usual, [521, 591, 720]]);
    expect(stopsShort(tripped, [], 566, false)[0]).toMatchObject({ slot: 'running', cause: 'stops-short', evidence: [{ says: 'A run stopped at 591 kPa, below the usual 629 kPa, and the compressor went on 12 min later from 566 kPa; it usually waits until 521 kPa.' }] });
    const entry = entrySchema.parse({ id: 's', site: 'a', generator: 'b', startedAt: new Date(START_MS + 199 * HOUR_MS).toISOString(), finishedAt: new Date(START_MS + 200 * HOUR_MS).toISOString() });
    expect(stopsShort(tripped, [entry], 566, false)).toEqual([]);
    // The tank was at its usual start again, or fell much faster than it does: much was drawn.
    expect(stopsShort(cycles([...usual, [521, 591, 180]]), [], 550, false)).toEqual([]);
    expect(stopsShort(tripped, [], 525, false)).toEqual([]);
    expect(stopsShort(cycles([...usual, [521, 620, 720]]), [], 566, false)).toEqual([]);
    // Ten less are told where stops keep within a few, and not where they wander by as much.
    expect(stopsShort(cycles([...usual, [521, 617, 720]]), [], 566, false)[0]).toMatchObject({ cause: 'stops-short' });
    expect(stopsShort(cycles([...usual.map(([startKPa], index) => [startKPa, 629 + 7 * Math.sin(5 * index)] as const), [521, 617, 720]]), [], 566, false)).toEqual([]);
    expect(stopsShort(cycles([...usual, [521, 591, 60]]), [], 566, false)).toEqual([]);
    expect(stopsShort(cycles([...usual.map(([startKPa, stopKPa]) => [startKPa, stopKPa, 900] as const), [521, 591, 720]]), [], 566, false)).toEqual([]);
  });

  test('where starts are read by the clock none is early by its pressure, and two short stops in a row still tell', () => {
    expect(stopsShort(cycles([...usual, [521, 591, 720]]), [], 566, true)).toEqual([]);
    expect(stopsShort(cycles([...usual, [521, 591], [560, 628], [594, 629]]), [], null, true)).toEqual([]);
    expect(stopsShort(cycles([...usual, [521, 590], [521, 590], [521, 590]]), [], null, true)).toHaveLength(1);
  });

  test('is silent while the tank is drawn from so much that its stops are seen too low', () => {
    expect(stopsShort(cycles([...usual, [521, 590, 120], [523, 590, 120], [521, 589, 120]]), [], null, false)).toEqual([]);
    // So it is while a purge goes on, or shortly after.
    const short = cycles([...usual, [521, 590], [521, 590], [521, 590]]);
    const purge = (untilH: number) => entrySchema.parse({ id: 'p', site: 'a', generator: 'b', kind: 'purge', startedAt: new Date(START_MS + 150 * HOUR_MS).toISOString(), finishedAt: new Date(START_MS + untilH * HOUR_MS).toISOString() });
    expect(stopsShort(short, [purge(201)], null, false)).toEqual([]);
    expect(stopsShort(short, [purge(190)], null, false)).toHaveLength(1);
    // At the pace of usual rests it is no draw.
    expect(stopsShort(cycles([...usual, [521, 590, 1500], [535, 590, 1500], [535, 589, 1500]]), [], null, false)).toHaveLength(1);
  });

  test('names a compressor whose cut runs let the tank sink, and goes on naming it when all remembered cycles are short', () => {
    const sinking = Array.from({ length: 70 }, (_, index) => [520 - 2 * index, 575 - 2 * index] as const);
    expect(stopsShort(cycles([...usual, ...sinking.slice(0, 2)]), [], null, false)[0]).toMatchObject({ cause: 'stops-short' });
    expect(stopsShort(cycles([...usual, ...sinking]), [], null, false)[0]).toMatchObject({ cause: 'stops-short' });
  });

  test('is silent where the gauge stands still: no run raises it', () => {
    expect(stopsShort(cycles([...usual, [521, 555], [555, 555.2], [555, 555]]), [], null, false)).toEqual([]);
    expect(stopsShort(cycles([...usual, [521, 575], [575, 630], [590, 629]]), [], null, false)).toHaveLength(1);
  });

  test('is silent where starts and stops moved by the same ratio: that is the scale of the gauge', () => {
    expect(stopsShort(cycles([...usual, [260, 314], [260, 315], [261, 315]]), [], null, false)).toEqual([]);
    // In a tenth of its unit, whatever the cycle before it was.
    expect(stopsShort(cycles([...usual, [560, 629], [51.9, 62.9], [52, 62.8], [52, 62.9]]), [], null, false)).toEqual([]);
  });

  test('is silent where both ends moved and the band is as wide: that is a set point', () => {
    expect(stopsShort(cycles([...usual, [470, 580], [471, 580], [470, 579]]), [], null, false)).toEqual([]);
  });

  test('after a logged set point, what was usual before is none', () => {
    const lower = Array.from({ length: 40 }, () => [520, 590] as const);
    const entry = entrySchema.parse({ id: 's', site: 'a', generator: 'b', kind: 'set-point', startedAt: new Date(START_MS + 199.5 * HOUR_MS).toISOString() });
    expect(stopsShort(cycles([...usual, ...lower]), [], null, false)).toHaveLength(1);
    expect(stopsShort(cycles([...usual, ...lower]), [entry], null, false)).toEqual([]);
  });
});

function row(day: number, starts: number, dutyRatio: number): DayRow {
  const startMs = START_MS + day * DAY_MS;
  return { generator: 'a/b' as GeneratorKey, day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, source: 'counters', coveredS: 86_400, runS: 86_400 * dutyRatio, restS: 86_400 * (1 - dutyRatio), starts, dutyRatio, unit: 'relative', demand: null, delivery: null, longestRunS: 0, longestRestS: 0, cutInKPa: null, cutOutKPa: null, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: null, systemKPa: null, roomC: null, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: { 'run-time': 24, starts: 24 } };
}

describe('shorterRuns()', () => {
  const before = Array.from({ length: 20 }, (_, day) => row(day, 10 + (day % 2), 0.06 + 0.002 * (day % 3)));

  test('names runs that are half as long and twice as many at the same run time', () => {
    expect(shorterRuns([...before, row(20, 20, 0.062), row(21, 21, 0.06)], 0)).toMatchObject({ slot: 'running', cause: 'stops-short' });
  });

  test('is silent on one such day, on more drawn (more starts as long), on less made (longer runs), and on days before a service', () => {
    expect(shorterRuns([...before, row(20, 10, 0.06), row(21, 21, 0.06)], 0)).toBeUndefined();
    expect(shorterRuns([...before, row(20, 20, 0.12), row(21, 21, 0.125)], 0)).toBeUndefined();
    expect(shorterRuns([...before, row(20, 10, 0.1), row(21, 10, 0.1)], 0)).toBeUndefined();
    expect(shorterRuns([...before, row(20, 20, 0.062), row(21, 21, 0.06)], START_MS + 15 * DAY_MS)).toBeUndefined();
  });

  test('takes days together where the run time of a few runs goes up and down by one of them, and holds while they stay shorter', () => {
    // A day of seven and a day of twelve minutes: 30 % below and 25 % above the usual one, together as ever.
    const scattered = [...before, row(20, 20, 0.044), row(21, 21, 0.076)];
    expect(shorterRuns(scattered, 0)).toMatchObject({ cause: 'stops-short' });
    expect(shorterRuns([...scattered, row(22, 12, 0.05), row(23, 13, 0.055)], 0)).toMatchObject({ onset: { likelyMs: START_MS + 20 * DAY_MS } });
    expect(shorterRuns([...scattered, row(22, 10, 0.06), row(23, 11, 0.062)], 0)).toBeUndefined();
  });

  test('where it starts once a day or less, stretches of three starts are judged', () => {
    const rarely = Array.from({ length: 40 }, (_, day) => row(day, day % 4 === 3 ? 0 : 1, day % 4 === 3 ? 0 : 0.0056));
    const cut = [2, 1, 2, 1].map((starts, index) => row(40 + index, starts, 0.0028 * starts));
    expect(shorterRuns([...rarely, ...cut], 0)).toMatchObject({ cause: 'stops-short', evidence: [{ says: expect.stringContaining('Runs last 4.0 min instead of 8.1 min, and there are 2.0 times as many') }] });
    expect(shorterRuns([...rarely, ...cut.slice(0, 2)], 0)).toBeUndefined();
  });
});
