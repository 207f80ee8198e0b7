// Issue: forecasts and rankings are scored only where a branch says what would have come (design, section 5).
import { describe, expect, test } from 'vitest';
import { forecastCases, scoreForecasts } from '../../../analysis/scoring/score-forecasts.ts';
import { rankingCase, rankingShare } from '../../../analysis/scoring/score-ranking.ts';
import type { TrueBranch } from '../../../analysis/scoring/truth.ts';
import type { Forecast, RankingReport, RankingRow } from '../../../shared/finding.ts';
import { mulberry32 } from '../cycles/ideal-tank.ts';
import { at } from './hand-made.ts';

function row(rank: number, generator: string, forecasts: readonly Forecast[] = []): RankingRow {
  return { rank, site: 'quay', generator, dataState: 'reporting', dutyRatio: 0.2, baselineDutyRatio: 0.2, demandChange: null, deliveryChange: null, cause: null, causes: [], serviceBy: null, forecasts, dueBy: null, because: '', findings: [] };
}
const report = (...ranking: RankingRow[]): RankingReport => ({ at: at(60), ranking, findings: [] });
const branch = (generator: string, lossHours: number, crossings: TrueBranch['crossings']): TrueBranch => ({ at: at(60), site: 'quay', generator, lossHours, crossings });
const duty = (earliest: number | null, quarterFrom: number | null, likely: number | null, quarterTo: number | null, latest: number | null): Forecast => {
  const iso = (day: number | null): string | null => (day === null ? null : at(day));
  return { limit: 'dutyRatio', earliest: iso(earliest), quarterFrom: iso(quarterFrom), likely: iso(likely), quarterTo: iso(quarterTo), latest: iso(latest) };
};
const casesOf = (crossing: number | null, forecasts: readonly Forecast[]) => forecastCases(branch('gen-1', 0, { dutyRatio: crossing === null ? null : at(crossing) }), report(row(1, 'gen-1', forecasts)));

test('forecastCases() sets what was foreseen beside what came, in days from the branch', () => {
  expect(casesOf(80, [duty(65, 70, 78, 85, 99)])).toEqual([{ limit: 'dutyRatio', trueDays: 20, said: [5, 10, 18, 25, 39] }]);
  expect(casesOf(80, [])).toEqual([{ limit: 'dutyRatio', trueDays: 20, said: null }]);
});

test('a limit that was passed when the branch began is no forecast, and is known as passed', () => {
  expect(casesOf(60, [duty(60, 60, 60, 60, 60)])).toMatchObject([{ trueDays: 0 }]);
  expect(scoreForecasts(casesOf(60, [duty(60, 60, 60, 60, 60)]))).toMatchObject({ crossings: 0, foreseen: 0, notCrossed: 0, dated: 0 });
});

test('scoreForecasts() counts shares inside the two ranges and the error of the likely date', () => {
  const cases = [...casesOf(80, [duty(65, 70, 78, 85, 99)]), ...casesOf(90, [duty(65, 70, 78, 85, 99)]), ...casesOf(120, [duty(65, 70, 78, 85, 99)]), ...casesOf(80, [])];
  expect(scoreForecasts(cases)).toMatchObject({ crossings: 4, foreseen: 3, unsaid: 1, inside50: 1 / 3, inside80: 2 / 3, errorDays: 12, biasDays: -12, notCrossed: 0 });
});

test('scoreForecasts() takes null as later than every date', () => {
  expect(scoreForecasts(casesOf(80, [duty(65, 70, null, null, null)]))).toMatchObject({ foreseen: 1, inside50: 1, inside80: 1, errorDays: null });
  expect(scoreForecasts(casesOf(66, [duty(65, 70, null, null, null)]))).toMatchObject({ inside50: 0, inside80: 1 });
  expect(scoreForecasts(casesOf(80, [duty(null, null, null, null, null)]))).toMatchObject({ crossings: 1, foreseen: 0, inside80: null });
});

