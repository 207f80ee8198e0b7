// Issue: sensor and data faults first, so that a gauge does not become a leak or a set point (design, section 6).
import { describe, expect, test } from 'vitest';
import { chanceOfGauge, impossibleDrop, impossibleNitrogen, jumpedPiping, scaledGauge, turnedDrop } from '../../../analysis/causes/gauge-faults.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { DAY_MS } from '../../../shared/time.ts';
import { entrySchema } from '../../../shared/entry.ts';

const level = (effect: number, se = 0.01): { effect: number; se: number } => ({ effect, se });

describe('scaledGauge()', () => {
  test('names the gauge where demand and delivery fall alike and run time stays', () => {
    expect(scaledGauge(level(-0.7), level(-0.69), level(0.02), 0)).toMatchObject({ slot: 'sensor', cause: 'sensor-fault' });
  });

  test.each([
    ['a leak', level(0.7), level(0.01), level(0.69)],
    ['lost delivery', level(0), level(-0.5), level(0.5)],
    ['half the demand of a mended leak', level(-0.7), level(0), level(-0.7)],
    ['a wander of both', level(-0.15), level(-0.13), level(0)],
  ])('is silent at %s', (_, demand, delivery, duty) => {
    expect(scaledGauge(demand, delivery, duty, 0)).toBeUndefined();
  });
});

describe('chanceOfGauge()', () => {
  const band = (startKPa: number, stopKPa: number): Parameters<typeof chanceOfGauge>[0] => ({ sinceMs: 0, startKPa, stopKPa, wasStartKPa: 550, wasStopKPa: 700, crept: false, scatterKPa: 2 });

  test('psi sent as kPa is the gauge: no switch is turned so far', () => {
    expect(chanceOfGauge(band(-470, -598), undefined, undefined)).toBeGreaterThan(0.9);
  });

  test('a span a tenth too short is the gauge: starts and stops moved by the same share', () => {
    expect(chanceOfGauge(band(-55, -70), level(0), undefined)).toBeGreaterThan(0.8);
  });

  test('a whole atmosphere up while delivery stays is the gauge; with delivery fallen as Q(p) says it is the switch', () => {
    expect(chanceOfGauge(band(101, 101), level(0), undefined)).toBeGreaterThan(0.7);
    expect(chanceOfGauge(band(101, 101), level(-0.15), undefined)).toBeLessThan(0.3);
  });

  test('of rare reports, whose days scatter, starts and stops that moved by about an atmosphere are alike', () => {
    expect(chanceOfGauge(band(101, 91), level(0), level(0, 3))).toBeLessThan(0.2);
    expect(chanceOfGauge({ ...band(101, 91), scatterKPa: 8 }, level(0), level(0, 3))).toBeGreaterThan(0.7);
  });

  test('a band of which one edge moved, or that the pressure after the elements follows, is the switch', () => {
    expect(chanceOfGauge(band(10, 60), undefined, undefined)).toBeLessThan(0.2);
    expect(chanceOfGauge(band(60, 60), level(-0.02), level(50, 3))).toBeLessThan(0.1);
  });
});

describe('impossibleDrop()', () => {
  const rows = (...drops: readonly number[]): DayRow[] => drops.map((value, index) => ({ startMs: index, elementDropKPa: { value, se: 1 } }) as unknown as DayRow);

  test('air does not flow uphill, and elements do not hold back all', () => {
    expect(impossibleDrop(rows(12, 12, -40, -41))!.evidence[0]!.says).toContain('uphill');
    expect(impossibleDrop(rows(12, 12, 400, 410))).toMatchObject({ cause: 'sensor-fault' });
  });

  test('where delivery went too, something really stops the flow', () => {
    const flowing = (drop: number, delivery: number, startMs: number): DayRow => ({ startMs, elementDropKPa: { value: drop, se: 1 }, delivery: { value: delivery, se: 0.1 } }) as unknown as DayRow;
    expect(impossibleDrop([flowing(12, 20, 0), flowing(12, 20, 1), flowing(600, 20, 2), flowing(600, 20, 3)])).toMatchObject({ cause: 'sensor-fault' });
    expect(impossibleDrop([flowing(12, 20, 0), flowing(12, 20, 1), flowing(600, 4, 2), flowing(600, 3, 3)])).toBeUndefined();
  });

  test('one odd day, flooded elements and an offset within what gauges differ by are none', () => {
    expect(impossibleDrop(rows(12, 12, -40, 12))).toBeUndefined();
    expect(impossibleDrop(rows(12, 90, 170, 180))).toBeUndefined();
    expect(impossibleDrop(rows(12, -5, -5))).toBeUndefined();
    // A gauge goes on lying; water and dirt grew to it.
    expect(impossibleDrop(rows(12, 12, 790, 795, 800, 800, 801))).toMatchObject({ cause: 'sensor-fault' });
    expect(impossibleDrop(rows(12, 90, 170, 240, 270, 300, 310))).toBeUndefined();
  });
});

describe('impossibleNitrogen()', () => {
  const rows = (...values: readonly number[]): DayRow[] => values.map((value, index) => ({ startMs: index, nitrogen: { value, se: 0.001 } }) as unknown as DayRow);

  test('gas poorer than air is the analyser; poor nitrogen is not', () => {
    expect(impossibleNitrogen(rows(0.985, 0.143, 0.142))).toMatchObject({ slot: 'sensor', cause: 'sensor-fault' });
    expect(impossibleNitrogen(rows(0.985, 0.94, 0.93))).toBeUndefined();
    expect(impossibleNitrogen(rows(0.985, 0.143, 0.985))).toBeUndefined();
  });
});

