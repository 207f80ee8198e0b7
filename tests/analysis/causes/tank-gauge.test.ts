// Issue: sensor faults first: reads from vacuum, a wrong unit, wires exchanged (design, section 6: one channel moves alone).
import { describe, expect, test } from 'vitest';
import { absoluteFromTheFirst, emptiesAtStarts, exchangedWithPiping, neverReachesStart } from '../../../analysis/causes/tank-gauge.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { entrySchema } from '../../../shared/entry.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { generatorsOf, parseRegistry } from '../../../shared/registry.ts';
import { DAY_MS } from '../../../shared/time.ts';

const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', generators: [{ id: 'b', cutInKPa: 510, cutOutKPa: 620 }] }] }));
if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
const registered = generatorsOf(parsed.registry)[0]!;

const row = (day: number, cutInKPa: number | null, cutOutKPa: number | null, more: Partial<DayRow> = {}): DayRow => ({ generator: 'a/b' as GeneratorKey, day: `${day}`, startMs: day * DAY_MS, endMs: (day + 1) * DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 8640, restS: 77_760, starts: 12, dutyRatio: 0.1, unit: 'NL/min', demand: null, delivery: null, longestRunS: 900, longestRestS: 9000, cutInKPa, cutOutKPa, nitrogen: null, dischargeKPa: null, feedKPa: null, elementDropKPa: null, systemKPa: null, roomC: 20, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: {}, ...more });
const days = (count: number, of: (day: number) => DayRow): DayRow[] => Array.from({ length: count }, (_, day) => of(day));

describe('absoluteFromTheFirst()', () => {
  const all = (offKPa: number, stopOffKPa = offKPa): DayRow[] => days(6, (day) => row(day, 510 + offKPa + (day % 3), 620 + stopOffKPa));

  test('an atmosphere above the registry at both ends is a gauge that reads from vacuum, and hides nothing', () => {
    expect(absoluteFromTheFirst(all(100), registered, [])).toMatchObject({ cause: 'sensor-fault', slot: 'sensor', aside: true, onset: { likelyMs: 0 } });
    for (const [startKPa, stopKPa] of [[0, 0], [60, 60], [150, 150], [100, 60]] as const) expect(absoluteFromTheFirst(all(startKPa, stopKPa), registered, [])).toBeUndefined();
  });

  test('not where it came later, nor where somebody set the band', () => {
    expect(absoluteFromTheFirst(days(20, (day) => (day < 10 ? row(day, 510, 620) : row(day, 610, 720))), registered, [])).toBeUndefined();
    expect(absoluteFromTheFirst(all(100), registered, [entrySchema.parse({ id: 's', site: 'a', generator: 'b', kind: 'set-point', startedAt: '1970-01-01T00:00:00Z' })])).toBeUndefined();
  });
});

describe('emptiesAtStarts()', () => {
  test('a tank that seems to empty in each rest while starts go on has another gauge on its channel', () => {
    const swapped = (starts: number): DayRow[] => days(20, (day) => (day < 17 ? row(day, 510, 620) : row(day, 0.3, 700, { starts })));
    expect(emptiesAtStarts(swapped(12))).toMatchObject({ cause: 'sensor-fault', onset: { likelyMs: 17 * DAY_MS } });
    // A tank that really empties is filled for hours.
    expect(emptiesAtStarts(swapped(2))).toBeUndefined();
    expect(emptiesAtStarts(days(20, (day) => row(day, 510, 620)))).toBeUndefined();
  });
});

