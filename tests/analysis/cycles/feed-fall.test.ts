// Issue: how fast the feed side empties after a stop tells a drain that stands open from wear, and gas that runs back from a leak (design, section 6).
// World: a vessel that empties through a hole by p(t) = p0 exp(−t/T), the law of a linear leak (any text on first-order lags; RC analogue); T is given.
import { describe, expect, test } from 'vitest';
import { passTo, startDescriptors, stepDescriptors, type DescriptorSetup } from '../../../analysis/cycles/descriptors.ts';
import type { DayRow, FeedFall } from '../../../shared/cycle.ts';
import { generatorsOf, parseRegistry } from '../../../shared/registry.ts';
import { calendarOf, DAY_MS, HOUR_MS, MINUTE_MS } from '../../../shared/time.ts';

const START_MS = Date.UTC(2026, 2, 3);
const RUN_MS = 6 * MINUTE_MS;

function setup(): DescriptorSetup {
  const parsed = parseRegistry(JSON.stringify({ sites: [{ id: 'a', timeZone: 'UTC', generators: [{ id: 'b', tankLitres: 100, cutInKPa: 550, cutOutKPa: 700 }] }] }));
  if ('problems' in parsed) throw new Error(JSON.stringify(parsed.problems));
  return { registered: generatorsOf(parsed.registry)[0]!, calendar: calendarOf('UTC'), outages: [] };
}

/** Two days of a run each hour, the feed side at 720 kPa in runs and emptying with `fallS` in rests, sampled every `everyS`. */
function world(fallS: number, everyS: number): { readonly rows: DayRow[]; readonly falls: readonly FeedFall[] } {
  const rows: DayRow[] = [];
  const state = startDescriptors();
  const known = setup();
  const sink = { cycle: () => undefined, day: (row: DayRow) => void rows.push(row), quarter: () => undefined };
  const endMs = START_MS + 2 * DAY_MS + 3 * HOUR_MS;
  for (let atMs = START_MS; atMs < endMs; atMs += 1000) {
    const inMs = (atMs - START_MS) % HOUR_MS;
    if (inMs === 0) stepDescriptors(state, known, 'running', atMs, 1, sink);
    if (inMs === RUN_MS) stepDescriptors(state, known, 'running', atMs, 0, sink);
    if ((atMs - START_MS) % (everyS * 1000) === 17_000) stepDescriptors(state, known, 'feed-pressure', atMs, inMs < RUN_MS ? 720 : 720 * Math.exp(-(inMs - RUN_MS) / 1000 / fallS), sink);
  }
  passTo(state, known, endMs, sink);
  return { rows, falls: state.feedFalls };
}

describe('heedFeedFall()', () => {
  test.each([[60, 240], [120, 240], [300, 240], [60, 100], [120, 600]])('reports each %i s give back a fall of %i s within 2 %%', (everyS, fallS) => {
    const { rows, falls } = world(fallS, everyS);
    expect(rows[1]!.feedFallS!.value / fallS).toBeCloseTo(1, 1.7);
    expect(falls.length).toBe(3);
    for (const [, seconds] of falls) expect(seconds / fallS).toBeCloseTo(1, 1.5);
  });

  test('says nothing where it empties between two reports, where it stays up, and where it never stood high', () => {
    expect(world(30, 900).rows[1]!.feedFallS).toBeNull();
    expect(world(1e6, 60).rows[1]!.feedFallS).toBeNull();
  });
});