describe('jumpedPiping()', () => {
  const rows = (...last: readonly (readonly [kPa: number, demand: number])[]): DayRow[] =>
    [...Array.from({ length: 14 }, () => [240, 2] as const), ...last].map(([kPa, demand], index) => ({ startMs: index, starts: 20, holdingRatio: 1, systemKPa: { value: kPa, se: 1 }, demand: { value: demand, se: 0.05 } }) as unknown as DayRow);

  test('a gauge that jumps while as much is drawn lies; piping that was let down or lost gas does not', () => {
    expect(jumpedPiping(rows([120, 2.1], [121, 2]), [])).toMatchObject({ slot: 'sensor', cause: 'sensor-fault' });
    expect(jumpedPiping(rows([120, 2.1], [121, 2], [121, 2.1], [120, 2], [121, 2]), [])).toMatchObject({ cause: 'sensor-fault' });
    expect(jumpedPiping(rows([190, 2.1], [121, 2], [120, 2]), [])).toBeUndefined();
    expect(jumpedPiping(rows([120, 5], [121, 5]), [])).toBeUndefined();
    expect(jumpedPiping(rows([215, 2], [214, 2]), [])).toBeUndefined();
    expect(jumpedPiping(rows([120, 2], [240, 2]), [])).toBeUndefined();
    // Two weeks shut off, and now it is fed again: it stands where it stood.
    const shut = Array.from({ length: 14 }, () => [110, 2] as const);
    expect(jumpedPiping(rows(...shut, [240, 2], [240, 2]), [])).toBeUndefined();
    expect(jumpedPiping(rows(...shut, [340, 2], [340, 2]), [])).toMatchObject({ cause: 'sensor-fault' });
    // It stays told for weeks, though demand wanders meanwhile.
    const stays = Array.from({ length: 20 }, (_, day) => [120, day < 2 ? 2 : 2 + 0.6 * Math.sin(day)] as const);
    expect(jumpedPiping(rows(...stays), [])).toMatchObject({ evidence: [{ says: 'The piping reads 120 kPa after 240 kPa, and as much is drawn as before: its gauge jumped.' }] });
    expect(jumpedPiping(rows(...stays, [240, 2]), [])).toBeUndefined();
    // A visit set a gauge right that had lied before.
    const visit = entrySchema.parse({ id: 'v', site: 'a', generator: 'b', startedAt: '1970-01-01T00:00:00Z', finishedAt: '1970-01-01T02:00:00Z' });
    expect(jumpedPiping(rows([120, 2.1], [121, 2]), [visit])).toBeUndefined();
    expect(jumpedPiping(rows(...stays), [visit])).toBeUndefined();
    // Unless it reads further off since from what is set.
    expect(jumpedPiping(rows(...stays), [visit], 120)).toBeUndefined();
    expect(jumpedPiping(rows(...stays), [visit], 235)).toMatchObject({ cause: 'sensor-fault' });
    // Piping that stands empty: one kPa is half as much as two, and no jump.
    const empty = rows([1, 2], [1, 2]).map((row, index) => (index < 14 ? { ...row, systemKPa: { value: 3, se: 1 } } : row)) as DayRow[];
    expect(jumpedPiping(empty, [])).toBeUndefined();
  });
});

describe('turnedDrop()', () => {
  const rows = (...values: readonly number[]): DayRow[] => values.map((value, index) => ({ startMs: index, elementDropKPa: { value, se: 0.2 } }) as unknown as DayRow);
  const usual = Array.from({ length: 10 }, (_, index) => 9 + 0.1 * index);

  test('a drop that turned over by its own size is exchanged wires; a gauge that stands off, or came so, is not', () => {
    expect(turnedDrop(rows(...usual, -9.5, -9.8), [])).toMatchObject({ slot: 'sensor', cause: 'sensor-fault' });
    expect(turnedDrop(rows(...usual, -2, -1), [])).toBeUndefined();
    expect(turnedDrop(rows(...usual, -5.5, -5.2), [])).toBeUndefined();
    expect(turnedDrop(rows(...usual, -30, -30), [])).toBeUndefined();
    expect(turnedDrop(rows(...usual, -9.5, 9), [])).toBeUndefined();
    expect(turnedDrop(rows(-9, -9.2, -9.1, -9), [])).toBeUndefined();
    // A drop of a few kPa is no more than what the two gauges may differ by.
    expect(turnedDrop(rows(...usual.map((value) => value - 4), -5, -5), [])).toBeUndefined();
  });

  test('new elements hold back less, and gauges that differ may then read the wrong way round', () => {
    const changed = (replaced: readonly string[]): ReturnType<typeof entrySchema.parse> => entrySchema.parse({ id: 'v', site: 'a', generator: 'b', startedAt: new Date(9.4 * DAY_MS).toISOString(), finishedAt: new Date(9.5 * DAY_MS).toISOString(), replaced });
    const byDay = rows(...usual, -9.5, -9.8).map((row, index) => ({ ...row, startMs: index * DAY_MS, endMs: (index + 1) * DAY_MS }) as DayRow);
    expect(turnedDrop(byDay, [changed(['coalescing-element'])])).toBeUndefined();
    expect(turnedDrop(byDay, [changed(['intake-element'])])).toMatchObject({ cause: 'sensor-fault' });
  });
});
