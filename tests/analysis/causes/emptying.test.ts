// Issue: a drain or a bleed that stands open on the feed side is told by single stops (design, section 6: the feed side falls faster than its own normal after a stop).
import { describe, expect, test } from 'vitest';
import type { Baseline } from '../../../analysis/causes/baseline.ts';
import { emptiesFaster } from '../../../analysis/causes/emptying.ts';
import type { FeedFall } from '../../../shared/cycle.ts';
import { type Entry, entrySchema } from '../../../shared/entry.ts';
import { DAY_MS, HOUR_MS } from '../../../shared/time.ts';

const NOW_MS = Date.UTC(2026, 5, 10, 12);
const usual: Baseline = { centre: Math.log(246), scatter: 0.05, spread: 0.05, correlation: 0, usualSe: 0, count: 30, fromMs: 0, toMs: NOW_MS - 20 * DAY_MS };
/** One stop an hour, the last one now. */
const falls = (...seconds: readonly number[]): FeedFall[] => seconds.map((fallS, index) => [NOW_MS - (seconds.length - 1 - index) * HOUR_MS, fallS]);
const service = (endMs: number): Entry => entrySchema.parse({ id: 'v', site: 'a', generator: 'b', startedAt: new Date(endMs - HOUR_MS).toISOString(), finishedAt: new Date(endMs).toISOString() });
const told = (some: readonly FeedFall[], entries: readonly Entry[] = [], baseline: Baseline | null = usual): string[] => emptiesFaster(some, baseline, entries, NOW_MS, 'UTC').map(({ cause }) => cause);

describe('emptiesFaster()', () => {
  test('is silent in good order, at one or two odd stops, at slower falls, and while nothing is known', () => {
    expect(told(falls(246, 240, 250, 239))).toEqual([]);
    expect(told(falls(246, 240, 120, 118))).toEqual([]);
    expect(told(falls(246, 120, 246, 118))).toEqual([]);
    expect(told(falls(500, 510, 620))).toEqual([]);
    expect(told(falls(120, 118, 119), [], null)).toEqual([]);
    expect(told(falls(210, 208, 206), [], { ...usual, scatter: 0.1 })).toEqual([]);
  });

  test('says a drain after three stops, also where it comes and goes, and in words with numbers', () => {
    const said = emptiesFaster(falls(246, 246, 120, 118, 126), usual, [], NOW_MS, 'UTC');
    expect(said[0]).toMatchObject({ slot: 'delivery', cause: 'drain-stuck-open', onset: { likelyMs: NOW_MS - 2 * HOUR_MS }, evidence: [{ says: 'After the last 3 stops the feed side fell to a third in 2.2, 2.2, 2.3 min; usual are 4.5 min.' }] });
    expect(told(falls(246, 120, 118, 119).map(([stopMs, fallS]) => [stopMs - 3 * DAY_MS, fallS]))).toEqual([]);
  });

  test('says a bleed after the first two stops after a visit, and nothing while they do not agree', () => {
    const visit = service(NOW_MS - 1.5 * HOUR_MS);
    expect(told(falls(246, 246, 120, 118), [visit])).toEqual(['bleed-left-open']);
    expect(told(falls(246, 246, 120), [visit])).toEqual([]);
    expect(told(falls(120, 121, 246, 118), [visit])).toEqual([]);
    expect(told(falls(246, 120, 118, 119), [service(NOW_MS - 5 * DAY_MS)])).toEqual(['drain-stuck-open']);
  });
});
