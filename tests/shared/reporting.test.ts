// Issue: "The main job, end to end, on real input", item 3: presence by silence, 3 × reportEveryS.
import { expect, test } from 'vitest';
import { isSilent, reportEveryFromGaps } from '../../shared/reporting.ts';

test('isSilent() begins after three intervals', () => {
  expect(isSilent(0, 60, 180_000)).toBe(false);
  expect(isSilent(0, 60, 180_001)).toBe(true);
});

test('reportEveryFromGaps() assumes an hour until 24 h are heard, then takes the 90 % quantile, at least 60 s', () => {
  const gaps = Array.from({ length: 100 }, (_, index) => 300 + index);
  expect(reportEveryFromGaps(gaps, 86_399)).toBe(3600);
  expect(reportEveryFromGaps(gaps, 86_400)).toBe(389);
  expect(reportEveryFromGaps([10, 10, 10, 10], 90_000)).toBe(60);
  expect(reportEveryFromGaps([86_400, 86_400], 172_800)).toBe(3600);
});