test('scoreForecasts() counts what came within 180 days, as the branches were lived once', () => {
  const far = duty(65, 70, 200, 300, 400);
  expect(scoreForecasts(casesOf(260, [far]))).toMatchObject({ crossings: 0, notCrossed: 1, dated: 1, crossedBy: [{ crossed: 0 }, { crossed: 0 }, { crossed: 0 }, { count: 1, crossed: 1 }, { count: 1, crossed: 1 }] });
});

test('scoreForecasts() tells how often a limit was foreseen within 30 days and not crossed', () => {
  expect(scoreForecasts([...casesOf(null, [duty(65, 70, 78, 85, 99)]), ...casesOf(null, [duty(100, 110, 120, 130, 140)]), ...casesOf(null, [])])).toMatchObject({ crossings: 0, notCrossed: 3, criedWolf: 1 });
});

test('scoreForecasts() counts every forecast that gave a date, crossed or not, as before, within or after its 80 % range', () => {
  const soon = duty(65, 70, 78, 85, 99);
  const cases = [...casesOf(62, [soon]), ...casesOf(80, [soon]), ...casesOf(120, [soon]), ...casesOf(null, [soon]), ...casesOf(null, [duty(65, 70, null, null, null)]), ...casesOf(null, [duty(null, null, null, null, null)]), ...casesOf(80, [])];
  expect(scoreForecasts(cases)).toMatchObject({ dated: 5, beforeEarliest: 0.2, afterLatest: 0.4 });
  // What is foreseen beyond the branch's life is neither.
  expect(scoreForecasts(casesOf(null, [duty(65, 70, 78, 85, 300)]))).toMatchObject({ dated: 1, beforeEarliest: 0, afterLatest: 0 });
});

