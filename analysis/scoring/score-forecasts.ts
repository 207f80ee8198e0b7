import type { Forecast, LimitName, RankingReport } from '../../shared/finding.ts';
import { DAY_MS } from '../../shared/time.ts';
import { alphaBounds } from './alpha-lambda.ts';
import { quantileOf } from './quantile.ts';
import type { TrueBranch } from './truth.ts';

/** A limit at a branch, and what was foreseen of it. Days from the branch; null = beyond, said or true; `trueDays` 0 = passed already. */
export type ForecastCase = { readonly limit: LimitName; readonly trueDays: number | null; readonly said: readonly [p10: number | null, p25: number | null, p50: number | null, p75: number | null, p90: number | null] | null };

/** Of all dates that were stated for a share: how many lie within the branch's life, and how many of these limits were crossed by then. */
export type CrossedBy = { readonly share: number; readonly count: number; readonly crossed: number };

/** Limits neither passed nor said to be, by what was said of being past them within some days: from `from` up to `to`; `to` 0.1 also where nothing was said. */
export type StatedWithin = { readonly days: number; readonly from: number; readonly to: number; readonly count: number; readonly crossed: number };

export type ForecastScore = {
  /** Crossings that came within 180 days; of them those that were foreseen at all, and those of limits that nothing was said of: nothing sent shows them, or too few days. */
  readonly crossings: number;
  readonly foreseen: number;
  readonly unsaid: number;
  /** Shares of the foreseen inside 25..75 % and 10..90 %. */
  readonly inside50: number | null;
  readonly inside80: number | null;
  /** Middle of |likely − true| in days, and of likely − true: above 0 is too late. */
  readonly errorDays: number | null;
  readonly biasDays: number | null;
  /** Share whose likely date lies within half of the time left. */
  readonly withinHalf: number | null;
  /** Limits that were not crossed in these days; of them those whose likely date lay within 30 days. */
  readonly notCrossed: number;
  readonly criedWolf: number;
  /** Of all that gave a date, whether the limit was crossed in these days or not: how many, crossed before the earliest date, and not crossed by the latest; what is between is inside the 80 % range. */
  readonly dated: number;
  readonly beforeEarliest: number | null;
  readonly afterLatest: number | null;
  /** Does each stated date come true with its share, whatever came? One row for each of 10, 25, 50, 75 and 90 %. */
  readonly crossedBy: readonly CrossedBy[];
  /** By these rows: crossed between the dates of 25 and 75 %, and of 10 and 90 %. */
  readonly held50: number | null;
  readonly held80: number | null;
  /** Limits that were said to be past, and of them those that were. */
  readonly saidPast: number;
  readonly werePast: number;
  readonly within: readonly StatedWithin[];
};

/** A branch is lived for so long: what is foreseen beyond can't be judged. */
const LIFE_DAYS = 365;
/** What came is counted within so many days. */
const CAME_DAYS = 180;
const SHARES = [0.1, 0.25, 0.5, 0.75, 0.9] as const;
/** Stated chances are held against what came within so many days. */
const WITHIN_DAYS = [30, 60, 90, 180, LIFE_DAYS] as const;

/** What was foreseen at a branch, limit by limit. */
export function forecastCases(branch: TrueBranch, report: RankingReport): ForecastCase[] {
  const row = report.ranking.find((one) => one.site === branch.site && one.generator === branch.generator);
  const atMs = Date.parse(branch.at);
  const days = (iso: string | null): number | null => (iso === null ? null : (Date.parse(iso) - atMs) / DAY_MS);
  return Object.entries(branch.crossings).map(([name, crossing]): ForecastCase => {
    const limit = name as LimitName;
    const trueDays = days(crossing ?? null);
    const forecast = row?.forecasts.find((one) => one.limit === limit);
    return { limit, trueDays: trueDays === null ? null : Math.max(0, trueDays), said: forecast === undefined ? null : quantilesOf(forecast, days) };
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

/** Limits that were passed when the branch began are no forecast: they count only where a date is held against what was true by then. */
export function scoreForecasts(all: readonly ForecastCase[]): ForecastScore {
  const ahead = all.filter(({ trueDays }) => trueDays !== 0);
  const cases = ahead.map((one) => ({ ...one, trueDays: one.trueDays !== null && one.trueDays <= CAME_DAYS ? one.trueDays : null }));
  const crossedBy = SHARES.map((share, index) => crossedByDate(all, share, index));
  const past = all.filter(saidPast);
  const came = cases.flatMap((one) => (one.trueDays === null ? [] : [{ ...one, trueDays: one.trueDays }]));
  const foreseen = came.filter(gaveDate).flatMap((one) => (one.said === null ? [] : [{ trueDays: one.trueDays, said: one.said }]));
  const errors = foreseen.flatMap(({ said, trueDays }) => (said[2] === null ? [Infinity] : [said[2] - trueDays]));
  const finite = (value: number | undefined): number | null => (value === undefined || !Number.isFinite(value) ? null : value);
  const dated = cases.filter(gaveDate);
  const spared = cases.filter((one) => one.trueDays === null);
  return {
    crossings: came.length,
    foreseen: foreseen.length,
    unsaid: came.filter(({ said }) => said === null).length,
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
    afterLatest: shareOf(dated, ({ said, trueDays }) => said![4] !== null && said![4] <= CAME_DAYS && (trueDays ?? Infinity) > said![4]),
    crossedBy,
    held50: heldBetween(crossedBy[1]!, crossedBy[3]!),
    held80: heldBetween(crossedBy[0]!, crossedBy[4]!),
    saidPast: past.length,
    werePast: past.filter(({ trueDays }) => trueDays === 0).length,
    within: WITHIN_DAYS.flatMap((days) => statedWithin(ahead.filter((one) => !saidPast(one)), days)),
  };
}

function saidPast({ said }: ForecastCase): boolean {
  return said !== null && said[2] !== null && said[2] <= 0;
}

/** Chosen by the stated date alone, never by what came: so a share that holds is one that may be relied on. What is said to be past now states no date. */
function crossedByDate(cases: readonly ForecastCase[], share: number, index: number): CrossedBy {
  const stated = cases.flatMap(({ said, trueDays }) => {
    const days = said?.[index] ?? null;
    return days === null || days <= 0 || days > LIFE_DAYS ? [] : [(trueDays ?? Infinity) <= days];
  });
  return { share, count: stated.length, crossed: stated.filter(Boolean).length };
}

function heldBetween(from: CrossedBy, to: CrossedBy): number | null {
  return from.count === 0 || to.count === 0 ? null : to.crossed / to.count - from.crossed / from.count;
}

/** Of a distribution only five dates are stated, so the chance within some days is known to lie between two of the shares. */
function statedWithin(cases: readonly ForecastCase[], days: number): StatedWithin[] {
  const bounds = [0, ...SHARES, 1];
  const reached = cases.map(({ said }) => said?.filter((date) => date !== null && date <= days).length ?? 0);
  return bounds.slice(0, -1).map((from, index) => {
    const own = cases.filter((_, i) => reached[i] === index);
    return { days, from, to: bounds[index + 1]!, count: own.length, crossed: own.filter(({ trueDays }) => trueDays !== null && trueDays <= days).length };
  });
}
