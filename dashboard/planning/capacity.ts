import type { Technician, WayHours } from '../../shared/plan.ts';
import { weekdayOf } from './calendar-days.ts';

/** The way until somebody says otherwise. Our choice: no distances are known. */
export const USUAL_WAY: WayHours = { areaHours: 1, nextSiteHours: 0.5 };

/** Hours that somebody has on a day; 0 when away. */
export function hoursOf(technician: Technician, day: string): number {
  return isAway(technician, day) ? 0 : (technician.hoursByWeekday[weekdayOf(day)] ?? 0);
}

export function isAway(technician: Technician, day: string): boolean {
  return technician.away.some((span) => span.from <= day && day <= span.to);
}

/** A stop of somebody's day. */
export type Stop = { readonly site: string; readonly area: string | null; readonly hours: number };

/** Hours that a day's stops take, the way included: into each area once, and on to each further site in it. Asked very often, so without maps. */
export function dayHours(stops: readonly Stop[], way: WayHours = USUAL_WAY): number {
  let hours = 0;
  for (const [index, stop] of stops.entries()) {
    hours += stop.hours;
    let known = false;
    let near = false;
    for (let before = 0; before < index; before += 1) {
      const other = stops[before]!;
      if (other.site === stop.site) known = true;
      // A site without an area is an area of its own.
      else if (stop.area !== null && other.area === stop.area) near = true;
    }
    if (!known) hours += near ? way.nextSiteHours : way.areaHours;
  }
  return hours;
}
