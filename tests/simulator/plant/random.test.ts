// Reference: moments of the uniform and the normal distribution; five standard errors of 200,000 draws.
import { expect, test } from 'vitest';
import { normal, startDice, uniform } from '../../../simulator/plant/random.ts';

const DRAWS = 200_000;
test('uniform() and normal() have the moments of their distributions', () => {
  const dice = startDice(11, 'moments');
  let sum = 0;
  let squares = 0;
  for (let index = 0; index < DRAWS; index += 1) {
    const one = uniform(dice);
    expect(one >= 0 && one < 1).toBe(true);
    sum += one;
  }
  expect(Math.abs(sum / DRAWS - 0.5)).toBeLessThan((5 * Math.sqrt(1 / 12)) / Math.sqrt(DRAWS));
  sum = 0;
  for (let index = 0; index < DRAWS; index += 1) {
    const one = normal(dice);
    sum += one;
    squares += one * one;
  }
  expect(Math.abs(sum / DRAWS)).toBeLessThan(5 / Math.sqrt(DRAWS));
  expect(Math.abs(squares / DRAWS - 1)).toBeLessThan((5 * Math.SQRT2) / Math.sqrt(DRAWS));
});

test('startDice() gives each name and seed its own run of numbers, and the same again', () => {
  const first = (seed: number, name: string): number[] => {
    const dice = startDice(seed, name);
    return Array.from({ length: 5 }, () => uniform(dice));
  };
  expect(first(1, 'a')).toEqual(first(1, 'a'));
  expect(first(1, 'a')).not.toEqual(first(1, 'b'));
  expect(first(1, 'a')).not.toEqual(first(2, 'a'));
});
