// World: seeded normal days. The tolerance of the false-signal count is three times its expectation plus two, for 60 generator-years.
import { describe, expect, test } from 'vitest';
import { baselineFrom, LearnedValues } from '../../../analysis/causes/baseline.ts';
import type { SeriesPoint } from '../../../analysis/causes/day-series.ts';
import { BY_DAY, findShift, type ShiftRule } from '../../../analysis/causes/find-shift.ts';
import { shapeOf } from '../../../analysis/causes/shape.ts';
import { DAY_MS } from '../../../shared/time.ts';
import { normals, seeded } from '../change/world.ts';

const RULE: ShiftRule = { watchFromMs: 14 * DAY_MS, floor: 0.02, learnDays: 60, learnBefore: false, smallest: 0.08, cadence: BY_DAY, falseFindingsPerYear: 0.05, wanders: false, creeps: 0 };

function days(seed: number, count: number, scatter: number, change: (day: number) => number): SeriesPoint[] {
  const normal = normals(seeded(seed));
  return Array.from({ length: count }, (_, day) => ({ startMs: day * DAY_MS, endMs: (day + 1) * DAY_MS, value: scatter * normal() + change(day), se: 0 }));
}

/** Day index of the first signal when the series is seen as it grows, or undefined. */
function firstSignal(points: readonly SeriesPoint[]): number | undefined {
  const baseline = baselineFrom(points.slice(0, 14), 0.02);
  for (let count = 15; count <= points.length; count += 1) if (findShift(points.slice(0, count), baseline, RULE).shift !== undefined) return count - 1;
  return undefined;
}

test('LearnedValues.add() one by one gives what baselineFrom() gives at once', () => {
  const points = days(3, 60, 0.04, (day) => 0.001 * day);
  const learned = new LearnedValues(points.slice(0, 14));
  for (const point of points.slice(14)) {
    learned.add(point);
    expect(learned.baseline(0.001)).toEqual(baselineFrom(points.slice(0, learned.count), 0.001));
  }
  expect(learned.count).toBe(60);
});

test('days of one run and of two, by turns, scatter by half of what they lie within and no more', () => {
  const points = days(1, 60, 0, (day) => (day % 2) * Math.LN2);
  // Widened as for 60 days; their standard deviation is half of ln 2.
  expect(baselineFrom(points, 0.02).scatter).toBeCloseTo((Math.LN2 / 2) * 1.2, 3);
  expect(baselineFrom(days(1, 60, 0.2, () => 0), 0.02).scatter).toBeGreaterThan(0.2);
});

