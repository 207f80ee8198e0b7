// Source: each test names its own.
import { expect, test } from 'vitest';
import { isotonic } from '../../analysis/change/isotonic.ts';
import { fitLine, predictLine } from '../../analysis/change/line-fit.ts';
import { studentQuantile } from '../../analysis/change/student.ts';
import { CARS_DISTANCE, CARS_SPEED } from './data/cars.ts';
import { NORRIS } from './data/norris.ts';

// Source: NIST StRD "Norris", certified values. Twelve digits: the rest is the price of holding decimals in doubles.
test('fitLine() meets the certified values of NIST Norris', () => {
  const fit = fitLine(NORRIS.map(([, x]) => x), NORRIS.map(([y]) => y));
  expect(fit?.intercept).toBeCloseTo(-0.262323073774029, 12);
  expect(fit?.slope).toBeCloseTo(1.00211681802045, 13);
  expect(fit?.interceptSe).toBeCloseTo(0.232818234301152, 12);
  expect(fit?.slopeSe).toBeCloseTo(0.429796848199937e-3, 14);
  expect(fit?.residualSd).toBeCloseTo(0.884796396144373, 11);
  expect(fit?.rSquared).toBeCloseTo(0.999993745883712, 14);
  expect(((fit?.slope ?? 0) / (fit?.slopeSe ?? 1)) ** 2 / 5436385.54079785).toBeCloseTo(1, 10);
});

// Source: R data set cars; the fit and the interval at 21 as widely printed.
test('predictLine() meets the prediction intervals of R for cars', () => {
  const fit = fitLine(CARS_SPEED, CARS_DISTANCE);
  if (fit === undefined) throw new Error('no fit');
  expect(fit.intercept).toBeCloseTo(-17.579095, 6);
  expect(fit.slope).toBeCloseTo(3.932409, 6);
  expect(fit.residualSd).toBeCloseTo(15.379587, 6);
  expect(studentQuantile(0.975, 48)).toBeCloseTo(2.010635, 6);
  for (const [speed, value, low, high] of [[12, 29.6098, -1.7495, 60.9691], [19, 57.1367, 25.7618, 88.5116], [21, 65.0015, 33.4226, 96.5804], [24, 76.7987, 44.7525, 108.845]] as const) {
    const predicted = predictLine(fit, speed);
    expect(predicted.value).toBeCloseTo(value, 4);
    expect(predicted.low).toBeCloseTo(low, 4);
    expect(predicted.high).toBeCloseTo(high, 4);
  }
  expect(predictLine(fit, 21).bandLow).toBeCloseTo(58.5974, 4);
  expect(predictLine(fit, 21).bandHigh).toBeCloseTo(71.4056, 4);
});

// Source: reference output of R's isoreg.
test('isotonic() meets the reference output of R', () => {
  expect(isotonic([1, 0, 4, 3, 3, 5, 4, 2, 0])).toEqual([0.5, 0.5, 3, 3, 3, 3, 3, 3, 3]);
});
