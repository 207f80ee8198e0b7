import type { PlanNeed, PlanTrip } from '../../shared/plan.ts';
import { dayPlus } from './calendar-days.ts';

/** A date so soon after the span is worth going for within it: a span later it might be too late. Our choice. */
const AHEAD_DAYS = 7;
/** What can wait longer, but not longer than this after the span, is done when somebody is at the site anyway. Our choice. */
const ALONG_DAYS = 45;

export type Combined = { readonly trips: readonly PlanTrip[]; readonly later: readonly { readonly need: PlanNeed; readonly says: string }[] };

/**
 * One trip for each site and trade: what must be seen in the span from today on or soon after it, and with it whatever else is
 * known at that site within reach. Shelved findings and what somebody on site must do first make no trip.
 */
export function combineTrips(needs: readonly PlanNeed[], toDay: string): Combined {
  const groups = new Map<string, PlanNeed[]>();
  const later: { need: PlanNeed; says: string }[] = [];
  for (const need of needs) {
    if (need.shelvedUntil !== null && need.shelvedUntil.slice(0, 10) > toDay) later.push({ need, says: `shelved until ${need.shelvedUntil.slice(0, 10)}` });
    else if (need.cause === 'no-power') later.push({ need, says: 'somebody on site looks at the breaker first' });
    else groups.set(`${need.site} ${need.trade}`, [...(groups.get(`${need.site} ${need.trade}`) ?? []), need]);
  }
  const trips: PlanTrip[] = [];
  for (const [key, members] of groups) {
    const must = members.filter((need) => need.atOnce || (need.byDay !== null && need.byDay <= dayPlus(toDay, AHEAD_DAYS)));
    const along = members.filter((need) => !must.includes(need) && need.byDay !== null && need.byDay <= dayPlus(toDay, ALONG_DAYS));
    const going = must.length === 0 ? [] : [...must, ...along];
    if (going.length > 0) trips.push(tripOf(key, going));
    for (const need of members) if (!going.includes(need)) later.push({ need, says: need.byDay === null ? 'no date' : 'can wait beyond these days' });
  }
  return { trips, later };
}

/** A trip to one site for one trade, not yet on a day. */
function tripOf(key: string, needs: readonly PlanNeed[]): PlanTrip {
  const first = needs[0]!;
  const sorted = [...needs].sort((a, b) => Number(b.atOnce) - Number(a.atOnce) || (a.byDay ?? '9999').localeCompare(b.byDay ?? '9999'));
  return {
    key, visit: null, site: first.site, siteName: first.siteName, area: first.area, access: first.access, timeZone: first.timeZone, needs: sorted,
    generators: sorted.map((need) => need.generator), findings: sorted.flatMap((need) => need.findings), day: null, technician: null, trade: first.trade,
    hours: Math.round(sorted.reduce((sum, need) => sum + need.hours, 0) * 2) / 2, bring: bringList(sorted), atOnce: sorted.some((need) => need.atOnce), byDay: deadlineOf(sorted), withTest: null, because: [], warnings: [], slip: [],
  };
}

/** The earliest day by which one of them should be seen. */
export function deadlineOf(needs: readonly PlanNeed[]): string | null {
  return needs.flatMap((need) => need.byDay ?? []).sort()[0] ?? null;
}

/** What all of them want, each once with how many times: `2 × carbon element`. Tools are carried once. */
export function bringList(needs: readonly PlanNeed[]): string[] {
  const counts = new Map<string, number>();
  for (const need of needs) for (const item of need.bring) counts.set(item, (counts.get(item) ?? 0) + 1);
  return [...counts].map(([item, count]) => (count > 1 && IS_PART.test(item) ? `${count} × ${item}` : item));
}

/** What stays at the generator, unlike a gauge or a spray. */
const IS_PART = /element|o-rings|^condensate drain$|rebuild parts|check valve|switch|compressor valves|belt|starter|sensor of/;
