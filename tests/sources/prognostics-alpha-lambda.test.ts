// Source: NASA progpy, tests/test_metrics.py, for the measures of Saxena and others 2010 (IJPHM 1(1)): a profile of times of the
// end foreseen at t = 10 .. 1, samples a = j, b = j - 1, c = (j - 4.5) * 2 + 4.5 for j = i .. i + 19 and t = 10 - i.
import { expect, test } from 'vitest';
import { alphaBounds, cumulativeRelativeAccuracy, meetsAlphaLambda, type PredictionAt, prognosticHorizon } from '../../analysis/scoring/alpha-lambda.ts';

const EVENTS = { a: (j: number) => j, b: (j: number) => j - 1, c: (j: number) => (j - 4.5) * 2 + 4.5 };
type Event = keyof typeof EVENTS;
const predictionAt = (event: Event, i: number): PredictionAt => ({ at: 10 - i, samples: Array.from({ length: 20 }, (_, index) => EVENTS[event](i + index)) });
const profile = (event: Event): PredictionAt[] => Array.from({ length: 10 }, (_, i) => predictionAt(event, i));
const TRUTH = { a: 9, b: 8, c: 18 };

test('alphaBounds() meets the published bounds at t = 8 and t = 5', () => {
  expect(alphaBounds(9, 8, 0.5)).toEqual([8.5, 9.5]);
  expect(alphaBounds(18, 8, 0.5)).toEqual([13, 23]);
  expect(alphaBounds(9, 5, 0.5)).toEqual([7, 11]);
  expect(alphaBounds(8, 5, 0.5)).toEqual([6.5, 9.5]);
  expect(alphaBounds(18, 5, 0.5)).toEqual([11.5, 24.5]);
});

test('meetsAlphaLambda() meets the published answers at t = 8 and t = 5', () => {
  const answers = (i: number) => (Object.keys(EVENTS) as Event[]).map((event) => meetsAlphaLambda(predictionAt(event, i), TRUTH[event], 0.5, 0.05));
  expect(answers(2)).toEqual([true, false, true]);
  expect(answers(5)).toEqual([true, true, true]);
});

test('meetsAlphaLambda() has the published shares at t = 5: 15 % of a and 30 % of c', () => {
  expect([0.15, 0.151].map((beta) => meetsAlphaLambda(predictionAt('a', 5), 9, 0.5, beta))).toEqual([true, false]);
  expect([0.3, 0.301].map((beta) => meetsAlphaLambda(predictionAt('c', 5), 18, 0.5, beta))).toEqual([true, false]);
});

test('prognosticHorizon() meets the published horizons for |error of the mean| < 0.6', () => {
  const horizons = (truth: Record<Event, number>) => (Object.keys(EVENTS) as Event[]).map((event) => prognosticHorizon(profile(event), truth[event], 0.6));
  expect(horizons(TRUTH)).toEqual([undefined, undefined, 10]);
  expect(horizons({ a: 10, b: 10, c: 18 })).toEqual([1, 2, 10]);
});

test('cumulativeRelativeAccuracy() meets the published values to the last digit but two', () => {
  expect(cumulativeRelativeAccuracy(profile('a'), 9)).toBeCloseTo(0.4444444444444445, 14);
  expect(cumulativeRelativeAccuracy(profile('b'), 8)).toBeCloseTo(0.375, 14);
  expect(cumulativeRelativeAccuracy(profile('c'), 18)).toBeCloseTo(0.6388888888888888, 14);
});