describe('findShift()', () => {
  test('stays silent on healthy days: at most 2 false signals in 60 generator-years of one series', () => {
    let falseSignals = 0;
    for (let seed = 1; seed <= 60; seed += 1) if (firstSignal(days(seed, 379, 0.03, () => 0)) !== undefined) falseSignals += 1;
    expect(falseSignals).toBeLessThanOrEqual(2);
  });

  test('a baseline that hardly wanders does not learn what creeps: a loss of 15 % over two months is found, and in 60 generator-years no other', () => {
    const lost = (day: number): number => -0.15 * Math.min(1, Math.max(0, (day - 14) / 60));
    const delivery = { ...RULE, creeps: -1 } as const;
    const found = (seed: number, rule: typeof delivery | typeof RULE, change: (day: number) => number): boolean => {
      const points = days(seed, 120, 0.015, change);
      return findShift(points, baselineFrom(points.slice(0, 14), 0.025), { ...rule, floor: 0.025 }).shift?.direction === 'down';
    };
    const seeds = Array.from({ length: 10 }, (_, index) => 500 + index);
    expect(seeds.filter((seed) => found(seed, delivery, lost))).toHaveLength(10);
    expect(seeds.filter((seed) => found(seed, RULE, lost)).length).toBeLessThan(5);
    expect(Array.from({ length: 183 }, (_, index) => 600 + index).filter((seed) => found(seed, delivery, () => 0))).toEqual([]);
    // A tenth in four months is too slow to stand off the first days: week stands below week.
    const slowly = (day: number): number => (-0.1 * day) / 120;
    const many = Array.from({ length: 40 }, (_, index) => 500 + index);
    expect(many.filter((seed) => found(seed, delivery, slowly)).length).toBeGreaterThanOrEqual(12);
    expect(many.filter((seed) => found(seed, RULE, slowly)).length).toBeLessThan(7);
    // What gets better is learned.
    expect(seeds.filter((seed) => found(seed, delivery, (day) => -lost(day)))).toEqual([]);
  });

  test('finds in four weeks what is smaller than the scatter of a day, and not in 60 generator-years where nothing is', () => {
    // Starts that come in whole numbers: days scatter by a fifth, and half of their neighbours by turns.
    const counted = (seed: number, change: number): SeriesPoint[] => days(seed, 160, 0.06, (day) => (day % 2 === 0 ? 0.15 : -0.15) + (day >= 80 ? change : 0));
    for (let seed = 200; seed < 210; seed += 1) {
      const points = counted(seed, 0.28);
      const shift = findShift(points, baselineFrom(points.slice(0, 14), 0.02), RULE).shift;
      expect(shift).toMatchObject({ direction: 'up' });
      expect(shift!.onsetIndex).toBeGreaterThanOrEqual(60);
      expect(findShift(points.slice(0, 80), baselineFrom(points.slice(0, 14), 0.02), RULE).shift).toBeUndefined();
    }
    let falseSignals = 0;
    for (let seed = 300; seed < 440; seed += 1) {
      const points = counted(seed, 0);
      if (findShift(points, baselineFrom(points.slice(0, 14), 0.02), RULE).shift !== undefined) falseSignals += 1;
    }
    expect(falseSignals).toBeLessThanOrEqual(2);
  });

  test('finds in two weeks what is more than that and still within the slack', () => {
    // Some days have one run and some two, whatever is drawn.
    const risesBy = (seed: number, count: number): boolean => {
      const points = days(seed, count, 0.5, (day) => (day >= 80 ? 1.05 : 0));
      return findShift(points, baselineFrom(points.slice(0, 14), 0.02), RULE).shift?.direction === 'up';
    };
    const seeds = Array.from({ length: 20 }, (_, index) => 700 + index);
    expect(seeds.filter((seed) => risesBy(seed, 98)).length).toBeGreaterThanOrEqual(14);
    expect(seeds.filter((seed) => risesBy(seed, 80))).toEqual([]);
  });

  test('a shift that has gone back is not told again by the weeks that held it', () => {
    const points = days(6, 140, 0.06, (day) => (day % 2 === 0 ? 0.15 : -0.15) + (day >= 80 && day < 105 ? 0.9 : 0));
    const at = (count: number): unknown => findShift(points.slice(0, count), baselineFrom(points.slice(0, 14), 0.02), RULE).shift;
    expect(at(100)).toBeDefined();
    for (let count = 110; count <= 140; count += 5) expect(at(count)).toBeUndefined();
  });

  test('a slow change that goes back is over when two weeks are back', () => {
    const points = days(5, 260, 0.06, (day) => (day % 2 === 0 ? 0.15 : -0.15) + (day >= 80 && day < 160 ? 0.28 : 0));
    const at = (count: number): unknown => findShift(points.slice(0, count), baselineFrom(points.slice(0, 14), 0.02), RULE).shift;
    expect(at(150)).toBeDefined();
    expect(at(200)).toBeUndefined();
  });

  test('finds a step of +20 % within four days and says its size', () => {
    for (let seed = 100; seed < 120; seed += 1) {
      const points = days(seed, 100, 0.03, (day) => (day >= 60 ? Math.log(1.2) : 0));
      const signal = firstSignal(points);
      expect(signal).toBeGreaterThanOrEqual(60);
      expect(signal).toBeLessThanOrEqual(64);
      const shift = findShift(points, baselineFrom(points.slice(0, 14), 0.02), RULE).shift!;
      expect(shift.direction).toBe('up');
      // Mean of three days of scatter 0.03 against a baseline of 14: 3 standard errors.
      expect(Math.abs(shift.effect - Math.log(1.2))).toBeLessThan(0.075);
    }
  });

  test('three values that each are hardly known are no change, however far off they are', () => {
    const off = days(5, 60, 0.03, (day) => (day >= 57 ? 0.4 : 0));
    expect(firstSignal(off)).toBe(58);
    expect(firstSignal(off.map((point, day) => (day >= 57 ? { ...point, se: 0.2 } : point)))).toBeUndefined();
  });

  test('errors that are stated three times too large hide nothing that their days show, and one far larger still says that a day is hardly known', () => {
    const stated = (se: (day: number) => number): boolean => {
      const points = days(9, 86, 0.1, (day) => (day >= 80 ? -0.5 : 0)).map((point, day) => ({ ...point, se: se(day) }));
      return findShift(points, baselineFrom(points.slice(0, 14), 0.02), { ...RULE, wanders: true }).shift?.direction === 'down';
    };
    expect(stated((day) => (day < 80 ? 0.2 : 0.35))).toBe(true);
    expect(stated((day) => (day < 80 ? 0.02 : 0.8))).toBe(false);
  });

  test('does not open on one wild day', () => {
    const points = days(5, 60, 0.03, (day) => (day === 40 ? 2 : 0));
    expect(firstSignal(points)).toBeUndefined();
  });

  test('the price in false findings is what a small step costs: the higher it is, the more of them are found', () => {
    const found = (falseFindingsPerYear: number): number => {
      let count = 0;
      for (let seed = 200; seed < 240; seed += 1) {
        const points = days(seed, 80, 0.03, (day) => (day >= 70 ? 0.1 : 0));
        if (findShift(points, baselineFrom(points.slice(0, 14), 0.02), { ...RULE, smallest: 0.05, falseFindingsPerYear }).shift !== undefined) count += 1;
      }
      return count;
    };
    const [strict, usual, lenient] = [found(0.0005), found(0.05), found(5)] as const;
    expect(strict).toBeLessThan(usual);
    expect(usual).toBeLessThan(lenient);
  });

  test('what was learned up to a visit stays learned: what went on through it is told on, from where it began', () => {
    const afterVisit = (seed: number, change: number, learnBefore: boolean) => {
      const points = days(seed, 70, 0.04, (day) => (day >= 48 ? change : 0));
      return findShift(points, baselineFrom(points.slice(0, 14), 0.02), { ...RULE, watchFromMs: 60 * DAY_MS, learnBefore, wanders: true }).shift;
    };
    const told = (learnBefore: boolean, change: number): number => Array.from({ length: 30 }, (_, index) => afterVisit(500 + index, change, learnBefore)).filter((shift) => shift !== undefined).length;
    expect(told(true, -0.2)).toBe(30);
    expect(told(true, -0.2)).toBeGreaterThan(told(false, -0.2));
    expect(told(true, 0)).toBe(0);
    const onsets = Array.from({ length: 30 }, (_, index) => afterVisit(500 + index, -0.2, true)!.onsetIndex).sort((a, b) => a - b);
    expect(onsets[3]).toBeGreaterThanOrEqual(45);
    expect(onsets[26]).toBeLessThanOrEqual(51);
    // What the visit mended is over with it.
    const mended = days(7, 70, 0.04, (day) => (day >= 48 && day < 60 ? -0.2 : 0));
    expect(findShift(mended, baselineFrom(mended.slice(0, 14), 0.02), { ...RULE, watchFromMs: 60 * DAY_MS, learnBefore: true }).shift).toBeUndefined();
    // Nothing is told of days before it.
    expect(findShift(mended.slice(0, 59), baselineFrom(mended.slice(0, 14), 0.02), { ...RULE, watchFromMs: 60 * DAY_MS, learnBefore: true }).shift).toBeUndefined();
  });

  test('ends a shift when three days are back', () => {
    const points = days(6, 100, 0.02, (day) => (day >= 40 && day < 60 ? 0.3 : 0));
    const baseline = baselineFrom(points.slice(0, 14), 0.02);
    expect(findShift(points.slice(0, 60), baseline, RULE).shift).toBeDefined();
    expect(findShift(points.slice(0, 64), baseline, RULE).shift).toBeUndefined();
  });
});

describe('shapeOf()', () => {
  test('tells a step from a ramp and brackets the onset', () => {
    let stepsRight = 0;
    let rampsRight = 0;
    let onsetsIn = 0;
    for (let seed = 200; seed < 240; seed += 1) {
      for (const ramp of [false, true]) {
        const points = days(seed, 80, 0.03, (day) => (day < 50 ? 0 : ramp ? 0.01 * (day - 49) : 0.3));
        const baseline = baselineFrom(points.slice(0, 14), 0.02);
        const { stepChance, onset } = shapeOf(points, baseline, findShift(points, baseline, RULE).shift!);
        if (ramp && stepChance! < 0.3) rampsRight += 1;
        if (!ramp && stepChance! > 0.7) stepsRight += 1;
        if (onset.earliestMs! <= 50 * DAY_MS && onset.latestMs! >= 50 * DAY_MS) onsetsIn += 1;
      }
    }
    expect(stepsRight).toBeGreaterThanOrEqual(38);
    expect(rampsRight).toBeGreaterThanOrEqual(36);
    expect(onsetsIn).toBeGreaterThanOrEqual(56);
  });
});
