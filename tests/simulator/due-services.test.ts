// World: services that fall due, drawn for 400 generators by hand-made frames; and random fleets that live with them.
import { expect, test } from 'vitest';
import type { GeneratorKey } from '../../shared/ids.ts';
import { ELEMENTS } from '../../shared/registry.ts';
import { dueServices, MOST_HOURS } from '../../simulator/due-services.ts';
import { startDice } from '../../simulator/plant/random.ts';
import type { VisitScenario } from '../../simulator/scenario.ts';

const KEY = 'quay/gen-1' as GeneratorKey;
const drawn = (seed: number, fittedDaysAgo: number, hoursADay: number, visits: readonly VisitScenario[] = []): VisitScenario[] => dueServices(startDice(seed, 'services'), { key: KEY, days: 180, fittedDaysAgo, hoursADay, visits });
const SEEDS = Array.from({ length: 400 }, (_, index) => index);

test('dueServices() comes when a year is over, two weeks early to six weeks late, and forgets one in seven', () => {
  const days = SEEDS.map((seed) => drawn(seed, 300, 1).map((visit) => visit.atDay));
  const come = days.flatMap((one) => one.slice(0, 1));
  expect(Math.min(...come)).toBeGreaterThan(365 - 300 - 16);
  expect(Math.max(...come)).toBeLessThan(365 - 300 + 42);
  // 400 draws at 0.85: 4 sd are 0.07.
  expect(Math.abs(come.length / SEEDS.length - 0.85)).toBeLessThan(0.07);
  expect(days.every((one) => one.length < 2)).toBe(true);
});

test('dueServices() heeds the timer where hours run out before the year', () => {
  const [first, second] = drawn(SEEDS.find((seed) => drawn(seed, 0, 20).length > 1)!, 0, 20).map((visit) => visit.atDay);
  expect(Math.abs(first! - MOST_HOURS / 20)).toBeLessThan(42);
  expect(Math.abs(second! - first! - MOST_HOURS / 20)).toBeLessThan(42);
});

test('dueServices() makes no second visit where elements are changed anyway', () => {
  const anyway: VisitScenario = { id: 'visit-quay-gen-1-1', atDay: 70, hours: 1.5, replaced: ELEMENTS };
  expect(SEEDS.flatMap((seed) => drawn(seed, 300, 1, [anyway])).length).toBe(0);
  // Who changes a drain changes no elements.
  expect(SEEDS.flatMap((seed) => drawn(seed, 300, 1, [{ ...anyway, replaced: ['drain'] }])).length).toBeGreaterThan(300);
});
