import type { PlannedTest, PlanTrip, Technician, WayHours } from '../../shared/plan.ts';
import { dayAt, daysBetween } from './calendar-days.ts';
import { dayHours, hoursOf, type Stop, USUAL_WAY } from './capacity.ts';

/** Somewhere to go: a person on a day. */
export type Slot = { readonly day: string; readonly technician: string };
/** A visit that stands already and isn't moved: it takes hours, and makes its area cheaper to go to. */
export type FixedStop = Slot & Stop;
export type Placed = { readonly trip: PlanTrip; readonly slot: Slot; readonly moved: boolean };
export type Proposal = { readonly placed: readonly Placed[]; readonly left: readonly { readonly trip: PlanTrip; readonly says: string }[]; readonly costBefore: number; readonly costAfter: number; readonly exchanges: number };

type Setting = { readonly slots: readonly Slot[]; readonly room: ReadonlyMap<string, number>; readonly fixed: ReadonlyMap<string, readonly Stop[]>; readonly tests: readonly PlannedTest[]; readonly people: ReadonlyMap<string, Technician>; readonly way: WayHours };
/** Where each trip stands, and what stands on each slot: a change is judged by the slots that it touches, never by the whole. */
type Assignment = { readonly at: Map<PlanTrip, Slot | null>; readonly on: Map<Slot, Set<PlanTrip>> };

/* Costs, in hours of driving that we would trade for them. Our choice; only their order matters much. */
/** A trip that finds no place; more when it should not wait. */
const UNPLACED = 60;
const UNPLACED_AT_ONCE = 600;
/** A day past its date, and being past it at all. */
const LATE_DAY = 4;
const LATE = 12;
/** A day's waiting of what should not wait. */
const AT_ONCE_DAY = 40;
/** A day later than need be: later days are kept free for what is found meanwhile. */
const LATER_DAY = 0.15;
/** Going on the day of the contractor's test saves the site a second round of telling everybody. */
const WITH_TEST = 5;
/** More than this many trips are not tried in one span; the latest dates are left. */
const MOST_TRIPS = 120;
const MOST_ROUNDS = 8;

/**
 * A week that a lead can start from: trips by date, each to where it costs least (date kept, hours free, same area, same day as
 * a test), then moves and swaps of two trips as long as one makes the whole cheaper. No promise of the best plan; the
 * lead changes it.
 */
export function proposeWeek(params: { readonly trips: readonly PlanTrip[]; readonly days: readonly string[]; readonly technicians: readonly Technician[]; readonly fixed: readonly FixedStop[]; readonly tests: readonly PlannedTest[]; readonly way?: WayHours }): Proposal {
  const setting = settingOf(params);
  const ordered = [...params.trips].sort((a, b) => Number(b.atOnce) - Number(a.atOnce) || (a.byDay ?? '9999').localeCompare(b.byDay ?? '9999') || b.hours - a.hours || a.key.localeCompare(b.key));
  const tried = ordered.slice(0, MOST_TRIPS);
  const assignment: Assignment = { at: new Map(tried.map((trip) => [trip, null])), on: new Map(setting.slots.map((slot) => [slot, new Set()])) };
  for (const trip of tried) put(trip, cheapest(trip, assignment, setting), assignment);
  const greedy = new Map(assignment.at);
  const costBefore = costOf(assignment, setting);
  const exchanges = exchange(tried, assignment, setting);
  const placed = tried.flatMap((trip): Placed[] => {
    const slot = assignment.at.get(trip);
    return slot === null || slot === undefined ? [] : [{ trip, slot, moved: greedy.get(trip) !== slot }];
  });
  const left = ordered.filter((trip) => (assignment.at.get(trip) ?? null) === null).map((trip) => ({ trip, says: assignment.at.has(trip) ? whyLeft(trip, setting) : `only ${MOST_TRIPS} trips are tried at once, those with the nearest dates; plan some, and the next ones follow` }));
  return { placed, left, costBefore, costAfter: costOf(assignment, setting), exchanges };
}

const slotKey = (slot: Slot): string => `${slot.day} ${slot.technician}`;

