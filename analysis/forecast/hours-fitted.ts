import { normalCdf } from '../change/normal.ts';

/**
 * Running hours at which the drop over elements is past its limit: a lognormal with this middle and standard deviation of the logarithm.
 * Elements are changed at 1,000 to 4,000 h (common practice, no source), at a drop of 35 to 70 kPa: the limit comes later than most changes.
 */
const LIFE_MIDDLE_H = 3000;
const LIFE_SD = 0.6;
/** A drain that is shut fills bowls at any age; what it took in the mean where nothing sent shows it, on tuning worlds. */
const ANY_AGE_H = 5;

/**
 * Hours past the limit of drop to expect in the days ahead, of elements of which nothing is sent: by how long they have run since they
 * were fitted, if running goes on as it went.
 */
export function hoursPastByAge(hoursRun: number, hoursPerDay: number, daysAhead: number): number {
  let past = ANY_AGE_H;
  for (let day = 0; day < daysAhead; day += 1) {
    const hours = hoursRun + (day + 0.5) * hoursPerDay;
    if (hours > 0) past += 24 * normalCdf(Math.log(hours / LIFE_MIDDLE_H) / LIFE_SD);
  }
  return Math.min(24 * daysAhead, past);
}
