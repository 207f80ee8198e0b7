import type { Forecast, LimitName, RankingReport } from '../../shared/finding.ts';
import { DAY_MS } from '../../shared/time.ts';
import { alphaBounds } from './alpha-lambda.ts';
import { quantileOf } from './quantile.ts';
import type { TrueBranch } from './truth.ts';

/** A crossing that lay ahead at a branch, and what was foreseen of it. Days from the branch; null = beyond, said or true. */
export type ForecastCase = { readonly limit: LimitName; readonly trueDays: number | null; readonly said: readonly [p10: number | null, p25: number | null, p50: number | null, p75: number | null, p90: number | null] | null };

export type ForecastScore = {
  /** Crossings that came; of them those that were foreseen at all. */
  readonly crossings: number;
  readonly foreseen: number;
  /** Shares of the foreseen inside 25..75 % and 10..90 %. */
  readonly inside50: number | null;
  readonly inside80: number | null;
  /** Middle of |likely − true| in days, and of likely − true: above 0 is too late. */
  readonly errorDays: number | null;
  readonly biasDays: number | null;
  /** Share whose likely date lies within half of the time left. */
  readonly withinHalf: number | null;
  /** Limits that were not crossed in the branch's life; of them those whose likely date lay within 30 days. */
  readonly notCrossed: number;
  readonly criedWolf: number;
  /** Of all that gave a date, whether the limit was crossed or not: how many, crossed before the earliest date, and not crossed by the latest; what is between is inside the 80 % range. */
  readonly dated: number;
  readonly beforeEarliest: number | null;
  readonly afterLatest: number | null;
};

/** A branch is lived for so long: what is foreseen beyond can't be judged. */
const LIFE_DAYS = 180;

/** What was foreseen at a branch, limit by limit. Limits that were passed before the branch are no forecast and are left out. */
export function forecastCases(branch: TrueBranch, report: RankingReport): ForecastCase[] {
  const row = report.ranking.find((one) => one.site === branch.site && one.generator === branch.generator);
  const atMs = Date.parse(branch.at);
  const days = (iso: string | null): number | null => (iso === null ? null : (Date.parse(iso) - atMs) / DAY_MS);
  return Object.entries(branch.crossings).flatMap(([name, crossing]): ForecastCase[] => {
    const limit = name as LimitName;
    const trueDays = days(crossing ?? null);
    if (trueDays !== null && trueDays <= 0) return [];
    const forecast = row?.forecasts.find((one) => one.limit === limit);
    return [{ limit, trueDays, said: forecast === undefined ? null : quantilesOf(forecast, days) }];
  });
}

function quantilesOf(forecast: Forecast, days: (iso: string | null) => number | null): NonNullable<ForecastCase['said']> {
  return [days(forecast.earliest), days(forecast.quarterFrom), days(forecast.likely), days(forecast.quarterTo), days(forecast.latest)];
}

/** `null` is beyond the horizon, so later than every date. */
function inside(days: number, from: number | null, to: number | null): boolean {
  return days >= (from ?? Infinity) && days <= (to ?? Infinity);
}

function shareOf<T>(cases: readonly T[], holds: (one: T) => boolean): number | null {
  return cases.length === 0 ? null : cases.filter(holds).length / cases.length;
}

/** A forecast that gives no date within its horizon at any of its shares foresees nothing. */
function gaveDate(one: ForecastCase): boolean {
  return one.said !== null && one.said.some((days) => days !== null);
}

export function scoreForecasts(cases: readonly ForecastCase[]): ForecastScore {
  const came = cases.flatMap((one) => (one.trueDays === null ? [] : [{ ...one, trueDays: one.trueDays }]));
  const foreseen = came.filter(gaveDate).flatMap((one) => (one.said === null ? [] : [{ trueDays: one.trueDays, said: one.said }]));
  const errors = foreseen.flatMap(({ said, trueDays }) => (said[2] === null ? [Infinity] : [said[2] - trueDays]));
  const finite = (value: number | undefined): number | null => (value === undefined || !Number.isFinite(value) ? null : value);
  const dated = cases.filter(gaveDate);
  const spared = cases.filter((one) => one.trueDays === null);
  return {
    crossings: came.length,
    foreseen: foreseen.length,
    inside50: shareOf(foreseen, ({ said, trueDays }) => inside(trueDays, said[1], said[3])),
    inside80: shareOf(foreseen, ({ said, trueDays }) => inside(trueDays, said[0], said[4])),
    errorDays: finite(quantileOf(errors.map(Math.abs), 0.5)),
    biasDays: finite(quantileOf(errors, 0.5)),
    withinHalf: shareOf(foreseen, ({ said, trueDays }) => {
      const [from, to] = alphaBounds(trueDays, 0, 0.5);
      return said[2] !== null && said[2] >= from && said[2] <= to;
    }),
    notCrossed: spared.length,
    criedWolf: spared.filter(({ said }) => said !== null && said[2] !== null && said[2] <= 30).length,
    dated: dated.length,
    beforeEarliest: shareOf(dated, ({ said, trueDays }) => trueDays !== null && trueDays < (said![0] ?? Infinity)),
    afterLatest: shareOf(dated, ({ said, trueDays }) => said![4] !== null && said![4] <= LIFE_DAYS && (trueDays ?? Infinity) > said![4]),
  };
}
