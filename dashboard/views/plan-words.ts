import type { PlanNeed, PlanTrip, Trade } from '../../shared/plan.ts';
import type { VisitState } from '../../shared/visit.ts';
import { workWords } from './being-checked.ts';
import { weekdayWords } from './site-time.ts';

export const VISIT_STATE_WORDS: Readonly<Record<VisitState, string>> = { draft: 'draft', planned: 'planned', 'under-way': 'under way', recorded: 'recorded', verified: 'verified', cancelled: 'cancelled' };
export const TRADE_WORDS: Readonly<Record<Trade, string>> = { 'generator-technician': 'generator technician', 'sprinkler-fitter': 'licensed sprinkler fitter', 'instrument-person': 'instrument and gateway person' };

/** 3 → `3 h`, 2.5 → `2.5 h`. */
export function hoursWords(hours: number): string {
  return `${Math.round(hours * 10) / 10}\u00a0h`;
}

/** Why somebody goes to a generator, and by when: `the elements are loading; can wait until Thu 3 Dec`; a date before `today` was its date, that of today is. */
export function needWords(need: Pick<PlanNeed, 'causeSays' | 'atOnce' | 'byDay' | 'byBecause' | 'dueDay' | 'state' | 'servedAt' | 'timeZone'>, today: string, nowMs: number): string {
  const work = workWords(need, need.timeZone, nowMs);
  const when = need.atOnce ? 'should not wait' : need.byDay === null ? 'no date presses' : need.byDay === today ? 'its date is today' : `${need.byDay < today ? 'its date was' : 'can wait until'} ${weekdayWords(need.byDay, today)}`;
  const due = need.atOnce ? '' : need.dueDay !== null && need.byBecause === 'condition' ? `; service by days or hours ${need.dueDay < today ? 'was' : 'is'} due ${weekdayWords(need.dueDay, today)}` : need.byBecause === 'due' ? ', by days or running hours' : '';
  return `${need.causeSays}${work === null ? '' : `; ${work}`}; ${when}${due}`;
}

/** What a trip is called where it stands alone, for labels. */
export function tripName(trip: Pick<PlanTrip, 'siteName' | 'day'>): string {
  return trip.day === null ? trip.siteName : `${trip.siteName}, ${weekdayWords(trip.day)}`;
}
