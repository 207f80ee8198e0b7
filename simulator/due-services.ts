import type { GeneratorKey } from '../shared/ids.ts';
import { ELEMENTS } from '../shared/registry.ts';
import { between, type Dice } from './plant/random.ts';
import { chance } from './random-picks.ts';
import { service, workday } from './random-stories.ts';
import type { VisitScenario } from './scenario.ts';

/** Elements are changed by the calendar, or by a timer in the cabinet if that runs out first. Common practice, no source. */
const MOST_DAYS = 365;
export const MOST_HOURS = 1500;
/** One in seven is forgotten. */
const FORGOTTEN_SHARE = 0.15;
/** A change that is due so soon is done at a visit that is made anyway. */
const TOGETHER_DAYS = 30;

export type ServiceFrame = { readonly key: GeneratorKey; readonly days: number; readonly fittedDaysAgo: number; readonly hoursADay: number; readonly visits: readonly VisitScenario[] };

/**
 * Changes of elements that fall due in a world, besides the visits that its story has: two weeks early to six weeks late.
 * Without them each fleet would be one that nobody looks after, and half a year of running would choke its compressors.
 */
export function dueServices(dice: Dice, frame: ServiceFrame): VisitScenario[] {
  if (chance(dice, FORGOTTEN_SHARE)) return [];
  const made: VisitScenario[] = [];
  const changes = frame.visits.filter((visit) => ELEMENTS.every((part) => visit.replaced.includes(part))).map((visit) => visit.atDay);
  const everyDays = Math.min(MOST_DAYS, MOST_HOURS / frame.hoursADay);
  let lastDay = -frame.fittedDaysAgo;
  for (;;) {
    const comesDay = Math.max(lastDay + everyDays + between(dice, -15, 40), between(dice, 2, 20));
    const anyway = changes.find((day) => day > lastDay && day < comesDay + TOGETHER_DAYS);
    if (anyway === undefined) {
      if (comesDay >= frame.days - 1) return made;
      made.push(service(frame, frame.visits.length + made.length + 1, workday(dice, comesDay), ELEMENTS, 'change of elements that was due'));
    }
    lastDay = anyway ?? comesDay;
  }
}
