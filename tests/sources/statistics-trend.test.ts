// Source: each test names its own.
import { expect, test } from 'vitest';
import { mannKendall, theilSen } from '../../analysis/change/trend.ts';
import { NILE } from './data/nile.ts';
import { NORRIS } from './data/norris.ts';
import { LAKE_HURON_FT, NEW_HAVEN_F } from './data/yearly.ts';

const SULFATE_T = [89.6, 89.8, 90.1, 90.3, 90.6, 90.8, 91.1, 91.3, 91.6, 91.8, 92.1, 92.6, 93.1, 93.6, 94.1, 94.6, 95.1, 95.6, 95.8, 96.1, 96.3, 96.6, 96.8];
const SULFATE = [480, 450, 490, 520, 485, 510, 510, 530, 510, 560, 560, 540, 590, 550, 600, 700, 570, 610, 650, 620, 830, 720, 590];

// Source: "Mann-Kendall by hand", College of the Holy Cross ("Hence S = -18 + 0 + 72 = 54"); Z, p and slope follow from the data.
test('mannKendall() meets the hand-worked example of Holy Cross', () => {
  const values = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11, 17.3, 15.9, 19, 18.3, 20.1, 21.7];
  const test = mannKendall(values);
  expect(test?.s).toBe(54);
  expect(test?.variance).toBeCloseTo(332.6667, 4);
  expect(test?.z).toBeCloseTo(2.9058, 4);
  expect(test?.p).toBeCloseTo(0.003663, 6);
  expect(theilSen(values.map((_, i) => i), values)?.slope).toBeCloseTo(0.566667, 6);
});

// Source: US EPA QA/G-9S, page 109: S 22, Var 155.3333, Z 1.685, with groups of 4 and 2 equal values.
test('mannKendall() counts ties as the EPA does', () => {
  const test = mannKendall([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]);
  expect(test?.s).toBe(22);
  expect(test?.variance).toBeCloseTo(155.3333, 4);
  expect(test?.z).toBeCloseTo(1.685, 3);
  expect(test?.p).toBeCloseTo(0.091998, 6);
});

// Source: US EPA 530/R-09-007 (2009), example 17-6, page 17-33, with the digits of R's EnvStats.
test('mannKendall() and theilSen() meet the sulfate example of the EPA', () => {
  const test = mannKendall(SULFATE, SULFATE_T);
  expect(test?.s).toBe(194);
  expect(test?.variance).toBe(1428);
  expect(test?.z).toBeCloseTo(5.107322, 6);
  expect((test?.p ?? 0) / 3.267574e-7).toBeCloseTo(1, 6);
  expect(test?.tau).toBeCloseTo(0.7667984, 7);
  expect(test?.tauB).toBeCloseTo(0.7744897, 7);
  const fit = theilSen(SULFATE_T, SULFATE);
  expect(fit?.slope).toBeCloseTo(26.66667, 5);
  expect(fit?.slopeLow).toBeCloseTo(20, 5);
  expect(fit?.slopeHigh).toBeCloseTo(35.71182, 5);
  expect(fit?.intercept).toBeCloseTo(-1909.333, 3);
});

// Source: data of US EPA 530/R-09-007 (2009), example 17-7; results follow from the data.
test('mannKendall() and theilSen() meet the sodium example', () => {
  const t = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3];
  const y = [56, 53, 51, 55, 52, 60, 62, 59, 61, 63];
  expect(mannKendall(y, t)).toMatchObject({ s: 25, variance: 125 });
  expect(mannKendall(y, t)?.z).toBeCloseTo(2.146625, 6);
  expect(mannKendall(y, t)?.p).toBeCloseTo(0.031823, 6);
  const fit = theilSen(t, y);
  expect(fit?.slope).toBeCloseTo(1.333333, 6);
  expect(fit?.slopeLow).toBeCloseTo(0.39921, 5);
  expect(fit?.slopeHigh).toBeCloseTo(2.33333, 5);
});

// Source: Sen 1968, JASA 63:1379, the example: slope 4, 93 % interval 26/7 to 35/8, intercept 4.
test('theilSen() meets the example of Sen', () => {
  const fit = theilSen([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], { confidence: 0.93, ranks: 'whole' });
  expect(fit).toMatchObject({ slope: 4, intercept: 4 });
  expect(fit?.slopeLow).toBeCloseTo(26 / 7, 12);
  expect(fit?.slopeHigh).toBeCloseTo(35 / 8, 12);
});

// Source: the test suite of SciPy's theilslopes.
test('theilSen() of 0, 1, 1 has slope and intercept 0.5', () => {
  expect(theilSen([0, 1, 2], [0, 1, 1])).toMatchObject({ slope: 0.5, intercept: 0.5 });
});

// Source: the flow of the Nile 1871-1970 (R data set Nile); results follow from the data by other programs.
test('mannKendall() and theilSen() meet the Nile', () => {
  const test = mannKendall(NILE);
  expect(test?.s).toBe(-1387);
  expect(test?.variance).toBeCloseTo(112728.33, 2);
  expect(test?.z).toBeCloseTo(-4.128067, 6);
  expect((test?.p ?? 0) / 3.6583e-5).toBeCloseTo(1, 4);
  // R 4.2.2 cor.test(method = "kendall"): tau-b; its z leaves the continuity correction out.
  expect(test?.tauB).toBeCloseTo(-0.2807413, 7);
  const fit = theilSen(NILE.map((_, i) => i), NILE);
  expect(fit?.slope).toBeCloseTo(-2.6, 6);
  expect(fit?.slopeLow).toBeCloseTo(-3.62793, 5);
  expect(Math.abs((fit?.slopeHigh ?? 0) - -1.42843)).toBeLessThan(2e-5); // the other program's normal quantile has fewer digits
});

// Source: NIST StRD Norris; slope and interval computed by another program, which takes the nearest whole rank for the interval.
test('theilSen() meets Norris', () => {
  const fit = theilSen(NORRIS.map(([, x]) => x), NORRIS.map(([y]) => y));
  expect(fit?.slope).toBeCloseTo(1.0021968, 7);
  expect(Math.abs((fit?.slopeLow ?? 0) - 1.0011153)).toBeLessThan(1e-5);
  expect(fit?.slopeHigh).toBeCloseTo(1.0030534, 5);
});

// Reference: R 4.2.2, cor.test(method = "kendall"): tau 0.3565947 with z 3.9842, and -0.3543667 with z -5.1629.
test('mannKendall() meets R on New Haven temperatures and Lake Huron levels', () => {
  for (const [values, tauB, z] of [[NEW_HAVEN_F, 0.3565947, 3.9842], [LAKE_HURON_FT, -0.3543667, -5.1629]] as const) {
    const test = mannKendall(values);
    expect(test?.tauB).toBeCloseTo(tauB, 7);
    // R's z is without the continuity correction.
    expect((test?.s ?? 0) / Math.sqrt(test?.variance ?? 1)).toBeCloseTo(z, 4);
  }
});
