// Issue: the headline of "before you leave" must not sound like an all-clear while no run was seen since the work.
import { expect, test } from 'vitest';
import { leavingHeadline, runBegunSince } from '../../../dashboard/views/leaving-headline.ts';
import type { LeavingCheck } from '../../../shared/leaving-check.ts';

const item = (part: LeavingCheck['items'][number]['part'], state: LeavingCheck['items'][number]['state']) => ({ part, state, says: `${part} ${state}` });
const SEEN = 'Nothing unlike usual was seen in the last half hour.';

test('leavingHeadline() reassures only where a run was seen that began after the work', () => {
  const rest = { verdict: 'nothing unlike usual seen' as const, says: SEEN, items: [item('rest', 'as usual'), item('run', 'not seen yet')] };
  const run = { ...rest, items: [item('rest', 'as usual'), item('run', 'as usual')] };
  for (const one of [leavingHeadline(rest), leavingHeadline(rest, true), leavingHeadline({ ...rest, items: [item('piping', 'as usual')] }), leavingHeadline(run, false)]) {
    expect(one.tone).toBe('unseen');
    expect(one.says).toMatch(/^Not all is seen yet: no run .*A bleed left open on the feed side shows only in a run/);
  }
  expect(leavingHeadline(run, false).says).toContain('from before');
  expect(leavingHeadline(run, true)).toEqual({ says: SEEN, tone: 'seen' });
  expect(leavingHeadline(run)).toEqual({ says: SEEN, tone: 'seen' });
});

test('leavingHeadline() leaves what is unlike usual, and too little, as analysis says it', () => {
  expect(leavingHeadline({ verdict: 'unlike usual', says: 'Look before you leave.', items: [item('run', 'not seen yet')] })).toEqual({ says: 'Look before you leave.', tone: 'look' });
  expect(leavingHeadline({ verdict: 'too little seen', says: 'Too little was seen.', items: [] })).toEqual({ says: 'Too little was seen.', tone: 'unseen' });
});

test('runBegunSince() counts starts after that moment, and no run that goes on across it', () => {
  const at = (minute: number, min: number, max = min) => [minute, min, (min + max) / 2, max] as const;
  expect(runBegunSince([], 5)).toBeUndefined();
  expect(runBegunSince([at(1, 1), at(6, 1), at(9, 0)], 5)).toBe(false);
  expect(runBegunSince([at(1, 0), at(4, 1), at(6, 1)], 5)).toBe(false);
  expect(runBegunSince([at(1, 1), at(6, 0), at(9, 1)], 5)).toBe(true);
  expect(runBegunSince([at(1, 0), at(7, 1)], 5)).toBe(true);
  expect(runBegunSince([at(7, 0, 1)], 5)).toBe(true);
  expect(runBegunSince([at(7, 1)], 5)).toBe(false);
});