function settingOf({ days, technicians, fixed, tests, way = USUAL_WAY }: Parameters<typeof proposeWeek>[0]): Setting {
  const working = technicians.filter((one) => !one.left);
  const slots = days.flatMap((day) => working.filter((one) => hoursOf(one, day) > 0).map((one) => ({ day, technician: one.name })));
  const taken = new Map<string, Stop[]>();
  for (const stop of fixed) taken.set(slotKey(stop), [...(taken.get(slotKey(stop)) ?? []), stop]);
  return { slots, fixed: taken, tests, way, people: new Map(working.map((one) => [one.name, one])), room: new Map(slots.map((slot) => [slotKey(slot), hoursOf(working.find((one) => one.name === slot.technician)!, slot.day)])) };
}

function fits(trip: PlanTrip, slot: Slot, others: readonly Stop[], setting: Setting): boolean {
  return setting.people.get(slot.technician)?.trades.includes(trip.trade) === true && dayHours([...others, trip], setting.way) <= (setting.room.get(slotKey(slot)) ?? 0) + 1e-9;
}

function put(trip: PlanTrip, slot: Slot | null, assignment: Assignment): void {
  const before = assignment.at.get(trip) ?? null;
  if (before !== null) assignment.on.get(before)?.delete(trip);
  if (slot !== null) assignment.on.get(slot)?.add(trip);
  assignment.at.set(trip, slot);
}

/** What stands on a slot: what is fixed, and what was placed, but for `without`. */
function stopsOn(slot: Slot, assignment: Assignment, setting: Setting, without: readonly PlanTrip[] = []): Stop[] {
  const stops: Stop[] = [...(setting.fixed.get(slotKey(slot)) ?? [])];
  for (const trip of assignment.on.get(slot) ?? []) if (!without.includes(trip)) stops.push(trip);
  return stops;
}

function hoursOn(slot: Slot, assignment: Assignment, setting: Setting): number {
  const stops = stopsOn(slot, assignment, setting);
  return stops.length === 0 ? 0 : dayHours(stops, setting.way);
}

/** The contractor's test at the trip's site on a day, if there is one. */
export function testOn(trip: Pick<PlanTrip, 'site'>, day: string, tests: readonly PlannedTest[]): PlannedTest | undefined {
  return tests.find((test) => test.site === trip.site && dayAt(Date.parse(test.startedAt), test.timeZone) === day);
}

/** What is lost by going then, the way apart. */
function waitingCost(trip: PlanTrip, slot: Slot | null, setting: Setting): number {
  if (slot === null) return trip.atOnce ? UNPLACED_AT_ONCE : UNPLACED;
  const first = setting.slots[0]?.day ?? slot.day;
  const lateDays = trip.byDay === null ? 0 : Math.max(0, daysBetween(trip.byDay, slot.day));
  const waited = daysBetween(first, slot.day);
  return (lateDays > 0 ? LATE + lateDays * LATE_DAY : 0) + waited * (trip.atOnce ? AT_ONCE_DAY : LATER_DAY) - (testOn(trip, slot.day, setting.tests) === undefined ? 0 : WITH_TEST);
}

function costOf(assignment: Assignment, setting: Setting): number {
  let cost = 0;
  for (const [trip, slot] of assignment.at) cost += waitingCost(trip, slot, setting);
  for (const slot of setting.slots) if ((assignment.on.get(slot)?.size ?? 0) > 0) cost += hoursOn(slot, assignment, setting);
  return cost;
}

/** Try a change of some trips; it stays if it makes the slots and the waiting that it touches cheaper. */
function tryChange(trips: readonly PlanTrip[], change: () => void, assignment: Assignment, setting: Setting): boolean {
  const before = trips.map((trip) => assignment.at.get(trip) ?? null);
  const cost = (slots: ReadonlySet<Slot>): number => trips.reduce((sum, trip) => sum + waitingCost(trip, assignment.at.get(trip) ?? null, setting), 0) + [...slots].reduce((sum, slot) => sum + hoursOn(slot, assignment, setting), 0);
  change();
  const touched = new Set([...before, ...trips.map((trip) => assignment.at.get(trip) ?? null)].filter((slot) => slot !== null));
  const after = cost(touched);
  const changed = trips.map((trip) => assignment.at.get(trip) ?? null);
  trips.forEach((trip, index) => put(trip, before[index] ?? null, assignment));
  if (after >= cost(touched) - 1e-6) return false;
  trips.forEach((trip, index) => put(trip, changed[index] ?? null, assignment));
  return true;
}

