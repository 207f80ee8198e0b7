// Source: the signatures' table of the design, section 6: each cause's own row must be read back as that cause.
import { describe, expect, test } from 'vitest';
import { SIGNATURES, type SignatureSeries, type SignedCause } from '../../../analysis/causes/signatures.ts';
import { directionChances, type Movement, weighCauses } from '../../../analysis/causes/weigh-causes.ts';

const DELIVERY: readonly SignedCause[] = ['element-loading', 'element-missing', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side', 'membrane-decline', 'bleed-left-open'];
const move = (series: SignatureSeries, sizes: number): Movement => ({ series, effect: sizes, se: 0.2, smallest: 1 });
const seen = (movements: readonly Movement[], stepChance: number | null, afterVisit: boolean) => ({ movements, stepChance, afterVisit, amounts: null, dropPerRunHour: null });

describe('weighCauses()', () => {
  test('names element loading when the drop rises slowly and delivery hardly moves', () => {
    const { causes } = weighCauses(DELIVERY, seen([move('delivery', -0.6), move('elementDrop', 3), move('discharge', 2), move('feed', -0.5), move('nitrogen', 0)], 0.05, false));
    expect(causes[0]!.cause).toBe('element-loading');
    expect(causes[0]!.probability).toBeGreaterThan(0.85);
  });

  test('names the membrane when nitrogen falls at unchanged drop and feed pressure', () => {
    const { causes } = weighCauses(DELIVERY, seen([move('delivery', 0), move('elementDrop', 0), move('discharge', 0), move('feed', 0), move('nitrogen', -3)], 0.1, false));
    expect(causes[0]!.cause).toBe('membrane-decline');
    // A loading element that shows in nothing but nitrogen is the rival; its drop would have to hide.
    expect(causes[0]!.probability).toBeGreaterThan(0.7);
  });

  test('names a bleed left open when delivery and pressures step down right after a visit, and a drain when there was none', () => {
    const movements = [move('delivery', -3), move('elementDrop', -0.3), move('discharge', -3), move('feed', -3), move('nitrogen', 0)];
    expect(weighCauses(DELIVERY, seen(movements, 0.95, true)).causes[0]!.cause).toBe('bleed-left-open');
    expect(weighCauses(DELIVERY, seen(movements, 0.95, false)).causes[0]!.cause).toBe('drain-stuck-open');
  });

  test('names leak-back when demand and delivery rise by equal amounts, and a leak when only demand rises', () => {
    const demand: readonly SignedCause[] = ['leak', 'bleed-left-open', 'check-valve-leaking'];
    expect(weighCauses(demand, { movements: [move('demand', 4)], stepChance: 0.9, afterVisit: false, amounts: { demand: 3.5, delivery: 3.1, deliverySe: 1 }, dropPerRunHour: null }).causes[0]!.cause).toBe('check-valve-leaking');
    expect(weighCauses(demand, { movements: [move('demand', 4)], stepChance: 0.9, afterVisit: false, amounts: { demand: 3.5, delivery: 0.4, deliverySe: 1 }, dropPerRunHour: null }).causes[0]!.cause).toBe('leak');
  });

  test('names leak-back where gas stands in the feed side at rest, which is let down to the air', () => {
    const { causes } = weighCauses(['leak', 'bleed-left-open', 'check-valve-leaking'], { ...seen([move('demand', 4), move('feedRest', 3)], 0.9, false), amounts: { demand: 3.5, delivery: 1.2, deliverySe: 1.5 } });
    expect(causes[0]!.cause).toBe('check-valve-leaking');
    expect(causes[0]!.probability).toBeGreaterThan(0.7);
  });

  test('sums to 1, and a movement nobody can see changes nothing', () => {
    const blind: Movement = { series: 'nitrogen', effect: 0.1, se: 50, smallest: 1 };
    const blindToo = weighCauses(DELIVERY, seen([move('delivery', -2), blind], null, false)).causes;
    const without = weighCauses(DELIVERY, seen([move('delivery', -2)], null, false)).causes;
    expect(blindToo.reduce((sum, one) => sum + one.probability, 0)).toBeCloseTo(1, 10);
    for (const one of without) expect(Math.abs(blindToo.find((other) => other.cause === one.cause)!.probability - one.probability)).toBeLessThan(0.12);
  });
});

describe('SIGNATURES', () => {
  test('give chances that sum to 1 and never 0', () => {
    for (const [cause, signature] of Object.entries(SIGNATURES)) {
      for (const [series, chances] of Object.entries(signature.moves)) {
        expect((chances as readonly number[]).reduce((sum, one) => sum + one, 0), `${cause} ${series}`).toBeCloseTo(1, 10);
        expect(Math.min(...(chances as readonly number[]))).toBeGreaterThan(0);
      }
    }
  });
});

describe('directionChances()', () => {
  test('sum to 1 and follow the effect', () => {
    expect(directionChances({ effect: 0, se: 0.1, smallest: 1, series: 'feed' })[1]).toBeGreaterThan(0.99);
    expect(directionChances({ effect: 2, se: 0.1, smallest: 1, series: 'feed' })[0]).toBeGreaterThan(0.99);
    const unclear = directionChances({ effect: 0.5, se: 0.3, smallest: 1, series: 'feed' });
    expect(unclear[0]).toBeCloseTo(0.5, 2);
    expect(unclear[0] + unclear[1] + unclear[2]).toBeCloseTo(1, 10);
  });
});
