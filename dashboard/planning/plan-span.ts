import type { PlanAnswer, PlanDay, PlannedTest, PlanNeed, PlanTrip, Technician, WayHours } from '../../shared/plan.ts';
import type { Visit } from '../../shared/visit.ts';
import { daysBetween, dayPlus, planDayWords } from './calendar-days.ts';
import { dayHours, hoursOf, isAway, USUAL_WAY } from './capacity.ts';
import { bringList, combineTrips, deadlineOf } from './combine-trips.ts';
import { type Placed, type Proposal, proposeWeek, testOn } from './propose-week.ts';
import { slipSays } from './slip-words.ts';

export type PlanParams = {
  readonly at: string | null;
  readonly fromDay: string;
  readonly days: number;
  /** Proposals lie on today and later only. */
  readonly today: string;
  readonly needs: readonly PlanNeed[];
  readonly visits: readonly Visit[];
  readonly technicians: readonly Technician[];
  readonly tests: readonly PlannedTest[];
  /** `USUAL_WAY` when left out. */
  readonly way?: WayHours;
  readonly sites: ReadonlyMap<string, { readonly name: string; readonly area: string | null; readonly access: string | null; readonly timeZone: string }>;
};

/** Everything that the page Plan shows for a span of days: what stands, what is proposed, what is left, and why. */
export function planSpan(params: PlanParams): PlanAnswer {
  const days = Array.from({ length: params.days }, (_, index) => dayPlus(params.fromDay, index));
  const toDay = days.at(-1) ?? params.fromDay;
  const live = params.visits.filter((visit) => visit.state !== 'cancelled');
  const ahead = live.filter((visit) => visit.state === 'draft' || visit.state === 'planned' || visit.state === 'under-way');
  const taken = new Set(ahead.flatMap((visit) => visit.generators.map((generator) => `${visit.site}/${generator}`)));
  const free = params.needs.filter((need) => !taken.has(`${need.site}/${need.generator}`));
  const combined = combineTrips(free, toDay);
  const standing = live.filter((visit) => visit.plannedFor !== null && visit.plannedFor >= params.fromDay && visit.plannedFor <= toDay).map((visit) => standingTrip(visit, params));
  const undated = ahead.filter((visit) => visit.plannedFor === null).map((visit) => standingTrip(visit, params));
  const fixed = standing.flatMap((trip) => (trip.technician === null || trip.day === null ? [] : [{ day: trip.day, technician: trip.technician, site: trip.site, area: trip.area, hours: trip.hours }]));
  const proposal = proposeWeek({ trips: combined.trips, days: days.filter((day) => day >= params.today), technicians: params.technicians, fixed, tests: params.tests, way: wayOf(params) });
  const proposed = proposal.placed.map((placed) => proposedTrip(placed, proposal, standing, params));
  const trips = [...standing, ...proposed];
  return {
    at: params.at, today: params.today, fromDay: params.fromDay, toDay, days: days.map((day) => planDay(day, trips, params)),
    trips: [...trips.map((trip) => withWarnings(trip, trips, params)), ...undated].sort(byDayAndPerson),
    left: proposal.left.map(({ trip, says }) => ({ trip: { ...trip, slip: slipSays(trip.needs, params.today) }, says })),
    later: [...combined.later].sort((a, b) => (a.need.byDay ?? '9999').localeCompare(b.need.byDay ?? '9999')),
    says: proposalSays(proposal, params), technicians: params.technicians, way: wayOf(params), tests: params.tests,
  };
}

function wayOf({ way = USUAL_WAY }: Pick<PlanParams, 'way'>): WayHours {
  return way;
}

function byDayAndPerson(a: PlanTrip, b: PlanTrip): number {
  return (a.day ?? '9999').localeCompare(b.day ?? '9999') || (a.technician ?? '').localeCompare(b.technician ?? '') || (a.visit?.plannedTime ?? '99').localeCompare(b.visit?.plannedTime ?? '99') || a.siteName.localeCompare(b.siteName) || a.key.localeCompare(b.key);
}

/** A visit that people planned, with what is known of its generators now. */
function standingTrip(visit: Visit, { needs, sites, tests }: PlanParams): PlanTrip {
  const mine = needs.filter((need) => need.site === visit.site && visit.generators.includes(need.generator));
  const site = sites.get(visit.site);
  const day = visit.plannedFor;
  const trip: PlanTrip = {
    key: visit.id, visit, site: visit.site, siteName: site?.name ?? visit.site, area: site?.area ?? null, access: site?.access ?? null, timeZone: site?.timeZone ?? 'UTC', needs: mine, generators: visit.generators, findings: visit.findings,
    day, technician: visit.technician, trade: mine[0]?.trade ?? 'generator-technician', hours: visit.hours, bring: visit.bring.length > 0 ? visit.bring : bringList(mine), atOnce: mine.some((need) => need.atOnce), byDay: deadlineOf(mine), withTest: visit.withTest, because: [], warnings: [], slip: [],
  };
  const done = visit.state === 'recorded' || visit.state === 'verified';
  const test = day === null ? undefined : testOn(trip, day, tests);
  return { ...trip, withTest: visit.withTest ?? test?.id ?? null, slip: day === null || done ? [] : slipSays(mine, day), because: trip.withTest !== null || test !== undefined ? ['On the day of the sprinkler contractor\'s test there.'] : [] };
}

