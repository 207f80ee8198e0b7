// Issue: a compressor that stops short is known within the hour, behind an air receiver too (design, section 6).
import { describe, expect, test } from 'vitest';
import { motorTrips, type MotorRuns, noteMotor, startMotorRuns } from '../../../analysis/causes/motor-trips.ts';
import { entrySchema } from '../../../shared/entry.ts';
import { HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 5, 1);

/** Runs and rests, min, one after another; gives when they end. */
function runs(state: MotorRuns, fromMs: number, pairs: readonly (readonly [runMin: number, restMin: number])[]): number {
  let atMs = fromMs;
  for (const [runMin, restMin] of pairs) {
    noteMotor(state, atMs, true, false);
    noteMotor(state, atMs + (runMin * MINUTE_MS) / 2, true, false);
    atMs += runMin * MINUTE_MS;
    noteMotor(state, atMs, false, false);
    atMs += restMin * MINUTE_MS;
  }
  noteMotor(state, atMs, true, false);
  return atMs;
}

const usual = (count: number): [number, number][] => Array.from({ length: count }, (_, index) => [8 + (index % 3), 120 + (index % 5)]);
/** A protector opens after four minutes and cools for twelve: two trips, and what was left to be filled. */
const tripping: [number, number][] = [[4, 12], [4, 12], [1, 125]];

describe('motorTrips()', () => {
  test('two runs that are cut short and go on after minutes are told as the second goes on', () => {
    const state = startMotorRuns();
    const atMs = runs(state, START_MS, usual(30));
    expect(motorTrips(state, [])).toEqual([]);
    const onceMs = runs(state, atMs, [[4, 12]]);
    expect(motorTrips(state, [])).toEqual([]);
    runs(state, onceMs, [[4, 12]]);
    const [told] = motorTrips(state, []);
    expect(told).toMatchObject({ slot: 'running', cause: 'stops-short', onset: { likelyMs: atMs } });
    expect(told!.evidence[0]!.says).toBe("Of the compressor's last 4 runs 2 stopped after 4 min and went on 12 min later; it usually runs for 9 min and rests for 122 min.");
  });

  test('it stays told for as long as it goes on, and is over after whole runs', () => {
    const state = startMotorRuns();
    let atMs = runs(state, START_MS, usual(30));
    for (let cycle = 0; cycle < 100; cycle += 1) {
      atMs = runs(state, atMs, tripping);
      expect(motorTrips(state, [])).toHaveLength(1);
    }
    runs(state, atMs, usual(4));
    expect(motorTrips(state, [])).toEqual([]);
  });

  test('a burst that calls it again is no trip, nor is a short rest after a whole run, nor what people do', () => {
    const state = startMotorRuns();
    const atMs = runs(state, START_MS, usual(30));
    const after = (...pairs: [number, number][]): MotorRuns => {
      const copy = structuredClone(state);
      runs(copy, atMs, pairs);
      return copy;
    };
    expect(motorTrips(after([8, 12], [8, 12], [8, 12]), [])).toEqual([]);
    expect(motorTrips(after([4, 100], [4, 100], [4, 100]), [])).toEqual([]);
    // A start within two minutes is no motor that cools.
    expect(motorTrips(after([4, 1], [4, 1], [4, 1]), [])).toEqual([]);
    const work = entrySchema.parse({ id: 'v1', site: 'a', generator: 'b', startedAt: new Date(atMs - HOUR_MS).toISOString(), finishedAt: new Date(atMs + HOUR_MS).toISOString() });
    expect(motorTrips(after(...tripping), [])).toHaveLength(1);
    expect(motorTrips(after(...tripping), [work])).toEqual([]);
  });

  test('too few runs say nothing, and over a gap none is counted', () => {
    const young = startMotorRuns();
    runs(young, runs(young, START_MS, usual(11)), tripping);
    expect(motorTrips(young, [])).toEqual([]);
    const gap = startMotorRuns();
    noteMotor(gap, START_MS, true, true);
    noteMotor(gap, START_MS + HOUR_MS, false, false);
    noteMotor(gap, START_MS + 2 * HOUR_MS, true, false);
    expect(gap.newest).toEqual([]);
    expect(gap.open).toEqual({ startMs: START_MS + 2 * HOUR_MS, stopMs: null });
    noteMotor(gap, START_MS + 20 * HOUR_MS, false, true);
    expect(gap).toMatchObject({ newest: [], open: null });
  });
});
