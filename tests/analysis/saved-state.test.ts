// Issue: a data folder made by an earlier build is taken up by a later one, which has added fields to the saved state.
import { describe, expect, test } from 'vitest';
import { startFold } from '../../analysis/generator-fold.ts';
import { startWatch } from '../../analysis/generator-watch.ts';
import { readFold, readWatch } from '../../analysis/saved-state.ts';

/** Take a field out of a plain object, wherever it is. */
function without(value: unknown, field: string): unknown {
  if (Array.isArray(value)) return value.map((one) => without(one, field));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).filter(([name]) => name !== field).map(([name, one]) => [name, without(one, field)]));
}

describe('readWatch()', () => {
  test.each(['meter', 'counters', 'turns', 'exchange', 'otherDays', 'extreme', 'longestBeforeS', 'belowSuddenly', 'fills', 'spanDays'])('fills up a state that was saved before it had %s', (field) => {
    expect(readWatch(JSON.stringify(without(startWatch(), field)))).toEqual(startWatch());
  });

  test('keeps what was saved, beside and below what it adds', () => {
    const saved = startWatch();
    saved.fold.frontierMs = 5;
    saved.fold.tank = [612, 4];
    saved.fold.descriptors.lastAtMs = { 'tank-pressure': 4 };
    saved.clock.trail = [[1, 600, null]];
    expect(readWatch(JSON.stringify(without(saved, 'meter')))).toEqual(saved);
  });
});

describe('readFold()', () => {
  test('gives a whole checkpoint back as it was', () => {
    expect(readFold(JSON.stringify(startFold()))).toEqual(startFold());
  });
});
