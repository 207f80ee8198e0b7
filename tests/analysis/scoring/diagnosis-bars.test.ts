// Issue: the bars that diagnosis is held to, on faults and days made by hand.
import { describe, expect, test } from 'vitest';
import { channelClassOf } from '../../../analysis/scoring/channel-class.ts';
import { cycleScatter } from '../../../analysis/scoring/cycle-scatter.ts';
import { diagnosisBars } from '../../../analysis/scoring/diagnosis-bars.ts';
import { diagnosisRows } from '../../../analysis/scoring/diagnosis-text.ts';
import { faultBars } from '../../../analysis/scoring/fault-bars.ts';
import { poissonInterval } from '../../../analysis/scoring/poisson-interval.ts';
import { scoreWorld, type WatchedGenerator } from '../../../analysis/scoring/score-world.ts';
import type { StatedChange } from '../../../analysis/scoring/stated-changes.ts';
import { effectsIn, scatterOf, type TrueDays } from '../../../analysis/scoring/true-days.ts';
import type { TrueFault } from '../../../analysis/scoring/truth.ts';
import type { Cycle } from '../../../shared/cycle.ts';
import { seesOf } from '../../../shared/distinguish.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';
import { DAY_MS } from '../../../shared/time.ts';
import { at, fault, finding, START_MS } from './hand-made.ts';

