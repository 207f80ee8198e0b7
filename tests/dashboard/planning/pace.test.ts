// Issue: the plan is worked out while the page waits, so a large week must not hold the server up.
import { expect, test } from 'vitest';
import { dayPlus } from '../../../dashboard/planning/calendar-days.ts';
import { proposeWeek } from '../../../dashboard/planning/propose-week.ts';
import { MONDAY, need, person, tripsOf } from './invented-needs.ts';

test('proposeWeek() of 400 trips for 12 people takes less than a second', () => {
  const trips = tripsOf(Array.from({ length: 400 }, (_, index) => need(`s${index}`, { byDay: dayPlus(MONDAY, index % 12), area: `a${index % 9}`, hours: 1 + (index % 4) })));
  const startedMs = performance.now();
  const proposal = proposeWeek({ trips, days: Array.from({ length: 7 }, (_, index) => dayPlus(MONDAY, index)), technicians: Array.from({ length: 12 }, (_, index) => person(`P${index}`)), fixed: [], tests: [] });
  const tookMs = performance.now() - startedMs;
  console.info(`a week of 400 trips for 12 people: ${tookMs.toFixed(0)} ms, ${proposal.placed.length} placed, ${proposal.exchanges} exchanges`);
  expect(proposal.placed.length + proposal.left.length).toBe(400);
  // A machine that runs eight test files at once gets three.
  expect(tookMs).toBeLessThan(3000);
});
