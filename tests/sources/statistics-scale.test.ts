// Source: reference output and manual of R (mad), manual of robustbase (Qn, Sn).
import { expect, test } from 'vitest';
import { normalQuantile } from '../../analysis/change/normal.ts';
import { mad, MAD_CONSTANT, qn, QN_CONSTANT, quantile, sn } from '../../analysis/change/robust.ts';

test('MAD_CONSTANT and QN_CONSTANT follow from the normal distribution', () => {
  expect(1 / normalQuantile(0.75)).toBeCloseTo(MAD_CONSTANT, 14);
  expect(1 / (Math.SQRT2 * normalQuantile(5 / 8))).toBeCloseTo(QN_CONSTANT, 5);
});
// Source: R's mad.Rd: mad(1:9) = 2.9652, and a wild last value changes nothing.
test('mad() meets the manual of R', () => {
  expect(mad([1, 2, 3, 4, 5, 6, 7, 8, 9])).toBeCloseTo(2.965204, 6);
  expect(mad([1, 2, 3, 4, 5, 6, 7, 8, 100], undefined, 1)).toBe(2);
});
// Source: robustbase Qn.Rd and Sn.Rd.
test('qn() and sn() meet the manual of robustbase, an infinite value included', () => {
  expect(qn([1, 2, 3, 4, 10, Infinity])).toBeCloseTo(4.075672524, 9);
  expect(sn([1, 2, 3, 4, 10, Infinity])).toBeCloseTo(3.5527554, 7);
  expect(sn([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 101, 102, 103, 104, 105, 106, 107, 108, 109], 1)).toBe(9);
});
// Source: Hyndman & Fan 1996, American Statistician 50:361, type 7 as R has it: quantile(1:10, c(.1, .25, .5, .9)); from memory, and it follows from the rule.
test('quantile() is of type 7', () => {
  const ten = [10, 9, 8, 7, 6, 5, 4, 3, 2, 1];
  expect([0.1, 0.25, 0.5, 0.9].map((p) => quantile(ten, p))).toEqual([1.9, 3.25, 5.5, 9.1]);
});
