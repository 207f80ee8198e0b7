import type { PlanTrip } from '../../shared/plan.ts';
import type { Visit } from '../../shared/visit.ts';
import { post } from './api.ts';

export type TripChanges = Partial<Pick<Visit, 'state' | 'plannedFor' | 'plannedTime' | 'technician' | 'hours' | 'note' | 'bring'>>;

/** Save a trip of the plan as the next revision of its visit; a proposed one becomes a visit by this. The server refuses it when somebody else saved meanwhile. */
export function saveTrip(trip: PlanTrip, changes: TripChanges, by: string): Promise<Visit> {
  const { updatedAt: _at, updatedBy: _by, ...visit } = trip.visit ?? { updatedAt: '', updatedBy: '', ...newVisit(trip) };
  return post<Visit>('/trips', { ...visit, ...changes, by });
}

function newVisit(trip: PlanTrip): Record<string, unknown> {
  return {
    site: trip.site, generators: trip.generators, state: 'draft', plannedFor: trip.day, technician: trip.technician, hours: trip.hours, findings: trip.findings, bring: trip.bring, withTest: trip.withTest, revision: 0,
    procedure: trip.needs.length > 0 && trip.needs.every((need) => need.cause === 'leak') ? 'find-the-leak' : 'service',
  };
}
