// Issue: forecasts and rankings are scored only where a branch says what would have come (design, section 5).
import { expect, test } from 'vitest';
import { forecastCases, scoreForecasts } from '../../../analysis/scoring/score-forecasts.ts';
import { rankingCase, rankingShare } from '../../../analysis/scoring/score-ranking.ts';
import type { TrueBranch } from '../../../analysis/scoring/truth.ts';
import type { Forecast, RankingReport, RankingRow } from '../../../shared/finding.ts';
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

test('forecastCases() leaves out a limit that was passed when the branch began: that is no forecast', () => {
  expect(casesOf(60, [duty(60, 60, 60, 60, 60)])).toEqual([]);
});

test('scoreForecasts() counts shares inside the two ranges and the error of the likely date', () => {
  const cases = [...casesOf(80, [duty(65, 70, 78, 85, 99)]), ...casesOf(90, [duty(65, 70, 78, 85, 99)]), ...casesOf(120, [duty(65, 70, 78, 85, 99)]), ...casesOf(80, [])];
  expect(scoreForecasts(cases)).toMatchObject({ crossings: 4, foreseen: 3, inside50: 1 / 3, inside80: 2 / 3, errorDays: 12, biasDays: -12, notCrossed: 0 });
});

test('scoreForecasts() takes null as later than every date', () => {
  expect(scoreForecasts(casesOf(80, [duty(65, 70, null, null, null)]))).toMatchObject({ foreseen: 1, inside50: 1, inside80: 1, errorDays: null });
  expect(scoreForecasts(casesOf(66, [duty(65, 70, null, null, null)]))).toMatchObject({ inside50: 0, inside80: 1 });
  expect(scoreForecasts(casesOf(80, [duty(null, null, null, null, null)]))).toMatchObject({ crossings: 1, foreseen: 0, inside80: null });
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
