// Issue: a band that moves is told, by both ends or by its stop alone (design, section 6, `set-point-changed`: step or creep).
import { describe, expect, test } from 'vitest';
import { bandShift, setPointChanged, SURE_DAYS } from '../../../analysis/causes/set-point.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import type { Entry } from '../../../shared/entry.ts';
import { seesOf } from '../../../shared/distinguish.ts';
import { generatorsOf, parseRegistry } from '../../../shared/registry.ts';
import { DAY_MS } from '../../../shared/time.ts';

const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100 }] }] }));
if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
const known = { sees: seesOf(new Set(['running', 'tank-pressure', 'feed-pressure'])), registered: generatorsOf(parsed.registry)[0]! };
const rows = (count: number, startOf: (day: number) => number, stopOf: (day: number) => number): DayRow[] => Array.from({ length: count }, (_, day) => ({ startMs: day * DAY_MS, endMs: (day + 1) * DAY_MS, coveredS: 86_400, holdingRatio: 1, dutyRatio: 0.1, runS: 8640, longestRunS: 600, starts: 15, cutInKPa: startOf(day) + (day % 2), cutOutKPa: stopOf(day) + (day % 3), heard: {} }) as unknown as DayRow);
const said = (days: readonly DayRow[]): string[] => setPointChanged(bandShift(days, 0, 0, SURE_DAYS), [], 0.8, { ...known, rows: days }).map((one) => `${one.cause}: ${one.evidence[0]!.says}`);

describe('setPointChanged()', () => {
  test('says both ends', () => {
    expect(said(rows(40, (day) => (day < 30 ? 550 : 580), (day) => (day < 30 ? 700 : 730)))[0]).toContain('Starts moved by 30 kPa and stops by 30 kPa');
  });

  test('of a tank that is read less than twice in a run it takes more: which ends are seen goes with how runs and reports keep step', () => {
    const read = (perDay: number, kPa: number): readonly string[] => said(rows(40, (day) => (day < 30 ? 550 : 550 + kPa), (day) => (day < 30 ? 700 : 700 + kPa)).map((row) => ({ ...row, heard: { 'tank-pressure': perDay } })));
    expect(read(1440, 25)).toHaveLength(1);
    expect(read(96, 25)).toEqual([]);
    expect(read(96, 40)).toHaveLength(1);
  });

  test('says a stop that went up alone, which no gauge does', () => {
    expect(said(rows(40, () => 550, (day) => (day < 30 ? 700 : 736)))).toEqual(['set-point-changed: Stops moved by 36 kPa while starts stayed, and nobody logged a new set point: the switch\'s difference has changed.']);
  });

  test('a stop that comes nearer to where the registry has it is chance where stops are seen by chance', () => {
    const registry = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, cutInKPa: 550, cutOutKPa: 700 }] }] }));
    if ('problems' in registry) throw new Error(JSON.stringify(registry.problems));
    const found = (wasKPa: number, isKPa: number, perDay: number): number => {
      const days = rows(40, () => 550, (day) => (day < 30 ? wasKPa : isKPa)).map((row) => ({ ...row, source: 'running' as const, heard: { 'tank-pressure': perDay } }));
      return setPointChanged(bandShift(days, 0, 0, SURE_DAYS), [], 0.8, { ...known, registered: generatorsOf(registry.registry)[0]!, rows: days }).length;
    };
    expect([found(660, 698, 96), found(700, 738, 96)]).toEqual([0, 1]);
    expect(found(660, 698, 1440)).toBe(1);
  });

  test('says a stop that crept down, and leaves one that fell at once to its runs', () => {
    expect(said(rows(60, () => 550, (day) => (day < 30 ? 700 : Math.max(655, 700 - 3 * (day - 30)))))).toHaveLength(1);
    expect(said(rows(40, () => 550, (day) => (day < 30 ? 700 : 655)))).toEqual([]);
  });

  test('a tank that is read more rarely since a gateway was exchanged shows lower stops, and no switch was turned', () => {
    const read = (perDay: (day: number) => number, stopOf: (day: number) => number): DayRow[] => rows(60, () => 550, stopOf).map((row, day) => ({ ...row, heard: { 'tank-pressure': perDay(day) } }));
    const crept = (day: number): number => 700 - Math.max(0, Math.min(30, 3 * (day - 30)));
    expect(said(read((day) => (day < 30 ? 720 : 96), crept))).toEqual([]);
    expect(said(read(() => 720, crept))).toHaveLength(1);
    // One day of which half was lost is no other gateway.
    expect(said(read((day) => (day === 45 ? 90 : 720), crept))).toHaveLength(1);
  });

  test('days that wandered long before make no stop creep', () => {
    const wanders = (day: number): number => 700 - (day < 150 && day % 9 === 0 ? 11 : 0) - (day < 160 ? 0 : 24);
    expect(said(rows(170, () => 550, wanders))).toEqual([]);
  });

  test('a stop that comes short alone is said where neither a run state nor starts tell of runs; a start that went by less than a third of it stayed', () => {
    const short = (start: (day: number) => number): DayRow[] => rows(40, start, (day) => (day < 30 ? 640 : 583)).map((row) => ({ ...row, source: 'duty' }));
    expect(said(short((day) => (day < 30 ? 540 : 527)))).toEqual(['stops-short: Stops moved by -57 kPa while starts stayed, and nobody logged a new set point: it stops before the tank is full, or its switch was turned.']);
    expect(said(rows(40, (day) => (day < 30 ? 540 : 527), (day) => (day < 30 ? 640 : 583)))).toEqual([]);
    // Read in step with its runs, a tank shows starts too high where it shows stops too low.
    expect(said(short((day) => (day < 30 ? 540 : day % 2 === 0 ? 515 : 565)))).toEqual([]);
    expect(said(short((day) => (day < 30 ? 540 : 510)))[0]).toContain('Starts moved by -30 kPa and stops by -57 kPa');
  });

  test('a gauge that showed the registered band until a visit, and an atmosphere more since, was not set right by it', () => {
    const registry = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, cutInKPa: 550, cutOutKPa: 700 }] }] }));
    if ('problems' in registry) throw new Error(JSON.stringify(registry.problems));
    const visit = { id: 'v', kind: 'service', startedAt: new Date(29.5 * DAY_MS).toISOString(), finishedAt: new Date(29.6 * DAY_MS).toISOString(), replaced: [], adjusted: {} } as unknown as Entry;
    const saidAt = (from: number, to: number): string[] => {
      const days = rows(40, (day) => (day < 30 ? from : to), (day) => (day < 30 ? from + 150 : to + 150));
      return setPointChanged(bandShift(days, 0, 0, SURE_DAYS), [visit], 0.8, { ...known, registered: generatorsOf(registry.registry)[0]!, rows: days }).map((one) => one.cause);
    };
    expect(saidAt(550, 651)).toEqual(['sensor-fault']);
    expect(saidAt(651, 550)).toEqual([]);
    expect(saidAt(600, 651)).toEqual([]);
  });

  test('is silent at a stop that wanders by less', () => {
    expect(said(rows(40, () => 550, (day) => (day < 30 ? 700 : 716)))).toEqual([]);
  });
});