const DAYS = 100;
const FULL = ['running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'system-pressure', 'nitrogen'] as const;
/** Demand and delivery are multiplied by `times` on the days of a fault. */
function days(fromDay: number, toDay: number, times: { demand?: number; delivery?: number; nitrogen?: number }): TrueDays {
  const series = (plain: number, change: (value: number) => number): number[] => Array.from({ length: DAYS }, (_, day) => (day >= fromDay && day < toDay ? change(plain) : plain));
  const plain = { demandNLPerMin: series(2, (value) => value), deliveryNLPerMin: series(28, (value) => value), nitrogen: series(0.985, (value) => value) };
  return { startMs: START_MS, without: plain, was: { demandNLPerMin: series(2, (value) => value * (times.demand ?? 1)), deliveryNLPerMin: series(28, (value) => value * (times.delivery ?? 1)), nitrogen: series(0.985, (value) => value - (times.nitrogen ?? 0)) } };
}
const stated = (demand: number | null, delivery: number | null = null): StatedChange => ({ at: at(10), demand, delivery, demandScatter: 0.05, deliveryScatter: 0.02, cycles: { perDay: 10, demandScatter: 0.04, deliveryScatter: 0.02 } });

function barsOf(one: TrueFault, more: { days?: TrueDays; stated?: StatedChange[]; foundMs?: number; outcome?: 'found' | 'missed' | 'unknowable'; channels?: readonly ('running' | 'tank-pressure' | 'nitrogen')[] } = {}) {
  const foundMs = more.foundMs ?? null;
  return faultBars({ fault: one, outcome: more.outcome ?? (foundMs === null ? 'missed' : 'found'), fit: null, delayH: null, foundMs, finding: null }, { sees: seesOf(new Set(more.channels ?? FULL)), untilMs: START_MS + DAYS * DAY_MS, stated: more.stated ?? [stated(0.2)], days: more.days ?? days(20, DAYS, { demand: 1.3 }) });
}

describe('faultBars() asks for what a generator stated that it would show', () => {
  test('exceeds where each of ten days in a row is as large as was stated', () => {
    expect(barsOf(fault('leak', 20)).exceeds).toBe(true);
    expect(barsOf(fault('leak', 20), { stated: [stated(0.3)] }).exceeds).toBe(false);
    expect(barsOf(fault('leak', 20), { stated: [stated(null)] }).exceeds).toBe(false);
    expect(barsOf(fault('leak', 20, { end: at(29) }), { days: days(20, 29, { demand: 1.3 }) }).exceeds).toBe(false);
    expect(barsOf(fault('leak', 20, { end: at(30) }), { days: days(20, 30, { demand: 1.3 }) }).exceeds).toBe(true);
  });

  test('takes less delivery and less nitrogen, and not what gets better', () => {
    expect(barsOf(fault('compressor-side', 20), { days: days(20, DAYS, { delivery: 0.8 }), stated: [stated(null, 0.2)] }).exceeds).toBe(true);
    expect(barsOf(fault('membrane-decline', 20), { days: days(20, DAYS, { delivery: 1.3 }), stated: [stated(0.2, 0.2)] }).exceeds).toBe(false);
    expect(barsOf(fault('membrane-decline', 20), { days: days(20, DAYS, { nitrogen: 0.003 }), stated: [] }).exceeds).toBe(true);
    expect(barsOf(fault('membrane-decline', 20), { days: days(20, DAYS, { nitrogen: 0.003 }), stated: [], channels: ['running', 'tank-pressure'] }).exceeds).toBe(false);
  });

  test('takes elements by their drop where it is sent, and what came by itself unless it could not be known', () => {
    expect(barsOf(fault('element-loading', 20), { days: days(20, DAYS, {}) }).exceeds).toBe(true);
    expect(barsOf(fault('element-loading', 20, { knowableAt: null }), { days: days(20, DAYS, {}) }).exceeds).toBe(false);
    expect(barsOf(fault('compressor-side', 0, { byItself: true, deliveryLoss: 0.2 }), { outcome: 'missed' }).exceeds).toBe(true);
    expect(barsOf(fault('compressor-side', 0, { byItself: true, deliveryLoss: 0.2 }), { outcome: 'unknowable' }).exceeds).toBe(false);
  });

  test('does not ask of instruments and of the running', () => {
    expect(barsOf(fault('sensor-fault', 20))).toEqual({ exceeds: null, abruptWithinH: null, dueWithinH: null, effectWhenFound: null, effectBar: null });
  });
});

test('faultBars() calls a step abrupt from six cycle scatters on, and gives it 12 h or five cycles', () => {
  // ln 1.3 = 0.26 is over 6 × 0.04, ln 1.2 = 0.18 is not.
  expect(barsOf(fault('leak', 20)).abruptWithinH).toBe(12);
  expect(barsOf(fault('leak', 20), { days: days(20, DAYS, { demand: 1.2 }) }).abruptWithinH).toBeNull();
  expect(barsOf(fault('leak', 20, { shape: 'ramp' })).abruptWithinH).toBeNull();
  expect(barsOf(fault('leak', 20), { stated: [{ ...stated(0.2), cycles: { perDay: 2, demandScatter: 0.04, deliveryScatter: null } }] }).abruptWithinH).toBe(60);
  expect(barsOf(fault('leak', 20), { stated: [{ ...stated(0.2), cycles: null }] }).abruptWithinH).toBeNull();
  // A valve left shut makes demand less.
  expect(barsOf(fault('valve-left-shut', 20), { days: days(20, DAYS, { demand: 0.3 }) }).abruptWithinH).toBe(12);
});

test('faultBars() gives what a visit left its own time, and two ticks', () => {
  expect(barsOf(fault('valve-left-shut', 20, { dueAt: at(20, 6) })).dueWithinH).toBeCloseTo(6 + 1 / 3, 9);
  expect(barsOf(fault('valve-left-shut', 20, { dueAt: null })).dueWithinH).toBeNull();
  expect(barsOf(fault('leak', 20)).dueWithinH).toBeNull();
});

test('faultBars() measures a growing fault in the days before it was found', () => {
  const found = { foundMs: START_MS + 40.5 * DAY_MS, days: days(38, DAYS, { demand: 1.1 }) };
  const grown = barsOf(fault('leak', 20, { shape: 'ramp' }), found);
  expect(grown.effectWhenFound).toBeCloseTo(Math.log(1.1), 9);
  expect(grown.effectBar).toBeCloseTo(0.1, 9);
  expect(barsOf(fault('leak', 20, { shape: 'ramp' }), { ...found, stated: [] }).effectBar).toBeCloseTo(Math.log(1.08), 9);
  expect(barsOf(fault('leak', 20), found).effectWhenFound).toBeNull();
});

test('diagnosisBars() counts false findings of generators for which nothing was the matter, with the exact limits', () => {
  const watched = (generator: string): WatchedGenerator => ({ site: 'quay', generator, channels: [...FULL], fromMs: START_MS, untilMs: START_MS + DAYS * DAY_MS, days: { startMs: START_MS, was: days(0, 0, {}).was }, stated: [stated(0.2)] });
  const score = scoreWorld({
    truth: { faults: [fault('leak', 20)], upsets: [], branches: [] },
    watched: [{ ...watched('gen-1'), days: days(20, DAYS, { demand: 1.3 }) }, watched('gen-2'), watched('gen-3')],
    findings: [finding('a', 20.25, 'leak'), finding('b', 10, 'leak'), { ...finding('c', 50, 'leak'), generator: 'gen-2' }],
    reports: [],
  });
  const bars = diagnosisBars([score, score]);
  const years = (4 * DAYS) / 365.25;
  expect(bars.falseInGoodOrder).toMatchObject({ count: 2, perYear: 2 / years, high: poissonInterval(2)[1] / years });
  expect(bars).toMatchObject({ foundOfExceeding: { of: 2, part: 2 }, abruptFound: { of: 2, part: 2 }, abruptWithin: { of: 2, part: 2 }, abruptMedianH: 6, growingEffect: null, runningWithinHour: { of: 0, share: null } });
  expect(bars.rightFirst.map((one) => [one.sends, one.part])).toEqual([['all channels', 2], ['run state + tank + nitrogen', 0], ['duty + tank + nitrogen', 0], ['others', 0]]);
  expect(bars.demandScatter).toEqual({ p10: 0, p50: 0, p90: 0 });
  const rows = diagnosisRows(bars);
  expect(rows[0]!.stands).toContain('2 in 1.1 years');
  expect(JSON.stringify(rows)).not.toMatch(/NaN|Infinity|undefined/);
  expect(JSON.stringify(diagnosisRows(diagnosisBars([])))).not.toMatch(/NaN|Infinity|undefined/);
});

test('channelClassOf() parts channel sets as the bars do', () => {
  expect(channelClassOf([...FULL, 'humidity'])).toBe('all channels');
  expect(channelClassOf(['running', 'tank-pressure', 'nitrogen', 'feed-pressure'])).toBe('run state + tank + nitrogen');
  expect(channelClassOf(['duty', 'tank-pressure', 'nitrogen'])).toBe('duty + tank + nitrogen');
  expect([channelClassOf(['duty']), channelClassOf(['running', 'tank-pressure'])]).toEqual(['others', 'others']);
});

test('cycleScatter() takes whole cycles, and slopes before times', () => {
  const cycle = (index: number, more: Partial<Cycle>): Cycle => ({ generator: 'quay/gen-1' as GeneratorKey, startMs: index * 3_600_000, runS: 600, restS: 3000, source: 'running', cut: false, fallKPaPerMin: null, riseKPaPerMin: null, startKPa: null, stopKPa: null, ...more });
  // Rests that go up and down by a tenth: each step is ln 1.1, which is the median step of a scatter of ln 1.1 / 0.6745 / √2.
  const swinging = Array.from({ length: 30 }, (_, index) => cycle(index, { restS: index % 2 === 0 ? 3000 : 3300 }));
  const told = cycleScatter(swinging, 3)!;
  expect(told.perDay).toBe(10);
  expect(told.demandScatter).toBeCloseTo(Math.log(1.1) / 0.6745 / Math.SQRT2, 9);
  expect(cycleScatter(swinging.map((one) => ({ ...one, fallKPaPerMin: 2, riseKPaPerMin: 20 })), 3)).toMatchObject({ demandScatter: 0, deliveryScatter: 0 });
  expect(cycleScatter(swinging.map((one, index) => ({ ...one, cut: index % 2 === 0 })), 3)).toBeNull();
});

test('effectsIn() compares whole days alone; scatterOf() needs twenty', () => {
  const one = days(20, DAYS, { demand: 2, nitrogen: 0.01 });
  expect(effectsIn(one, START_MS + 19.5 * DAY_MS, START_MS + 22.5 * DAY_MS)).toHaveLength(2);
  expect(effectsIn(one, START_MS + 20 * DAY_MS, START_MS + 21 * DAY_MS)[0]).toMatchObject({ demand: Math.log(2), delivery: 0 });
  expect(effectsIn({ startMs: START_MS, was: one.was }, START_MS, START_MS + 9 * DAY_MS)).toEqual([]);
  expect(effectsIn({ ...one, was: { ...one.was, deliveryNLPerMin: one.was.deliveryNLPerMin.map(() => null) } }, START_MS, START_MS + DAY_MS)[0]).toMatchObject({ delivery: null });
  expect(scatterOf(Array.from({ length: 19 }, () => 2))).toBeUndefined();
  expect(scatterOf(Array.from({ length: 41 }, (_, index) => Math.exp(0.01 * index)))).toBeCloseTo(0.1 / 0.6745, 9);
});
