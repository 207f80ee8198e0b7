// Issue: an owner's figures before and after at matched hours and temperature; expectations follow from days written by hand.
import { expect, test } from 'vitest';
import { type MatchedFigures, matchedFigures } from '../../../dashboard/views/matched-figures.ts';
import type { DayRow, QuarterValues } from '../../../shared/cycle.ts';
import type { GeneratorKey } from '../../../shared/ids.ts';

const DAY_MS = 86_400_000;
const VISIT_MS = Date.parse('2026-10-15T09:00:00Z');
const visit = { startMs: VISIT_MS, endMs: VISIT_MS + 5_400_000 };

/** A day `at` days from the visit's day, whose quarters run as given. */
function day(at: number, duty: number | readonly number[], more: Partial<DayRow> = {}): DayRow {
  const startMs = Date.parse('2026-10-15T00:00:00Z') + at * DAY_MS;
  const four = typeof duty === 'number' ? [duty, duty, duty, duty] : duty;
  const dutyRatio = four.reduce((total, one) => total + one, 0) / 4;
  const quarters = four.map((one, index): QuarterValues => ({ startMs: startMs + index * 21_600_000, endMs: startMs + (index + 1) * 21_600_000, unit: 'NL/min', demand: [Math.log(4 * one), 0.01], delivery: [Math.log(25), 0.01], duty: [Math.log(one), 0.01] }));
  return {
    generator: 'invented-1/gen-1' as GeneratorKey, day: new Date(startMs).toISOString().slice(0, 10), startMs, endMs: startMs + DAY_MS, provisional: false, source: 'running', coveredS: 86_400, runS: 86_400 * dutyRatio, restS: 86_400 * (1 - dutyRatio), starts: 24, dutyRatio,
    unit: 'NL/min', demand: { value: 4, se: 0.1 }, delivery: { value: 25, se: 0.1 }, longestRunS: 900, longestRestS: 4000, cutInKPa: 550, cutOutKPa: 700, nitrogen: { value: 0.98, se: 0.001 }, dischargeKPa: null, feedKPa: null, elementDropKPa: { value: at < 0 ? 41 : 22, se: 1 },
    systemKPa: null, roomC: 18, pipeC: null, humidityPercent: null, holdingRatio: 1, heard: {}, quarters, ...more,
  };
}
const span = (from: number, to: number): number[] => Array.from({ length: to - from + 1 }, (_, index) => from + index);
const figures = (days: readonly DayRow[], limits = {}): MatchedFigures => {
  const given = matchedFigures(days, visit, limits);
  if ('tooFew' in given) throw new Error(given.tooFew);
  return given;
};

test('matchedFigures() tells the change of run time, demand, drop; what did not change stays', () => {
  const given = figures([...span(-10, -1).map((at) => day(at, 0.2)), day(0, 0.9), ...span(1, 6).map((at) => day(at, 0.15))]);
  expect(given).toMatchObject({ daysBefore: 10, daysAfter: 6, hoursMatched: 144, temperature: 'matched', unit: 'NL/min', elementDropKPa: { before: 41, after: 22 } });
  expect(given.dutyRatio!.before).toBeCloseTo(0.2, 12);
  expect(given.dutyRatio!.after).toBeCloseTo(0.15, 12);
  expect(given.dutyRatio!.change).toBeCloseTo(-0.25, 12);
  expect(given.delivery!.change).toBeCloseTo(0, 12);
});

test('matchedFigures() compares the same hours: nights that are missing after the visit are not taken for its doing', () => {
  // By day it runs 30 %, by night 10 %. After the visit only the days were heard: nothing has changed.
  const mixed = [0.1, 0.3, 0.3, 0.1];
  const halved = (at: number): DayRow => ({ ...day(at, mixed), quarters: day(at, mixed).quarters!.slice(1, 3), dutyRatio: 0.3, runS: 43_200 * 0.3, coveredS: 43_200 });
  const given = figures([...span(-8, -1).map((at) => day(at, mixed)), ...span(1, 6).map(halved)]);
  expect(given.dutyRatio!.change).toBeCloseTo(0, 12);
  expect(given.hoursMatched).toBe(72);
});

test('matchedFigures() compares like temperatures: a heat wave before the visit is left out', () => {
  const hot = span(-10, -6).map((at) => day(at, 0.3, { roomC: 34 }));
  const given = figures([...hot, ...span(-5, -1).map((at) => day(at, 0.2)), ...span(1, 6).map((at) => day(at, 0.2, { roomC: 22 }))]);
  expect(given.dutyRatio!.change).toBeCloseTo(0, 12);
  expect(given.daysBefore).toBe(5);
  const without = figures([...hot, ...span(-5, -1).map((at) => day(at, 0.2)), ...span(1, 6).map((at) => day(at, 0.2))].map((one) => ({ ...one, roomC: null })));
  expect(without.temperature).toBe('not sent');
  expect(without.dutyRatio!.change).toBeLessThan(-0.1);
});

test('matchedFigures() says why there are no figures', () => {
  expect(matchedFigures([...span(-10, -1).map((at) => day(at, 0.2)), day(1, 0.1), day(2, 0.1)], visit)).toEqual({ tooFew: '10 whole days before and 2 after; 3 of each are the least that can be compared' });
  expect(matchedFigures([...span(-10, -1).map((at) => day(at, 0.2, { roomC: 5 })), ...span(1, 9).map((at) => day(at, 0.2, { roomC: 30 }))], visit)).toHaveProperty('tooFew');
  // Days under test, days still open, and days beyond another visit don't count.
  const days = [...span(-3, -1).map((at) => day(at, 0.2)), ...span(1, 6).map((at) => day(at, 0.1))];
  expect(matchedFigures(days.map((one, index) => (index === 0 ? { ...one, holdingRatio: 0.2 } : one)), visit)).toHaveProperty('tooFew');
  expect(matchedFigures(days, visit, { fromMs: days[1]!.startMs })).toHaveProperty('tooFew');
});

test('matchedFigures() gives a range that is wide where days scatter', () => {
  const calm = figures([...span(-10, -1).map((at) => day(at, 0.2)), ...span(1, 6).map((at) => day(at, 0.15))]).dutyRatio!;
  const wild = figures([...span(-10, -1).map((at) => day(at, at % 2 === 0 ? 0.12 : 0.3)), ...span(1, 6).map((at) => day(at, at % 2 === 0 ? 0.1 : 0.25))]).dutyRatio!;
  expect(calm.high - calm.low).toBeLessThan(1e-9);
  expect(wild.low).toBeLessThan(wild.change);
  expect(wild.high).toBeGreaterThan(0);
});
