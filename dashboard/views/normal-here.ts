import type { DayRow } from '../../shared/cycle.ts';

/** What a technician finds here on a usual day: medians of the last 30 whole days, `null` where the days can't tell. */
export type NormalHere = {
  readonly days: number;
  readonly dutyRatio: number | null;
  readonly meanRunMin: number | null;
  readonly meanRestMin: number | null;
  readonly cutInKPa: number | null;
  readonly cutOutKPa: number | null;
  readonly systemKPa: number | null;
  readonly elementDropKPa: number | null;
  readonly nitrogenPercent: number | null;
  /** NL/min, where the tank's litres are known. */
  readonly demandNLPerMin: number | null;
};

const WINDOW_DAYS = 30;
/** A low quantile of demand is what the piping draws on a quiet day; what weather adds is no leak. */
const QUIET = 0.25;

/** `days` in order of time. Days that were mostly filling, purging or under test are left out, provisional ones too. */
export function normalHere(days: readonly DayRow[]): NormalHere {
  const usable = days.filter((day) => !day.provisional && day.holdingRatio >= 0.5 && day.coveredS > 0).slice(-WINDOW_DAYS);
  const middle = (pick: (day: DayRow) => number | null | undefined, share = 0.5): number | null => quantile(usable.map(pick), share);
  const perStart = (pick: (day: DayRow) => number): number | null => middle((day) => (day.starts > 0 ? pick(day) / day.starts / 60 : null));
  const nitrogen = middle((day) => day.nitrogen?.value);
  return {
    days: usable.length,
    dutyRatio: middle((day) => day.dutyRatio), meanRunMin: perStart((day) => day.runS), meanRestMin: perStart((day) => day.restS),
    cutInKPa: middle((day) => day.cutInKPa), cutOutKPa: middle((day) => day.cutOutKPa), systemKPa: middle((day) => day.systemKPa?.value), elementDropKPa: middle((day) => day.elementDropKPa?.value),
    nitrogenPercent: nitrogen === null ? null : nitrogen * 100,
    demandNLPerMin: middle((day) => (day.unit === 'NL/min' ? day.demand?.value : null), QUIET),
  };
}

function quantile(values: readonly (number | null | undefined)[], share: number): number | null {
  const known = values.filter((value): value is number => value !== null && value !== undefined && Number.isFinite(value)).sort((a, b) => a - b);
  return known[Math.min(known.length - 1, Math.floor(known.length * share))] ?? null;
}