describe('neverReachesStart()', () => {
  const spans = (mostKPa: number, starts: number) => [0, 1].map((day) => ({ startMs: day * DAY_MS, starts, spans: { 'tank-pressure': [mostKPa - 20, mostKPa, 700, 60] as [number, number, number, number] } }));

  test('a tank far below its start whose compressor goes on starting and stopping is sent in another unit', () => {
    // 620 kPa sent as 90: pounds per square inch, taken for kPa.
    expect(neverReachesStart(spans(90, 12), days(5, (day) => row(day, null, null)), registered)).toMatchObject([{ cause: 'sensor-fault' }]);
    expect(neverReachesStart(spans(600, 12), days(5, (day) => row(day, null, null)), registered)).toEqual([]);
  });

  test('not where it hardly starts, or runs most of the time: then the tank may really be low', () => {
    expect(neverReachesStart(spans(90, 1), days(5, (day) => row(day, null, null)), registered)).toEqual([]);
    expect(neverReachesStart(spans(90, 12), days(5, (day) => row(day, null, null, { dutyRatio: 0.8 })), registered)).toEqual([]);
  });

  test('nor where it starts many times as often as it did: a motor that trips empties its tank', () => {
    const before = days(20, (day) => row(day, 510, 620));
    expect(neverReachesStart(spans(90, 13), before, registered)).toMatchObject([{ cause: 'sensor-fault' }]);
    expect(neverReachesStart(spans(90, 80), before, registered)).toEqual([]);
  });

  test('where starts are not told, a duty ratio that stays what it was tells that it is cycled', () => {
    const byDuty = (now: number): DayRow[] => days(20, (day) => row(day, null, null, { source: 'duty', starts: 0, dutyRatio: day < 18 ? 0.06 : now }));
    expect(neverReachesStart(spans(90, 0), byDuty(0.065), registered)).toMatchObject([{ cause: 'sensor-fault', evidence: [{ says: 'For two days the tank has read 90 kPa at most, and its compressor, which starts at 510 kPa, runs as much of the time as before: the unit that is sent is wrong, or its gauge.' }] }]);
    for (const now of [0, 0.02, 0.2]) expect(neverReachesStart(spans(90, 0), byDuty(now), registered)).toEqual([]);
  });
});

describe('exchangedWithPiping()', () => {
  const piped = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', cutInKPa: 510, cutOutKPa: 620, risers: [{ id: 'north', setKPa: 220 }, { id: 'south', setKPa: 240 }] }] }] }));
  if ('problems' in piped) throw new Error(JSON.stringify(piped.problems));
  const two = generatorsOf(piped.registry)[0]!;
  type Span = [number, number, number, number];
  const both = (tank: readonly [number, number], north: readonly [number, number], count = 2) => Array.from({ length: count }, (_, day) => ({ startMs: day * DAY_MS, starts: 0, spans: { 'tank-pressure': [...tank, 50, 0] as Span, 'system-pressure.south': [237, 241, 50, 0] as Span, 'system-pressure.north': [...north, 110, 0] as Span } }));

  test('a tank that stands where its piping is set, and a piping that goes up and down as the tank does, have each other’s gauge', () => {
    const [said] = exchangedWithPiping(both([219, 221], [463, 622]), [], two);
    expect(said).toMatchObject({ slot: 'sensor', cause: 'sensor-fault', ofTank: true });
    expect(said!.evidence[0]!.says).toBe('For two days the tank has read 219 to 221 kPa, which is where its piping is set, and the piping 463 to 622 kPa, which is where the tank starts and stops: their gauges are exchanged.');
  });

  test('not after one day, nor where only one of the two reads so, nor where piping and tank stand near each other', () => {
    expect(exchangedWithPiping(both([219, 221], [463, 622], 1), [], two)).toEqual([]);
    // Piping that something else feeds at the tank's pressure, a tank that has run down to its piping's, and both as they should be.
    expect(exchangedWithPiping(both([508, 622], [463, 622]), [], two)).toEqual([]);
    expect(exchangedWithPiping(both([219, 221], [217, 223]), [], two)).toEqual([]);
    expect(exchangedWithPiping(both([508, 622], [217, 223]), [], two)).toEqual([]);
    const low = parseRegistry(JSON.stringify({ sites: [{ id: 'a', generators: [{ id: 'b', cutInKPa: 245, cutOutKPa: 300, risers: [{ id: 'north', setKPa: 220 }] }] }] }));
    if ('problems' in low) throw new Error(JSON.stringify(low.problems));
    expect(exchangedWithPiping(both([219, 221], [244, 301]), [], generatorsOf(low.registry)[0]!)).toEqual([]);
  });
});
