// World: needs, people and tests that are plainly invented, by hand.
import type { PlannedTest, PlanNeed, PlanTrip, Technician } from '../../../shared/plan.ts';
import { technicianSchema } from '../../../shared/plan.ts';
import { combineTrips } from '../../../dashboard/planning/combine-trips.ts';

export const MONDAY = '2026-11-30';

export function need(site: string, more: Partial<PlanNeed> = {}): PlanNeed {
  return {
    site, siteName: `Invented ${site}`, area: 'harbour', access: null, timeZone: 'Europe/Lisbon', generator: 'gen-1', generatorName: 'Generator 1', findings: [`finding-${site}`], cause: 'element-loading', causeSays: 'the elements are loading', state: 'acknowledged', servedAt: null, shelvedUntil: null,
    trade: 'generator-technician', whoMustGo: 'generator technician', hours: 2, bring: ['coalescing element', 'reference gauge'], atOnce: false, byDay: '2026-12-03', byBecause: 'condition', limit: 'elementDropKPa', dueDay: null, forecast: null, ...more,
  };
}

export function person(name: string, more: Partial<Technician> = {}): Technician {
  return technicianSchema.parse({ name, trades: ['generator-technician'], hoursByWeekday: [8, 8, 8, 8, 8, 0, 0], ...more });
}

export function test_(site: string, startedAt: string): PlannedTest {
  return { id: `test-${site}`, site, siteName: `Invented ${site}`, area: 'harbour', timeZone: 'Europe/Lisbon', kind: 'trip-test', startedAt, finishedAt: new Date(Date.parse(startedAt) + 7_200_000).toISOString(), generators: ['gen-1'], by: 'Sprinkler contractor', note: '' };
}

export function tripsOf(needs: readonly PlanNeed[], toDay = '2026-12-06'): readonly PlanTrip[] {
  return combineTrips(needs, toDay).trips;
}