/** The slot that costs least for one more trip; null when it fits nowhere. */
function cheapest(trip: PlanTrip, assignment: Assignment, setting: Setting): Slot | null {
  let best: Slot | null = null;
  let bestCost = Infinity;
  for (const slot of setting.slots) {
    const waiting = waitingCost(trip, slot, setting);
    // The way and the work cost at least the work.
    if (waiting + trip.hours >= bestCost) continue;
    const others = stopsOn(slot, assignment, setting, [trip]);
    if (!fits(trip, slot, others, setting)) continue;
    const cost = waiting + dayHours([...others, trip], setting.way) - (others.length === 0 ? 0 : dayHours(others, setting.way));
    if (cost < bestCost - 1e-9) [best, bestCost] = [slot, cost];
  }
  return best;
}

/** Move one trip, or swap two, while that makes the whole cheaper. Gives how many were done. */
function exchange(trips: readonly PlanTrip[], assignment: Assignment, setting: Setting): number {
  let done = 0;
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    const before = done;
    for (const trip of trips) if (moveToCheaper(trip, assignment, setting)) done += 1;
    for (const [index, one] of trips.entries()) for (const other of trips.slice(index + 1)) if (swapIfCheaper(one, other, assignment, setting)) done += 1;
    if (done === before) return done;
  }
  return done;
}

function moveToCheaper(trip: PlanTrip, assignment: Assignment, setting: Setting): boolean {
  const to = cheapest(trip, assignment, setting);
  if (to === null || to === (assignment.at.get(trip) ?? null)) return false;
  return tryChange([trip], () => put(trip, to, assignment), assignment, setting);
}

/** Two trips change places; one of them may have had none, and then the other looks for a new one. */
function swapIfCheaper(one: PlanTrip, other: PlanTrip, assignment: Assignment, setting: Setting): boolean {
  const [at, otherAt] = [assignment.at.get(one) ?? null, assignment.at.get(other) ?? null];
  if (at === otherAt) return false;
  // Only the waiting can fall by much; the way falls by at most a few hours.
  if (waitingCost(one, otherAt, setting) + waitingCost(other, at, setting) > waitingCost(one, at, setting) + waitingCost(other, otherAt, setting) + 6) return false;
  const fitsThere = (trip: PlanTrip, slot: Slot | null): boolean => slot === null || fits(trip, slot, stopsOn(slot, assignment, setting, [one, other]), setting);
  if (!fitsThere(one, otherAt) || !fitsThere(other, at)) return false;
  return tryChange([one, other], () => {
    put(one, otherAt, assignment);
    put(other, at, assignment);
    for (const trip of [one, other]) if (assignment.at.get(trip) === null) put(trip, cheapest(trip, assignment, setting), assignment);
  }, assignment, setting);
}

const TRADE_WORDS = { 'generator-technician': 'generator technician', 'sprinkler-fitter': 'licensed sprinkler fitter', 'instrument-person': 'instrument and gateway person' } as const;

function whyLeft(trip: PlanTrip, setting: Setting): string {
  const able = setting.slots.filter((slot) => setting.people.get(slot.technician)?.trades.includes(trip.trade) === true);
  if (setting.people.size === 0) return 'nobody is entered who could go';
  if (able.length === 0) return `nobody who works in these days is a ${TRADE_WORDS[trip.trade]}`;
  const longest = Math.max(...able.map((slot) => setting.room.get(slotKey(slot)) ?? 0));
  if (dayHours([trip], setting.way) > longest) return `${dayHours([trip], setting.way)} h with the way are more than anybody's day (${longest} h); it needs two days or two people`;
  return trip.byDay !== null ? 'no hours are left before others whose date is nearer' : 'no hours are left';
}
