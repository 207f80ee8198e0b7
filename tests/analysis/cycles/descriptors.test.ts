// Reference: an ideal tank, second by second, written for these tests alone (ideal-tank.ts).
import { expect, test } from 'vitest';
import { fold, idealTank, setupOf } from './ideal-tank.ts';

const steady = { hours: 51, demand: () => 3, delivery: () => 25, noiseKPa: 0.3 };

test('stepDescriptors() finds run, rest, starts, demand and delivery from run state and tank pressure', () => {
  const world = idealTank(steady);
  const { days, cycles } = fold(world.rows, setupOf({ tankLitres: 100 }));
  expect(days.map((day) => day.day)).toEqual(['2026-03-02', '2026-03-03']);
  expect(cycles).toHaveLength(world.starts - 1);
  for (const day of days) {
    expect(day.source).toBe('running');
    expect(day.unit).toBe('NL/min');
    expect(day.coveredS).toBeCloseTo(86_400, 6);
    // Noise of 0.3 kPa on some 30 rests of 130 kPa leaves well under 1 %.
    expect(day.demand!.value).toBeGreaterThan(2.97);
    expect(day.demand!.value).toBeLessThan(3.03);
    expect(day.delivery!.value).toBeGreaterThan(24.75);
    expect(day.delivery!.value).toBeLessThan(25.25);
    expect(day.dutyRatio! * day.delivery!.value).toBeCloseTo(day.demand!.value, 0);
  }
});
