// World: seeded normal values; prices counted, not computed.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { falseSignalsPerValue, limitForBaseline } from '../../../analysis/change/baseline-price.ts';
import { averageRunLength, limitForRunLength } from '../../../analysis/change/cusum-run-length.ts';
import { cusum, startCusum, stepCusum } from '../../../analysis/change/cusum.ts';
import { winsorizedMean } from '../../../analysis/change/robust.ts';
import { scoreAgainst, startReference, stepReference } from '../../../analysis/change/self-starting.ts';
import { normals, seeded } from './world.ts';

/** Values per signal, begun anew after each. */
function countedRunLength(next: () => number, limitSd: number, steps: number): number {
  const fresh = startCusum({ slackSd: 0.5, limitSd });
  let state = fresh;
  let signals = 0;
  for (let i = 0; i < steps; i++) {
    state = stepCusum(state, next());
    if (state.signal !== null) {
      signals++;
      state = fresh;
    }
  }
  return steps / signals;
}

// Source: Lucas & Crosier 1982: 168 (limit 4) and 465 (limit 5). Within 4 sd of the count's own error.
test.each([[4, 168], [5, 465]])('stepCusum() at limit %i signals falsely once in %i values', (limitSd, published) => {
  const steps = 400_000;
  const counted = countedRunLength(normals(seeded(20 + limitSd)), limitSd, steps);
  expect(Math.abs(counted / published - 1)).toBeLessThan(4 / Math.sqrt(steps / published));
});

test('cusum() in a batch equals the same values one by one, through JSON', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ min: -6, max: 6, noNaN: true }), { maxLength: 60 }), fc.double({ min: 0, max: 2, noNaN: true }), (zs, headStart) => {
      const params = { slackSd: 0.5, limitSd: 4, headStart };
      const batch = cusum(params, zs);
      let state = startCusum(params);
      for (const [i, z] of zs.entries()) {
        state = JSON.parse(JSON.stringify(stepCusum(state, z))) as typeof state;
        expect(state).toEqual(batch[i] && JSON.parse(JSON.stringify(batch[i])));
      }
    }),
  );
});

test('stepCusum() counts the steps since the sum was last 0, which is where the shift began', () => {
  const zs = [...Array<number>(20).fill(-0.2), ...Array<number>(6).fill(1.5)];
  const states = cusum({ slackSd: 0.5, limitSd: 4 }, zs);
  const at = states.findIndex((state) => state.signal === 'up');
  expect(at).toBe(24);
  expect(at + 1 - (states[at]?.upSteps ?? 0)).toBe(20);
});

test('startCusum() and stepCusum() refuse what is no number', () => {
  expect(() => startCusum({ slackSd: 0.5, limitSd: 0 })).toThrow(RangeError);
  expect(() => startCusum({ slackSd: -1, limitSd: 5 })).toThrow(RangeError);
  expect(() => stepCusum(startCusum({ slackSd: 0.5, limitSd: 5 }), NaN)).toThrow(RangeError);
});

test('limitForRunLength() is the inverse of averageRunLength()', () => {
  for (const sides of [1, 2] as const) {
    for (const slackSd of [0.1, 0.25, 0.5, 1]) {
      for (const runLength of [50, 1000, 29_220, 1e6]) {
        const limitSd = limitForRunLength({ slackSd, runLength, sides });
        expect(averageRunLength({ slackSd, limitSd, sides }) / runLength).toBeCloseTo(1, 6);
      }
    }
  }
});

test('limitForRunLength() grows with slack taken away and with the price', () => {
  fc.assert(
    fc.property(fc.double({ min: 0.2, max: 1.2, noNaN: true }), fc.double({ min: 20, max: 1e5, noNaN: true }), (slackSd, runLength) => {
      const limit = limitForRunLength({ slackSd, runLength, sides: 2 });
      expect(limitForRunLength({ slackSd, runLength: runLength * 2, sides: 2 })).toBeGreaterThan(limit);
      expect(limitForRunLength({ slackSd: slackSd + 0.1, runLength, sides: 2 })).toBeLessThan(limit);
    }),
    { numRuns: 25 },
  );
});

// World: 1,500 baselines a row, each followed by a year of values that changed in nothing. 25 %: the closed form's own error and the count's.
test.each([[14, 5], [28, 5], [60, 7.5]])('falseSignalsPerValue() prices a baseline of %i values at limit %d', (baselineCount, limitSd) => {
  const normal = normals(seeded(baselineCount));
  let signals = 0;
  const baselines = 1500;
  for (let k = 0; k < baselines; k++) {
    const known = winsorizedMean(Array.from({ length: baselineCount }, normal));
    if (known === undefined) throw new Error('no baseline');
    signals += 365 / countedRunLength(() => (normal() - known.mean) / known.scale, limitSd, 365);
  }
  const counted = signals / (baselines * 365);
  const priced = falseSignalsPerValue({ slackSd: 0.5, limitSd, baselineCount, sides: 2 });
  expect(Math.abs(counted / priced - 1)).toBeLessThan(0.25);
});

test('limitForBaseline() meets limitForRunLength() when the baseline is long, and says so when no limit helps', () => {
  const long = limitForBaseline({ slackSd: 0.5, baselineCount: 1e7, sides: 2, runLength: 5844 });
  expect(Math.abs((long ?? 0) - limitForRunLength({ slackSd: 0.5, runLength: 5844, sides: 2 }))).toBeLessThan(0.05);
  expect(limitForBaseline({ slackSd: 0.5, baselineCount: 14, sides: 2, runLength: 29_220 })).toBeUndefined();
});

// Reference: Hawkins 1987 proves it; counted here. The price of known mean and sd is kept although nothing was known.
test('scoreAgainst() keeps the price of a CUSUM with a reference that is learned on the way', () => {
  const normal = normals(seeded(5));
  let signals = 0;
  let steps = 0;
  for (let k = 0; k < 300; k++) {
    let reference = startReference();
    let state = startCusum({ slackSd: 0.5, limitSd: 4 });
    for (let i = 0; i < 500; i++) {
      const value = 3 + 0.01 * normal();
      const z = scoreAgainst(reference, value);
      reference = stepReference(reference, value);
      if (z === undefined) continue;
      steps++;
      state = stepCusum(state, z);
      if (state.signal !== null) {
        signals++;
        state = startCusum({ slackSd: 0.5, limitSd: 4 });
      }
    }
  }
  expect(Math.abs(steps / signals / 168 - 1)).toBeLessThan(4 / Math.sqrt(steps / 168));
});

test('scoreAgainst() says nothing before two values, and gives a sound score for the rarest', () => {
  expect(scoreAgainst(startReference(), 1)).toBeUndefined();
  expect(scoreAgainst(stepReference(stepReference(startReference(), 1), 1), 1)).toBeUndefined();
  let reference = startReference();
  for (let i = 0; i < 500; i++) reference = stepReference(reference, i % 7);
  expect(scoreAgainst(reference, 1e9)).toBeGreaterThan(30);
  expect(scoreAgainst(reference, 1e9)).toBeLessThan(Infinity);
  expect(scoreAgainst(reference, -1e9)).toBe(-(scoreAgainst(reference, 2 * reference.mean + 1e9) ?? 0));
});
