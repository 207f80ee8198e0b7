// Source: each test names its own.
import { expect, test } from 'vitest';
import { ewma, ewmaLimit, ewmaRunLength } from '../../analysis/change/ewma.ts';
import { pageHinkley, type PageHinkleyState } from '../../analysis/change/page-hinkley.ts';
import { DRIFTING } from './data/drifting.ts';

// Source: NIST/SEMATECH e-Handbook 6.3.2.4; numbers from memory, and they follow from the data. Printed to two digits, each rounded.
test('ewma() meets the worked example of NIST 6.3.2.4', () => {
  const x = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
  const printed = [50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99];
  const sd = 2.0539;
  const states = ewma({ weight: 0.3, limitSd: 3 }, x.map((value) => (value - 50) / sd));
  for (const [i, value] of printed.entries()) expect(Math.abs(50 + sd * (states[i]?.average ?? NaN) - value)).toBeLessThan(0.0065); // a digit further than half of the last: one value is 51.2346 rounded twice
  const limit = ewmaLimit({ weight: 0.3, limitSd: 3 });
  expect(limit / 3).toBeCloseTo(0.42008, 5);
  expect(50 + sd * limit).toBeCloseTo(52.5884, 4);
  expect(50 - sd * limit).toBeCloseTo(47.4116, 4);
  expect(states.every((state) => state.signal === null)).toBe(true);
});

const SHIFTS = [0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4];
// Source: Lucas & Saccucci 1990, Technometrics 32:1, table 3, two-sided. Half of the last printed digit.
test.each([
  [0.5, 3.071, [500, 255, 88.8, 35.9, 17.5, 6.53, 3.63, 2.5, 1.93, 1.34]],
  [0.03, 2.437, [500, 76.7, 29.3, 17.6, 12.6, 8.07, 5.99, 4.8, 4.03, 3.11]],
])('ewmaRunLength() meets table 3 of Lucas & Saccucci, weight %f', (weight, limitSd, expected) => {
  for (const [i, printed] of expected.entries()) {
    const half = printed >= 100 ? 0.5 : printed >= 10 ? 0.05 : 0.0051;
    expect(Math.abs(ewmaRunLength({ weight, limitSd, shiftSd: SHIFTS[i] as number }) - printed)).toBeLessThanOrEqual(half);
  }
});

// Source: the manual of SAS/QC (11.154267016); Crowder 1987, Technometrics 29:401.
test('ewmaRunLength() meets SAS/QC and Crowder', () => {
  expect(ewmaRunLength({ weight: 0.25, limitSd: 3, shiftSd: 1 })).toBeCloseTo(11.154267016, 8);
  for (const [weight, shiftSd, expected] of [[0.5, 0, 26.45], [0.5, 1, 4.91], [0.5, 2, 1.94], [0.05, 0, 127.53], [0.05, 1, 8.38], [0.05, 2, 4.04]] as const) {
    expect(Math.abs(ewmaRunLength({ weight, limitSd: 2, shiftSd }) - expected)).toBeLessThanOrEqual(0.006); // one of theirs is rounded up
  }
  // Computed elsewhere from the same equation.
  expect(ewmaRunLength({ weight: 0.2, limitSd: 2.86 })).toBeCloseTo(371.1, 1);
  expect(ewmaRunLength({ weight: 0.1, limitSd: 2.814 })).toBeCloseTo(499.6, 1);
  expect(ewmaRunLength({ weight: 0.3, limitSd: 3 })).toBeCloseTo(465.55, 2);
});

const firstSignal = (states: readonly PageHinkleyState[]): number => states.findIndex((state) => state.signal !== null);
// Source: documented example of the river library: "Change detected at index 1006, input value: 5".
test('pageHinkley() meets the documented example of river', () => {
  const values = Array.from(DRIFTING, Number);
  const states = pageHinkley({}, values);
  expect(firstSignal(states)).toBe(1006);
  expect(values[1006]).toBe(5);
  expect(states[1006]?.up).toBeCloseTo(50.8033, 4);
});
// Reference: the same rule, worked by another program.
test('pageHinkley() meets two series without dice', () => {
  expect(firstSignal(pageHinkley({ threshold: 10 }, [...Array<number>(100).fill(0), ...Array<number>(50).fill(1)]))).toBe(110);
  expect(firstSignal(pageHinkley({ threshold: 20 }, [...Array<number>(50).fill(5), ...Array<number>(50).fill(7)]))).toBe(61);
});
