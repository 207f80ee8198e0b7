// Source: each test names its own. Sums printed to the last digit; run lengths to the digits of the table they come from.
import { expect, test } from 'vitest';
import { averageRunLength, limitForRunLength } from '../../analysis/change/cusum-run-length.ts';
import { cusum } from '../../analysis/change/cusum.ts';

const closeTo = (actual: readonly number[], expected: readonly number[], within: number): void => {
  expect(actual.length).toBe(expected.length);
  for (const [i, value] of expected.entries()) expect(Math.abs((actual[i] as number) - value), `value ${i}: ${actual[i]} against ${value}`).toBeLessThanOrEqual(within);
};

// Source: NIST/SEMATECH e-Handbook 6.3.2.3; the data as printed in the R package vMask. Sums from memory, and they follow from the data.
test('cusum() meets the worked example of NIST 6.3.2.3, first signal at group 14', () => {
  const x = [324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35];
  // In units of the data, as the handbook has it: k 0.3175, h 4.1959.
  const states = cusum({ slackSd: 0.3175, limitSd: 4.1959 }, x.map((value) => value - 325));
  closeTo(states.map((state) => state.up), [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035], 1e-9);
  closeTo(states.map((state) => state.down), [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0], 1e-9);
  expect(states.findIndex((state) => state.signal === 'up') + 1).toBe(14);
  expect(states[13]).toMatchObject({ signal: 'up', upSteps: 2 }); // so the shift began with group 13
});

// Source: Montgomery & Runger, Applied Statistics and Probability for Engineers, 3rd ed., tables 16-7 and 16-8.
test('cusum() meets table 16-8 of Montgomery & Runger and stays silent', () => {
  const x = [102, 94.8, 98.3, 98.4, 102, 98.5, 99, 97.7, 100, 98.1, 101.3, 98.7, 101.1, 98.4, 97, 96.7, 100.3, 101.4, 97.2, 101];
  const states = cusum({ slackSd: 1, limitSd: 10 }, x.map((value) => value - 99));
  closeTo(states.map((state) => state.up), [2, 0, 0, 0, 2, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1], 1e-9);
  closeTo(states.map((state) => state.down), [0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1, 2.3, 0, 0, 0.8, 0], 1e-9);
  expect(states.every((state) => state.signal === null)).toBe(true);
});

// Source: data of Lucas & Crosier 1982, Technometrics 24:199; the sums follow from the data.
test('cusum() with a head start meets the examples of Lucas & Crosier', () => {
  const shifted = [1, -0.5, 0, -0.8, -0.8, -1.2, 1.5, -0.6, 1, -0.9, 1.2, 0.5, 2.6, 0.7, 1.1, 2, 1.4, 1.9, 0.8];
  const five = cusum({ slackSd: 0.5, limitSd: 5 }, shifted);
  closeTo(five.map((state) => state.up), [0.5, 0, 0, 0, 0, 0, 1, 0, 0.5, 0, 0.7, 0.7, 2.8, 3, 3.6, 5.1, 6, 7.4, 7.7], 1e-9);
  expect(five.findIndex((state) => state.signal !== null) + 1).toBe(16);
  expect(cusum({ slackSd: 0.5, limitSd: 4 }, shifted).findIndex((state) => state.signal !== null) + 1).toBe(16);

  const out = [0.8, 1.9, 1.4, 2, 1.1, 0.7, 2.6];
  expect(cusum({ slackSd: 0.5, limitSd: 5 }, out).findIndex((state) => state.signal !== null) + 1).toBe(7);
  const early = cusum({ slackSd: 0.5, limitSd: 4, headStart: 2 }, out);
  closeTo(early.slice(0, 3).map((state) => state.up), [2.3, 3.7, 4.6], 1e-9);
  expect(early.findIndex((state) => state.signal !== null) + 1).toBe(3);
});

const SHIFTS = [0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4];
// Source: Lucas & Crosier 1982, table 1 (slack 0.5, limit 4, two-sided; with and without head start 2).
// Half of the last printed digit, and a little: theirs is a Markov chain of few states.
test.each([
  ['no head start', 0, [168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71]],
  ['head start 2', 2, [149, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01, 1.59, 1.32, 1.07]],
])('averageRunLength() meets table 1 of Lucas & Crosier, %s', (_, headStart, expected) => {
  for (const [i, printed] of expected.entries()) {
    const digits = printed >= 100 ? 0.5 : printed >= 10 ? 0.05 : 0.005;
    expect(Math.abs(averageRunLength({ slackSd: 0.5, limitSd: 4, headStart, shiftSd: SHIFTS[i] as number, sides: 2 }) - printed)).toBeLessThanOrEqual(digits * 1.2);
  }
});

// Reference: another solution of the same equation with 200 nodes (slack 0.5, limit 5, two-sided).
test('averageRunLength() meets an independent solution at limit 5', () => {
  const expected = [465.444, 139.494, 37.996, 17.048, 10.376, 5.747, 4.009, 3.114, 2.573, 2.013];
  for (const [i, value] of expected.entries()) expect(averageRunLength({ slackSd: 0.5, limitSd: 5, shiftSd: SHIFTS[i] as number, sides: 2 })).toBeCloseTo(value, 3);
});

// Source: Brook & Evans 1972 (117.59; 3.75), SAS/QC (4.1500836225), NIST 6.3.2.3 (336 and 930, rounded, from memory).
test('averageRunLength() meets published one-sided run lengths', () => {
  expect(averageRunLength({ slackSd: 0.5, limitSd: 3, sides: 1 })).toBeCloseTo(117.596, 2);
  expect(averageRunLength({ slackSd: 0.5, limitSd: 3, shiftSd: 1.5, sides: 1 })).toBeCloseTo(3.75, 2);
  expect(averageRunLength({ slackSd: 0.25, limitSd: 8, shiftSd: 2.5, sides: 1 })).toBeCloseTo(4.1500836225, 6); // theirs is itself an approximation
  expect(averageRunLength({ slackSd: 0.5, limitSd: 4, sides: 1 })).toBeCloseTo(335.368, 3);
  expect(averageRunLength({ slackSd: 0.5, limitSd: 5, sides: 1 })).toBeCloseTo(930.887, 3);
});

// Source: Vance 1986, Journal of Quality Technology 18:189 (slack 0, limit 10, one-sided). His first value is 2071.51, ours 2071.57.
test('averageRunLength() meets the table of Vance', () => {
  const table = [[-0.25, 2071.51, 0.07], [-0.125, 400.28, 0.01], [0, 124.66, 0.01], [0.125, 59.3, 0.01], [0.25, 36.71, 0.01], [0.5, 20.37, 0.01], [0.75, 14.06, 0.01], [1, 10.75, 0.01]] as const;
  for (const [shiftSd, expected, within] of table) expect(Math.abs(averageRunLength({ slackSd: 0, limitSd: 10, shiftSd, sides: 1 }) - expected)).toBeLessThan(within);
});

test('limitForRunLength() gives the limits that the published run lengths belong to', () => {
  expect(limitForRunLength({ slackSd: 0.5, runLength: 167.684, sides: 2 })).toBeCloseTo(4, 4);
  expect(limitForRunLength({ slackSd: 0.5, runLength: 465.444, sides: 2 })).toBeCloseTo(5, 4);
  expect(limitForRunLength({ slackSd: 0.5, runLength: 930.887, sides: 1 })).toBeCloseTo(5, 4);
});
