import ical, { ICalCalendarMethod, ICalEventStatus, type ICalEventData } from 'ical-generator';
import type { Visit } from '../../shared/visit.ts';
import { momentOf } from './calendar-days.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

/** A visit with the names that a calendar shows. */
export type CalendarVisit = { readonly visit: Visit; readonly siteName: string; readonly address: string | null; readonly access: string | null; readonly timeZone: string; readonly why: readonly string[] };

/**
 * Visits as a calendar. An event keeps its UID through all revisions and counts SEQUENCE up, so that a calendar moves it
 * instead of adding another; a cancelled visit stays as CANCELLED, so that it goes from calendars too. Times are UTC. A visit
 * without an agreed time is an event of the whole day. A visit without a day is left out.
 * @see RFC 5545, sections 3.8.4.7 (UID), 3.8.7.4 (SEQUENCE)
 */
export function visitCalendar(visits: readonly CalendarVisit[], name: string): string {
  const calendar = ical({ name, prodId: { company: 'Lull', product: 'visits', language: 'EN' }, method: ICalCalendarMethod.PUBLISH, ttl: 900 });
  for (const one of visits) {
    const event = eventOf(one);
    if (event !== undefined) calendar.createEvent(event);
  }
  return calendar.toString();
}

function eventOf({ visit, siteName, address, access, timeZone, why }: CalendarVisit): ICalEventData | undefined {
  if (visit.plannedFor === null) return undefined;
  const allDay = visit.plannedTime === null;
  const startMs = allDay ? Date.parse(`${visit.plannedFor}T00:00:00Z`) : momentOf(visit.plannedFor, visit.plannedTime ?? '', timeZone);
  const lines = [
    ...why,
    `Generators: ${visit.generators.join(', ')}.`,
    ...(visit.bring.length === 0 ? [] : [`Bring: ${visit.bring.join(', ')}.`]),
    ...(access === null ? [] : [`Access: ${access}.`]),
    ...(visit.withTest === null ? [] : ["Together with the sprinkler contractor's test."]),
    ...(visit.note === '' ? [] : [visit.note]),
    "Tell the owner's impairment coordinator and the supervising station first, then close anything. Maintenance information only; it replaces no required signal, inspection or test.",
  ];
  return {
    id: `${visit.id}@lull`,
    sequence: visit.revision,
    stamp: new Date(visit.updatedAt),
    lastModified: new Date(visit.updatedAt),
    start: new Date(startMs),
    end: new Date(startMs + (allDay ? DAY_MS : visit.hours * HOUR_MS)),
    allDay,
    summary: `${siteName}: ${visit.procedure === 'service' ? 'nitrogen generator' : 'find the leak'}${visit.state === 'draft' ? ' (draft)' : ''}`,
    location: address ?? siteName,
    description: lines.join('\n'),
    status: visit.state === 'cancelled' ? ICalEventStatus.CANCELLED : visit.state === 'draft' ? ICalEventStatus.TENTATIVE : ICalEventStatus.CONFIRMED,
  };
}
