// World: days of running whose hours are known by hand.
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { serviceDue } from '../../../analysis/forecast/service-due.ts';

const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;
const START = Date.UTC(2026, 2, 1);
/** Days that each ran so many hours; with `heard`, only that share of the day is known. */
const daysOf = (hours: readonly number[], heard = 1) => hours.map((h, i) => ({ startMs: START + i * DAY_MS, endMs: START + (i + 1) * DAY_MS, runS: h * 3600 * heard, coveredS: 86_400 * heard }));
const constant = (count: number, hours: number): number[] => Array<number>(count).fill(hours);

test('serviceDue() takes the days when the hours come later, and the hours when they come first', () => {
  const nowMs = START + 100 * DAY_MS;
  const slow = serviceDue({ every: { days: 365, runHours: 2000 }, sinceMs: START, days: daysOf(constant(100, 3)), nowMs });
  expect(slow).toMatchObject({ because: 'days', dueMs: START + 365 * DAY_MS });
  expect(slow?.runHours).toBeCloseTo(300, 9);
  const quick = serviceDue({ every: { days: 365, runHours: 2000 }, sinceMs: START, days: daysOf(constant(100, 12)), nowMs });
  expect(quick?.because).toBe('run-hours');
  expect(((quick?.dueMs ?? 0) - nowMs) / DAY_MS).toBeCloseTo(800 / 12, 6); // 1,200 h run, 800 left at 12 a day
});

test('serviceDue() goes on at the rate of the last two weeks', () => {
  const due = serviceDue({ every: { runHours: 1000 }, sinceMs: START, days: daysOf([...constant(86, 2), ...constant(14, 8)]), nowMs: START + 100 * DAY_MS });
  expect(((due?.dueMs ?? 0) - START - 100 * DAY_MS) / DAY_MS).toBeCloseTo((1000 - 172 - 112) / 8, 6);
});

test('serviceDue() scales days that were partly heard, and fills days that were not', () => {
  const whole = serviceDue({ every: { runHours: 2000 }, sinceMs: START, days: daysOf(constant(50, 6)), nowMs: START + 50 * DAY_MS });
  const half = serviceDue({ every: { runHours: 2000 }, sinceMs: START, days: daysOf(constant(50, 6), 0.5), nowMs: START + 50 * DAY_MS });
  const gappy = serviceDue({ every: { runHours: 2000 }, sinceMs: START, days: daysOf(constant(50, 6)).filter((_, i) => i < 10 || i >= 25), nowMs: START + 50 * DAY_MS });
  expect(half?.runHours).toBeCloseTo(whole?.runHours ?? NaN, 6);
  expect(gappy?.runHours).toBeCloseTo(whole?.runHours ?? NaN, 6);
  expect(gappy?.dueMs).toBeCloseTo(whole?.dueMs ?? NaN, -1);
});

test('serviceDue() says since when it is overdue, also across a gap', () => {
  const hours = constant(100, 10);
  const at = (days: ReturnType<typeof daysOf>): number => ((serviceDue({ every: { runHours: 500 }, sinceMs: START, days, nowMs: START + 100 * DAY_MS })?.dueMs ?? 0) - START) / DAY_MS;
  expect(at(daysOf(hours))).toBeCloseTo(50, 6);
  expect(at(daysOf(hours).filter((_, i) => i < 40 || i >= 60))).toBeCloseTo(50, 6);
  expect(at(daysOf(hours).slice(60))).toBeCloseTo(50, 6);
});

test('serviceDue() counts from the service on, within the day too', () => {
  const due = serviceDue({ every: { runHours: 100 }, sinceMs: START + 9.5 * DAY_MS, days: daysOf(constant(20, 12)), nowMs: START + 12 * DAY_MS });
  expect(due?.runHours).toBeCloseTo(2.5 * 12, 6);
});

test('serviceDue() knows no date where nothing is agreed, nothing is heard, or it stands still', () => {
  const nowMs = START + 10 * DAY_MS;
  expect(serviceDue({ every: {}, sinceMs: START, days: daysOf(constant(10, 4)), nowMs })).toBeUndefined();
  expect(serviceDue({ every: { runHours: 100 }, sinceMs: START, days: [], nowMs })).toBeUndefined();
  expect(serviceDue({ every: { runHours: 100 }, sinceMs: START, days: daysOf(constant(10, 0)), nowMs })).toBeUndefined();
  expect(serviceDue({ every: { days: 30 }, sinceMs: START, days: [], nowMs })).toMatchObject({ because: 'days', runHours: null, dueMs: START + 30 * DAY_MS });
  expect(() => serviceDue({ every: { days: 30 }, sinceMs: NaN, days: [], nowMs })).toThrow(RangeError);
});

test('serviceDue() gives the time at which the hours, counted again up to then, are what was agreed', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ min: 0.5, max: 24, noNaN: true }), { minLength: 5, maxLength: 60 }), fc.double({ min: 0.1, max: 0.95, noNaN: true }), (hours, share) => {
      const days = daysOf(hours);
      const nowMs = START + hours.length * DAY_MS;
      const agreed = share * hours.reduce((a, b) => a + b, 0);
      const due = serviceDue({ every: { runHours: agreed }, sinceMs: START, days, nowMs });
      const until = due?.dueMs ?? 0;
      const counted = days.reduce((sum, day) => sum + (day.runS * Math.max(0, Math.min(day.endMs, until) - day.startMs)) / DAY_MS, 0) / 3600;
      expect(Math.abs(counted - agreed)).toBeLessThan(1e-6 * HOUR_MS);
      expect(counted).toBeCloseTo(agreed, 5);
    }),
  );
});
