// Issue: a finding's sentences agree with the finding: what moved is said to have moved, days are said as the pages say them.
import { describe, expect, test } from 'vitest';
import { byBursts } from '../../../analysis/causes/by-bursts.ts';
import { type Context, dayWords, evidenceFor, movementSentence } from '../../../analysis/causes/evidence.ts';
import type { Epoch } from '../../../analysis/causes/epochs.ts';
import type { SignedCause } from '../../../analysis/causes/signatures.ts';
import { weighCauses } from '../../../analysis/causes/weigh-causes.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { DAY_MS } from '../../../shared/time.ts';

/** Demand with a rough baseline of 2.3 NL/min whose last days are off by so much, ln. */
function demand(...off: readonly number[]): Epoch {
  const centre = Math.log(2.3);
  const baseline = { centre, scatter: 0.08, spread: 0.08, correlation: 0.4, usualSe: 0, count: 28, fromMs: 0, toMs: 28 * DAY_MS };
  return { name: 'demand', baseline, watchFromMs: baseline.toMs, learned: true, allowed: 0, points: off.map((one, day) => ({ startMs: (28 + day) * DAY_MS, endMs: (29 + day) * DAY_MS, value: centre + one, se: 0.01 })) };
}

const measured = (unit: DayRow['unit'], roomC: number | null = null) => ({ unit, roomC });

describe('movementSentence()', () => {
  test('never calls the series unchanged that the finding is about, though its newest days alone would not show it', () => {
    const epoch = demand(0.08, 0.08, 0.08);
    expect(movementSentence(epoch, measured('NL/min'), { effect: 0.12, effectSe: 0.02 })).toBe('Demand rose from 2.3 to 2.6 NL/min (+13 %).');
    expect(movementSentence(epoch, measured('relative'), { effect: -0.12, effectSe: 0.02 })).toBe('Demand fell by 11 %, by the times of run and rest.');
  });

  test('says of nitrogen that it is as at 20 °C where the room is far from that', () => {
    const nitrogen: Epoch = { ...demand(0), name: 'nitrogen', baseline: { ...demand(0).baseline, centre: 99.2, scatter: 0.1 } };
    const says = (roomC: number | null): string => movementSentence(nitrogen, measured('NL/min', roomC), { effect: -0.6, effectSe: 0.05 });
    expect(says(24)).toBe('Nitrogen fell from 99.20 % to 98.60 %.');
    expect(says(null)).toBe('Nitrogen fell from 99.20 % to 98.60 %.');
    expect(says(35)).toBe('Nitrogen fell from 99.20 % to 98.60 % (as at 20 °C).');
  });

  test('says a pressure below zero with a minus sign, and of which moment it is', () => {
    const rest: Epoch = { ...demand(0), name: 'feedRest', baseline: { ...demand(0).baseline, centre: -0.8, scatter: 1.5 } };
    expect(movementSentence(rest, measured('NL/min'), { effect: 22, effectSe: 1 })).toBe('At rest the pressure after the elements rose from −1 to 21 kPa.');
  });

  test('says of another series that it moved, wanders or is unchanged, and never unchanged beside a change', () => {
    expect(movementSentence(demand(0.5, 0.5, 0.5), measured('NL/min'))).toBe('Demand rose from 2.3 to 3.8 NL/min (+65 %).');
    expect(movementSentence(demand(0.08, 0.08, 0.08), measured('NL/min'))).toBe('Demand is at 2.5 NL/min (+8 %), within its usual wander.');
    expect(movementSentence(demand(0.001, -0.002, 0), measured('NL/min'))).toBe('Demand is unchanged at 2.3 NL/min.');
    // 17 kPa less counts for a drain, though it is not sure: "unchanged" would contradict its own weight.
    const before = demand(-17, -17, -17);
    const pressure = { ...before, name: 'discharge' as const, baseline: { ...before.baseline, centre: 699, scatter: 16 }, points: before.points.map((point) => ({ ...point, value: 682 })) };
    expect(movementSentence(pressure, measured('NL/min'))).toBe('The pressure before the elements is at 682 kPa (−17 kPa), within its usual wander.');
    expect(movementSentence({ ...pressure, points: pressure.points.map((point) => ({ ...point, value: 697 })) }, measured('NL/min'))).toBe('The pressure before the elements is unchanged at 697 kPa.');
    expect(movementSentence(demand(-0.05, -0.05, -0.05), measured('relative'))).toBe('Demand is within its usual wander (−5 %) by the times of run and rest.');
  });
});

test('dayWords() names the day of the site, not that of UTC', () => {
  expect(dayWords('2026-11-21T23:30:00Z', 'UTC')).toBe('21 Nov');
  expect(dayWords('2026-11-21T23:30:00Z', 'Europe/Rome')).toBe('22 Nov');
});

describe('evidenceFor()', () => {
  const said = (amounts: { readonly demand: number; readonly delivery: number }, sameAmount: boolean, candidates: readonly SignedCause[] = ['leak', 'check-valve-leaking']): readonly { readonly says: string; readonly weight: number; readonly for: string }[] => {
    const weighed = weighCauses(candidates, { movements: [], stepChance: null, afterVisit: true, amounts: { ...amounts, deliverySe: 0.2 }, dropPerRunHour: null });
    const context: Context = { epochs: new Map(), unit: 'NL/min', roomC: null, moved: { name: 'demand', level: { effect: 0.5, effectSe: 0.1 } }, visitDay: '21 Nov', stepChance: null, sameAmount, dropPerRunHour: null };
    return evidenceFor(weighed, context);
  };

  test('says of the amounts what they count for', () => {
    // 2.2 beside 4.6 NL/min is less than half of it, and yet far likelier where gas runs back than where it doesn't.
    const back = said({ demand: 4.6, delivery: 2.2 }, false).find((one) => one.says.startsWith('Delivery'))!;
    expect([back.for, back.weight > 0, back.says]).toEqual(['check-valve-leaking', true, 'Delivery rose too, though by less gas than demand did: some may run back while the compressor rests.']);
    const against = said({ demand: 4.6, delivery: 0 }, false, ['check-valve-leaking']).find((one) => one.says.startsWith('Delivery'))!;
    expect([against.for, against.weight < 0, against.says]).toEqual(['check-valve-leaking', true, 'Delivery did not rise with demand, as it would if gas ran back while the compressor rests.']);
  });

  test('names the visit by its day', () => {
    expect(said({ demand: 4.6, delivery: 0 }, false).map((one) => one.says)).toContain('It began within a day and a half of the visit of 21 Nov.');
  });
});

describe('byBursts()', () => {
  const day = (index: number, demand: number, burstShare: number | null): DayRow => ({ startMs: index * 86_400_000, endMs: (index + 1) * 86_400_000, demand: { value: demand, se: 0.1 }, burstShare }) as DayRow;
  const before = Array.from({ length: 10 }, (_, index) => day(index, 2, 0.02));

  test('says that a user draws, and that what leaks is as it was', () => {
    expect(byBursts([...before, day(10, 4, 0.5), day(11, 4, 0.52), day(12, 4, 0.5)], 10 * 86_400_000)).toBe('It draws in bursts: 50 % of demand, before 2 %; what is drawn quietly is 1.0 times what it was.');
  });

  test('is silent where all is drawn quietly, and where the tank can not tell', () => {
    expect(byBursts([...before, day(10, 4, 0.03)], 10 * 86_400_000)).toBeUndefined();
    expect(byBursts([...before, day(10, 4, null)], 10 * 86_400_000)).toBeUndefined();
  });
});
