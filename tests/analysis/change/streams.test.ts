// Reference: a batch is a reduce over the same step; held for every detector, through JSON as a restart would have it.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { ewma, startEwma, stepEwma } from '../../../analysis/change/ewma.ts';
import { pageHinkley, startPageHinkley, stepPageHinkley } from '../../../analysis/change/page-hinkley.ts';
import { scoreAgainst, startReference, stepReference } from '../../../analysis/change/self-starting.ts';

const json = <T>(value: T): T => JSON.parse(JSON.stringify(value)) as T;
const values = fc.array(fc.double({ min: -6, max: 6, noNaN: true }).map((x) => x + 0), { maxLength: 60 });

test('ewma() in a batch equals the same values one by one', () => {
  fc.assert(
    fc.property(values, fc.double({ min: 0.01, max: 1, noNaN: true }), (zs, weight) => {
      let state = startEwma({ weight, limitSd: 2 });
      const stream = zs.map((z) => (state = json(stepEwma(state, z))));
      expect(stream).toEqual(json(ewma({ weight, limitSd: 2 }, zs)));
    }),
  );
});

test('pageHinkley() in a batch equals the same values one by one', () => {
  fc.assert(
    fc.property(values, (xs) => {
      const params = { minCount: 5, threshold: 6 };
      let state = startPageHinkley(params);
      const stream = xs.map((x) => (state = json(stepPageHinkley(state, x))));
      expect(stream).toEqual(json(pageHinkley(params, xs)));
    }),
  );
});

test('pageHinkley() sees a fall as it sees a rise, and begins anew after a signal', () => {
  const up = [...Array<number>(100).fill(0), ...Array<number>(50).fill(1)];
  const rises = pageHinkley({ threshold: 10 }, up);
  const falls = pageHinkley({ threshold: 10 }, up.map((value) => -value));
  expect(rises[110]?.signal).toBe('up');
  expect(falls[110]?.signal).toBe('down');
  expect(rises[111]).toMatchObject({ count: 1, signal: null });
});

test('stepReference() learns the mean and variance of all values, whatever their level', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 3, maxLength: 40 }), fc.constantFrom(0, 1e6), (xs, level) => {
      const state = xs.reduce((known, x) => stepReference(known, level + x), startReference());
      const mean = xs.reduce((a, b) => a + b, 0) / xs.length;
      expect(state.mean - level).toBeCloseTo(mean, 8);
      expect(state.squares).toBeCloseTo(xs.reduce((sum, x) => sum + (x - mean) ** 2, 0), 6);
      const z = scoreAgainst(state, level);
      expect(z === undefined || Number.isFinite(z)).toBe(true);
    }),
  );
});

test('startEwma(), stepEwma(), startPageHinkley() and stepPageHinkley() refuse what is no number', () => {
  expect(() => startEwma({ weight: 0, limitSd: 3 })).toThrow(RangeError);
  expect(() => startEwma({ weight: 0.2, limitSd: 0 })).toThrow(RangeError);
  expect(() => stepEwma(startEwma({ weight: 0.2, limitSd: 3 }), NaN)).toThrow(RangeError);
  expect(() => startPageHinkley({ threshold: 0 })).toThrow(RangeError);
  expect(() => startPageHinkley({ alpha: 2 })).toThrow(RangeError);
  expect(() => stepPageHinkley(startPageHinkley(), Infinity)).toThrow(RangeError);
});