describe('what is stated, whatever came', () => {
  test('scoreForecasts() counts by each date that lies within the life how many limits were crossed by then', () => {
    const soon = duty(65, 70, 78, 85, 99);
    const { crossedBy, held50, held80 } = scoreForecasts([...casesOf(62, [soon]), ...casesOf(80, [soon]), ...casesOf(null, [soon]), ...casesOf(null, [duty(65, 70, null, null, null)])]);
    expect(crossedBy).toEqual([{ share: 0.1, count: 4, crossed: 1 }, { share: 0.25, count: 4, crossed: 1 }, { share: 0.5, count: 3, crossed: 1 }, { share: 0.75, count: 3, crossed: 2 }, { share: 0.9, count: 3, crossed: 2 }]);
    expect(held50).toBeCloseTo(2 / 3 - 1 / 4, 12);
    expect(held80).toBeCloseTo(2 / 3 - 1 / 4, 12);
  });

  test('scoreForecasts() judges no date beyond the life', () => {
    // The branch of day 60 is lived for 365 days.
    expect(scoreForecasts(casesOf(null, [duty(230, 424, 426, 500, null)])).crossedBy.map((row) => row.count)).toEqual([1, 1, 0, 0, 0]);
  });

  test('scoreForecasts() tells what is said to be past now apart, and holds a date ahead against a limit that was passed already', () => {
    const past = duty(60, 60, 60, 60, 60);
    expect(scoreForecasts([...casesOf(60, [past]), ...casesOf(80, [past]), ...casesOf(60, [duty(65, 70, 78, 85, 99)])])).toMatchObject({ saidPast: 2, werePast: 1, crossedBy: [{ count: 1, crossed: 1 }, { count: 1, crossed: 1 }, { count: 1, crossed: 1 }, { count: 1, crossed: 1 }, { count: 1, crossed: 1 }] });
  });

  test('scoreForecasts() sorts every limit by what was stated for some days ahead, those of which nothing was said too', () => {
    const within = scoreForecasts([...casesOf(85, [duty(65, 70, 95, null, null)]), ...casesOf(null, [duty(65, 70, 95, null, null)]), ...casesOf(null, []), ...casesOf(100, [])]).within;
    const row = (days: number, from: number) => within.find((one) => one.days === days && one.from === from);
    expect(row(30, 0.25)).toEqual({ days: 30, from: 0.25, to: 0.5, count: 2, crossed: 1 });
    expect(row(60, 0.5)).toMatchObject({ count: 2, crossed: 1 });
    expect(row(30, 0)).toMatchObject({ count: 2, crossed: 0 });
    expect(row(60, 0)).toMatchObject({ count: 2, crossed: 1 });
    // Those said to be past are told apart: where they are, the limit isn't ahead, and only the wrong ones would be left.
    expect(scoreForecasts([...casesOf(60, [duty(60, 60, 60, 60, 60)]), ...casesOf(80, [duty(60, 60, 60, 60, 60)])]).within.every((one) => one.count === 0)).toBe(true);
  });

  // Identity: who states the true distribution is found to hold what he says. Exponential times of a mean that differs, 20,000 limits, most of them far.
  test('scoreForecasts() finds stated ranges to hold their share where the truth is drawn from what is stated', () => {
    const next = mulberry32(7);
    const cases = Array.from({ length: 20_000 }, () => {
      const mean = 10 + 2000 * next();
      const said = [0.1, 0.25, 0.5, 0.75, 0.9].map((share) => -mean * Math.log(1 - share)) as [number, number, number, number, number];
      const trueDays = -mean * Math.log(1 - next());
      return { limit: 'dutyRatio' as const, trueDays: trueDays > 365 ? null : trueDays, said };
    });
    const { held50, held80, inside80, within } = scoreForecasts(cases);
    // Three standard errors of a share over the about 1,500 whose last date lies within the life.
    expect(held80).toBeGreaterThan(0.76);
    expect(held80).toBeLessThan(0.84);
    expect(held50).toBeGreaterThan(0.46);
    expect(held50).toBeLessThan(0.54);
    for (const { from, to, count, crossed } of within.filter((one) => one.count > 300)) {
      expect(crossed / count).toBeGreaterThan(from - 0.03);
      expect(crossed / count).toBeLessThan(to + 0.03);
    }
    // Those that came within the life came early: the count of these alone calls true ranges too late.
    expect(inside80).toBeLessThan(0.78);
  });
});

const fleet = (hours: readonly number[]): TrueBranch[] => hours.map((lossHours, index) => branch(`gen-${index}`, lossHours, {}));
const ranked = (order: readonly number[]): RankingReport => report(...order.map((index, place) => row(place + 1, `gen-${index}`)));
const HOURS = [720, 600, 480, ...Array.from({ length: 12 }, () => 0)];
const ORDER = Array.from({ length: 15 }, (_, index) => index);

test('rankingCase() gives all of the loss to a ranking that begins with the worst, in any order', () => {
  expect(rankingCase(fleet(HOURS), ranked([...ORDER].sort((a, b) => (b % 10) - (a % 10) || a - b)))).toMatchObject({ worstHours: 1800 });
  const best = rankingCase(fleet(HOURS), ranked([2, 1, 0, ...ORDER.slice(3)]));
  expect(best).toMatchObject({ generators: 15, worstHours: 1800, oursHours: 1800 });
  expect(rankingShare([best!])).toBe(1);
});

test('rankingCase() takes away what stands behind the tenth place', () => {
  const missed = rankingCase(fleet(HOURS), ranked([1, ...ORDER.slice(3), 0, 2]));
  expect(missed).toMatchObject({ oursHours: 600 });
  expect(rankingShare([missed!])).toBeCloseTo(1 / 3, 12);
});

test('rankingCase() is silent where ten are all there are, or nothing is at stake', () => {
  expect(rankingCase(fleet([720, 0]), ranked([0, 1]))).toBeUndefined();
  expect(rankingCase(fleet(ORDER.map(() => 0)), ranked(ORDER))).toBeUndefined();
  expect(rankingShare([])).toBeNull();
});
