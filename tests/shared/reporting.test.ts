// Issue: "The main job, end to end, on real input", item 3: presence by silence, 3 × reportEveryS.
import { expect, test } from 'vitest';
import { type GapState, heardAt, isSilent, reportEveryS, startGaps } from '../../shared/reporting.ts';

test('isSilent() begins after three intervals', () => {
  expect(isSilent(0, 60, 180_000)).toBe(false);
  expect(isSilent(0, 60, 180_001)).toBe(true);
});

test('reportEveryS() assumes an hour until 24 h are heard, then takes the 90 % quantile of the gaps, at least 60 s', () => {
  const hear = (gapsS: readonly number[]): GapState => {
    const state = startGaps();
    let atMs = 1_000_000;
    heardAt(state, atMs);
    for (const gapS of gapsS) heardAt(state, (atMs += gapS * 1000));
    return state;
  };
  expect(reportEveryS(hear(Array.from({ length: 280 }, () => 300)))).toBe(3600);
  // Bins are a quarter of an octave: 300 s reads as 2^(33/4) = 304 s.
  expect(reportEveryS(hear(Array.from({ length: 300 }, () => 300)))).toBe(304);
  expect(reportEveryS(hear(Array.from({ length: 10_000 }, () => 10)))).toBe(60);
  expect(reportEveryS(hear([86_400, 86_400]))).toBe(3600);
  expect(reportEveryS(hear([86_400]), 120)).toBe(120);
  // A burst of late packets within a second is one hearing.
  expect(reportEveryS(hear(Array.from({ length: 900 }, (_, index) => (index % 3 === 0 ? 300 : 0.2))))).toBe(304);
});
