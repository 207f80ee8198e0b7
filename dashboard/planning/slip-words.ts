import type { Forecast, LimitName } from '../../shared/finding.ts';
import type { PlanNeed } from '../../shared/plan.ts';
import { dayPlus, daysBetween, planDayWords } from './calendar-days.ts';

const LIMITS: Readonly<Record<LimitName, string>> = { dutyRatio: 'the duty ratio', elementDropKPa: 'the pressure drop over the elements', nitrogen: 'nitrogen', deliveryShare: 'delivery' };

/** The chance that a limit is crossed by a day, as far as the forecast says: between its five dates in a straight line. */
export type Chance = { readonly percent: number; readonly atMost: boolean; readonly atLeast: boolean };

export function chanceBy(forecast: Forecast, day: string): Chance | undefined {
  const known = ([[10, forecast.earliest], [25, forecast.quarterFrom], [50, forecast.likely], [75, forecast.quarterTo], [90, forecast.latest]] as const).flatMap(([percent, at]) => (at === null ? [] : [{ percent, ms: Date.parse(at) }]));
  const first = known[0];
  const last = known.at(-1);
  if (first === undefined || last === undefined) return undefined;
  // Until the day is over.
  const ms = Date.parse(`${dayPlus(day, 1)}T00:00:00Z`);
  if (ms <= first.ms) return { percent: first.percent, atMost: true, atLeast: false };
  if (ms >= last.ms) return { percent: last.percent, atMost: false, atLeast: true };
  const after = known.findIndex((one) => one.ms >= ms);
  const [low, high] = [known[after - 1]!, known[after]!];
  return { percent: Math.round(low.percent + ((high.percent - low.percent) * (ms - low.ms)) / Math.max(1, high.ms - low.ms)), atMost: false, atLeast: false };
}

/** `below 10 %`, `about 35 %`, `90 % or more`. */
export function chanceWords(chance: Chance): string {
  if (chance.atMost) return `below ${chance.percent} %`;
  return chance.atLeast ? `${chance.percent} % or more` : `about ${chance.percent} %`;
}

/** What it means if a visit on `day` is made `days` later: the chance to pass the limit, the maker's interval, what should not wait. */
export function slipSays(needs: readonly PlanNeed[], day: string, days = 7): string[] {
  const later = dayPlus(day, days);
  return needs.flatMap((need) => {
    const says: string[] = [];
    const name = needs.length > 1 ? `${need.generatorName}: ` : '';
    if (need.atOnce) says.push(`${name}should not wait; each day counts.`);
    const [now, then] = need.forecast === null || need.limit === null ? [undefined, undefined] : [chanceBy(need.forecast, day), chanceBy(need.forecast, later)];
    if (!need.atOnce && now !== undefined && then !== undefined && need.limit !== null) {
      says.push(chanceWords(now) === chanceWords(then) ? `${name}the chance that ${LIMITS[need.limit]} passes its limit stays ${chanceWords(then)}.` : `${name}the chance that ${LIMITS[need.limit]} passes its limit rises from ${chanceWords(now)} to ${chanceWords(then)}.`);
    }
    if (need.dueDay !== null && need.dueDay < later) {
      const [past, pastNow] = [daysBetween(need.dueDay, later), daysBetween(need.dueDay, day)];
      says.push(pastNow > 0 ? `${name}service, ${pastNow} days past due, would be ${past}.` : `${name}service would be ${past} ${past === 1 ? 'day' : 'days'} past due (${planDayWords(need.dueDay, day)}).`);
    }
    return says;
  });
}