function proposedTrip({ trip, slot, moved }: Placed, proposal: Proposal, standing: readonly PlanTrip[], { tests, today }: PlanParams): PlanTrip {
  const test = testOn(trip, slot.day, tests);
  const sameDay = [...standing.filter((one) => one.day === slot.day && one.technician === slot.technician), ...proposal.placed.filter((one) => one.trip !== trip && one.slot === slot).map((one) => one.trip)];
  const near = sameDay.filter((one) => one.area !== null && one.area === trip.area && one.site !== trip.site).map((one) => one.siteName);
  const because = [
    deadlineSays(trip, today),
    ...(test === undefined ? [] : ["On the day of the sprinkler contractor's test there: coordinator and station are told once."]),
    ...(near.length === 0 ? [] : [`${slot.technician} is in the same area that day: ${[...new Set(near)].join(', ')}.`]),
    ...(trip.needs.length > 1 ? [`${trip.needs.length} generators of the site in one trip.`] : []),
    ...(moved ? ['Moved from the first place it fitted, because that makes the days cheaper as a whole.'] : []),
  ];
  return { ...trip, day: slot.day, technician: slot.technician, withTest: test?.id ?? null, because, slip: slipSays(trip.needs, slot.day) };
}

/** By when, and what makes the date. */
function deadlineSays(trip: PlanTrip, today: string): string {
  if (trip.atOnce) return 'Should not wait.';
  if (trip.byDay === null) return 'No date presses.';
  const need = trip.needs.find((one) => one.byDay === trip.byDay);
  const from = need?.byBecause === 'due' ? "the maker's interval by days or hours" : 'its condition';
  const also = need !== undefined && need.dueDay !== null && need.byBecause === 'condition' ? `; by the maker's interval ${planDayWords(need.dueDay, today)}` : '';
  return `${trip.byDay < today ? 'Its date was' : trip.byDay === today ? 'Its date is today,' : 'Can wait until'} ${planDayWords(trip.byDay, today)}, from ${from}${also}.`;
}

function withWarnings(trip: PlanTrip, trips: readonly PlanTrip[], { technicians, today, way = USUAL_WAY }: PlanParams): PlanTrip {
  const { day, technician, visit } = trip;
  if (day === null || visit?.state === 'recorded' || visit?.state === 'verified') return trip;
  const person = technicians.find((one) => one.name === technician);
  const warnings: string[] = [];
  if (trip.byDay !== null && day > trip.byDay && !trip.atOnce) warnings.push(`${daysBetween(trip.byDay, day)} ${daysBetween(trip.byDay, day) === 1 ? 'day' : 'days'} after its date.`);
  if (trip.atOnce && daysBetween(today, day) > 0) warnings.push(`Should not wait, and goes in ${daysBetween(today, day)} ${daysBetween(today, day) === 1 ? 'day' : 'days'}.`);
  if (day < today && visit?.state !== 'under-way') warnings.push('Its day is past and nothing is recorded.');
  if (technician === null) warnings.push('Nobody is named.');
  else if (person === undefined) warnings.push(`${technician} is not in the list of people.`);
  else {
    const stops = trips.filter((one) => one.day === day && one.technician === technician);
    const [used, has] = [dayHours(stops, way), hoursOf(person, day)];
    if (isAway(person, day)) warnings.push(`${technician} is away that day.`);
    else if (used > has + 1e-9) warnings.push(`${technician} has ${has} h that day; ${Math.round(used * 10) / 10} h are planned, the way included.`);
    if (!person.trades.includes(trip.trade) && trip.needs.length > 0) warnings.push(`Who must go: ${trip.needs[0]?.whoMustGo}.`);
  }
  return { ...trip, warnings };
}

function planDay(day: string, trips: readonly PlanTrip[], { technicians, way = USUAL_WAY }: PlanParams): PlanDay {
  const people = technicians.filter((one) => !one.left).map((one) => {
    const mine = trips.filter((trip) => trip.day === day && trip.technician === one.name);
    const planned = dayHoursOrZero(mine.filter((trip) => trip.visit !== null), way);
    return { name: one.name, hours: hoursOf(one, day), plannedHours: planned, proposedHours: dayHoursOrZero(mine, way) - planned, away: isAway(one, day) };
  });
  return { day, people };
}

function dayHoursOrZero(trips: readonly PlanTrip[], way: WayHours): number {
  return trips.length === 0 ? 0 : dayHours(trips, way);
}

/** How the proposal came about, for a lead who wants to know. */
function proposalSays(proposal: Proposal, { technicians, way = USUAL_WAY }: PlanParams): string[] {
  const working = technicians.filter((one) => !one.left).length;
  if (working === 0) return ['Nobody is entered who could go. Enter who can be sent, and on which days, and days are proposed.'];
  if (proposal.placed.length === 0) return proposal.left.length === 0 ? ['Nothing more has to be seen in these days.'] : [];
  const saved = Math.round((proposal.costBefore - proposal.costAfter) * 10) / 10;
  return [
    `Trips are placed one after another: first what should not wait, then by date, each on the day and with the person where it costs least – date kept, hours free, same area, same day as a test.`,
    proposal.exchanges === 0 ? 'No move or swap of two trips made it better.' : `Then ${proposal.exchanges} ${proposal.exchanges === 1 ? 'move or swap' : 'moves and swaps'} made it better${saved > 0 ? `, worth ${saved} h of driving` : ''}.`,
    `The way is counted as ${way.areaHours} h into an area and ${way.nextSiteHours} h to each further site there. It is a start, not the best of all plans; change what you know better.`,
    ...(proposal.placed.some(({ trip }) => (trip.access ?? '') !== '') ? ['What a site says of its access is words, and is not taken into account: it stands beside each day.'] : []),
  ];
}
