// Issue: time allowed closed = (piping now − low-pressure signal − 20 kPa) over its fall rate; unknown: 30 min.
// Source: the temperature's part is that of sealed piping, 40 psi gauge at 70 °F reads 36.9 psi at 40 °F (ideal gas, sea level).
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { fallFromDemand, holdTestResult, MOST_MIN, timeAllowedClosed, UNKNOWN_FALL_MIN } from '../../../dashboard/views/time-allowed.ts';

const PSI_KPA = 6.894757293168361;

test('timeAllowedClosed() divides what is above the low-pressure signal and the reserve by the fall', () => {
  expect(timeAllowedClosed({ pipingKPa: 240, lowPressureKPa: 180, fallKPaPerHour: 20 })).toEqual({ minutes: 120, because: 'computed' });
  expect(timeAllowedClosed({ pipingKPa: 240, lowPressureKPa: 180, fallKPaPerHour: 70 })).toEqual({ minutes: 34, because: 'computed' });
});

test('timeAllowedClosed() gives 30 min where a number is missing, and none where there is no room', () => {
  for (const missing of ['pipingKPa', 'lowPressureKPa', 'fallKPaPerHour'] as const) expect(timeAllowedClosed({ pipingKPa: 240, lowPressureKPa: 180, fallKPaPerHour: 20, [missing]: null })).toEqual({ minutes: UNKNOWN_FALL_MIN, because: 'unknown' });
  expect(timeAllowedClosed({ pipingKPa: 200, lowPressureKPa: 180, fallKPaPerHour: null })).toEqual({ minutes: 0, because: 'too-low' });
  expect(timeAllowedClosed({ pipingKPa: 150, lowPressureKPa: 180, fallKPaPerHour: 1 })).toEqual({ minutes: 0, because: 'too-low' });
});

test('timeAllowedClosed() never says more than four hours, whatever was typed, and refuses what is no number', () => {
  expect(timeAllowedClosed({ pipingKPa: 240, lowPressureKPa: 180, fallKPaPerHour: 0.1 })).toEqual({ minutes: MOST_MIN, because: 'capped' });
  expect(timeAllowedClosed({ pipingKPa: 240, lowPressureKPa: 180, fallKPaPerHour: 0 })).toEqual({ minutes: MOST_MIN, because: 'capped' });
  expect(() => timeAllowedClosed({ pipingKPa: 240, lowPressureKPa: 180, fallKPaPerHour: -1 })).toThrow(/fallKPaPerHour must be a finite number of at least 0: current value is -1/);
  expect(() => timeAllowedClosed({ pipingKPa: Number.NaN, lowPressureKPa: 180, fallKPaPerHour: 1 })).toThrow(RangeError);
});

test('timeAllowedClosed() leaves at least the reserve above the signal when the time is up', () => {
  const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
  fc.assert(fc.property(number(0, 800), number(0, 400), number(0.01, 200), (pipingKPa, lowPressureKPa, fallKPaPerHour) => {
    const { minutes, because } = timeAllowedClosed({ pipingKPa, lowPressureKPa, fallKPaPerHour });
    if (because !== 'too-low') expect(pipingKPa - (fallKPaPerHour * minutes) / 60).toBeGreaterThanOrEqual(lowPressureKPa + 20 - 1e-6);
    else expect(minutes).toBe(0);
  }));
});

test('fallFromDemand() is the ideal gas: 4 NL/min out of 2,300 L at 20 °C are 11.3 kPa in an hour', () => {
  // By hand: 240 NL × 101.325 kPa × 293.15/273.15 ÷ 2300 L = 11.347.
  expect(fallFromDemand(4, 2300)).toBeCloseTo(11.347, 3);
  expect(fallFromDemand(null, 2300)).toBeNull();
  expect(fallFromDemand(4, null)).toBeNull();
});

test('holdTestResult() takes cooling for what it is: 40 psi at 70 °F and 36.9 psi at 40 °F is no leak', () => {
  const hold = { startKPa: 40 * PSI_KPA, endKPa: 36.9 * PSI_KPA, minutes: 60, pipeLitres: 2300 };
  const set = holdTestResult({ ...hold, startC: (70 - 32) / 1.8, endC: (40 - 32) / 1.8 })!;
  // 36.9 is rounded to 0.1 psi = 0.7 kPa.
  expect(Math.abs(set.fallKPaPerHour)).toBeLessThan(0.5);
  expect(set.temperatureTaken).toBe(true);
  const bare = holdTestResult({ ...hold, startC: null, endC: null })!;
  expect(bare.fallKPaPerHour).toBeCloseTo(3.1 * PSI_KPA, 6);
  // Back again: that fall out of that volume is the demand that makes it.
  expect(fallFromDemand(bare.leakNLPerMin, 2300)).toBeCloseTo(bare.fallKPaPerHour, 6);
});

test('holdTestResult() says nothing about less than five minutes', () => {
  expect(holdTestResult({ startKPa: 240, endKPa: 230, minutes: 4.9, startC: null, endC: null, pipeLitres: null })).toBeUndefined();
});
