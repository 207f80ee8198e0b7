import type { DayRow } from '../../shared/cycle.ts';
import { median } from '../change/robust.ts';

/** Standard error of a day's demand, as a share of it, from which on it comes and goes, so many times what it was over the days before. Common practice, no source. */
const COMES_AND_GOES = 0.2;
const WITHIN_TIMES = 3;
const WITHIN_DAYS = 60;

/** What is drawn changes within the day by so much more than it did that what is made, each run by its own rest, can't be told from it. */
export function comesAndGoes(rows: readonly DayRow[]): boolean {
  const shares = rows.slice(-WITHIN_DAYS).flatMap(({ demand }) => (demand === null ? [] : [demand.se / demand.value]));
  const now = median(shares.slice(-3)) ?? 0;
  return now > COMES_AND_GOES && now > WITHIN_TIMES * median(shares.slice(0, -3))!;
}
