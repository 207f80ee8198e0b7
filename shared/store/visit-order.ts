import type { Visit } from '../visit.ts';
import type { VisitQuery, VisitSaved } from './record-store.ts';

/** What becomes of a save, given the newest revision kept: the visit to keep, or the answer at once. */
export function nextRevision(newest: Visit | undefined, visit: Visit): { readonly keep: Visit } | VisitSaved {
  if (visit.revision === (newest?.revision ?? 0)) return { keep: { ...visit, revision: visit.revision + 1 } };
  // Sent again because the answer was lost on the way: what it would have become is what is there, but for the time of the save.
  if (newest !== undefined && isSame(newest, { ...visit, revision: visit.revision + 1, updatedAt: newest.updatedAt })) return { saved: newest };
  return { stale: newest };
}

function isSame(one: unknown, other: unknown): boolean {
  if (typeof one !== 'object' || typeof other !== 'object' || one === null || other === null) return one === other;
  const [left, right] = [Object.entries(one).filter(([, value]) => value !== undefined), other as Record<string, unknown>];
  return left.length === Object.values(right).filter((value) => value !== undefined).length && left.every(([name, value]) => isSame(value, right[name]));
}

/** In order of day (those without one last), time of day (those without one first), id. */
export function byPlan(a: Visit, b: Visit): number {
  return compare(a.plannedFor ?? '9999', b.plannedFor ?? '9999') || compare(a.plannedTime ?? '', b.plannedTime ?? '') || compare(a.id, b.id);
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

export function isVisitAsked(visit: Visit, query: VisitQuery): boolean {
  const dated = query.fromDay !== undefined || query.toDay !== undefined;
  return (
    (query.site === undefined || visit.site === query.site) &&
    (query.states === undefined || query.states.includes(visit.state)) &&
    (query.technician === undefined || visit.technician === query.technician) &&
    (!dated || (visit.plannedFor !== null && visit.plannedFor >= (query.fromDay ?? '') && visit.plannedFor <= (query.toDay ?? '9999')))
  );
}
