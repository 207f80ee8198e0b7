// World: the demo fleet in good order, seed 5, 20 days from 2026-02-01; truth from the plants' own books, which analysis never sees.
import { beforeAll, describe, expect, test } from 'vitest';
import { type DescriptorState, startDescriptors, stepDescriptors } from '../../../analysis/cycles/descriptors.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { calendarOf, DAY_MS } from '../../../shared/time.ts';
import { generatorsOf } from '../../../shared/registry.ts';
import { demoFleet } from '../../../simulator/demo-fleet.ts';
import type { UpsetScenario } from '../../../simulator/scenario.ts';
import { startWorld, stepWorld } from '../../../simulator/world.ts';

const START_MS = Date.UTC(2026, 1, 1);
/** Of their own kind each: all channels; no feed pressures; counters and tank; duty alone; two without piping steps, one with them. */
const CHOSEN = ['quay-7/gen-1', 'rope-walk/gen-1', 'moss-hangar/gen-1', 'old-brewery/gen-1', 'apple-shed/gen-1', 'clock-tower/gen-1'];
const UPSETS: Readonly<Record<string, readonly UpsetScenario[]>> = {
  'rope-walk/gen-1': [{ kind: 'trip-test', fromDay: 8.4, hours: 6 }, { kind: 'power-cut', fromDay: 11.3, hours: 8 }, { kind: 'low-pressure-test', fromDay: 14.4, hours: 0.3 }, { kind: 'gap', fromDay: 17.2, hours: 5 }],
};
type Truth = { readonly runS: number; readonly demand: number; readonly delivery: number };
type Seen = { readonly days: DayRow[]; readonly truth: Truth[]; readonly state: DescriptorState };
const seen = new Map<string, Seen>();

beforeAll(() => {
  const fleet = demoFleet(START_MS);
  const generators = fleet.generators.filter((one) => CHOSEN.includes(one.key)).map((one) => ({ ...one, faults: [], visits: [], upsets: UPSETS[one.key] ?? [], lossRatio: 0, doubleRatio: 0 }));
  const world = startWorld({ scenario: { ...fleet, generators }, seed: 5, startMs: START_MS });
  const calendar = calendarOf('UTC');
  const folds = new Map(generatorsOf(fleet.registry).filter((one) => CHOSEN.includes(one.key)).map((registered) => [registered.key, { registered, state: startDescriptors(), days: [] as DayRow[], truth: [] as Truth[] }]));
  let before = world.generators.map((one) => ({ ...one.plant.book, runS: one.plant.runS }));
  for (let day = 1; day <= 20; day += 1) {
    const batch = stepWorld(world, START_MS + day * DAY_MS);
    const order = Array.from(batch.atMs.keys()).sort((a, b) => batch.atMs[a]! - batch.atMs[b]!);
    for (const row of order) {
      const { generator, channel } = batch.series[batch.seriesIndex[row]!]!;
      const fold = folds.get(generator)!;
      stepDescriptors(fold.state, { registered: fold.registered, calendar, outages: [] }, channel, batch.atMs[row]!, batch.value[row]!, { cycle: () => undefined, quarter: () => undefined, day: (closed) => fold.days.push(closed) });
    }
    world.generators.forEach((one, index) => {
      const [now, then] = [{ ...one.plant.book, runS: one.plant.runS }, before[index]!];
      const runS = now.runS - then.runS;
      folds.get(generators[index]!.key)!.truth.push({ runS, demand: (now.suppliedNL - then.suppliedNL + now.tankLeakNL - then.tankLeakNL) / 1440, delivery: ((now.productNL - then.productNL) * 60) / runS });
    });
    before = world.generators.map((one) => ({ ...one.plant.book, runS: one.plant.runS }));
  }
  for (const [key, fold] of folds) seen.set(key, fold);
});

/** Ratios found/true of the days from the 4th on that pass `chosen`. */
function ratios(key: string, name: 'demand' | 'delivery', chosen: (day: number) => boolean = () => true): number[] {
  const { days, truth } = seen.get(key)!;
  return days.flatMap((row) => {
    const index = Math.round((row.startMs - START_MS) / DAY_MS);
    const one = truth[index];
    return index < 3 || one === undefined || row[name] === null || !chosen(index) ? [] : [row[name].value / one[name]];
  });
}

describe('generators in good order', () => {
  // Warm gas, noise, rounding and a report in 5 minutes leave under 1 % in most days; 2.5 % is the worst seen of these.
  test.each([['quay-7/gen-1'], ['moss-hangar/gen-1']])('stepDescriptors() finds demand and delivery of every day of %s to 2.5 in a hundred', (key) => {
    for (const name of ['demand', 'delivery'] as const) {
      const all = ratios(key, name);
      expect(all.length).toBeGreaterThan(12);
      for (const ratio of all) expect(Math.abs(ratio - 1)).toBeLessThan(0.025);
    }
  });

  test('stepDescriptors() states errors that hold: most days lie within two of them', () => {
    const far = ['quay-7/gen-1', 'moss-hangar/gen-1'].flatMap((key) => {
      const { days, truth } = seen.get(key)!;
      return days.slice(3).flatMap((row) => {
        const one = truth[Math.round((row.startMs - START_MS) / DAY_MS)]!;
        return [Math.abs(row.demand!.value - one.demand) / row.demand!.se, Math.abs(row.delivery!.value - one.delivery) / row.delivery!.se];
      });
    });
    expect(far.filter((one) => one <= 2).length / far.length).toBeGreaterThan(0.85);
  });

  test('stepDescriptors() finds delivery from counters and the tank', () => {
    const rows = seen.get('old-brewery/gen-1')!.days;
    expect(rows.at(-1)!.source).toBe('counters');
    // Hourly counters: a cycle more or less at the ends of a day of 15 is 6 %.
    for (const ratio of ratios('old-brewery/gen-1', 'delivery')) expect(Math.abs(ratio - 1)).toBeLessThan(0.08);
  });

  test('stepDescriptors() gives the duty ratio and no split where only that is sent', () => {
    const { days, truth } = seen.get('apple-shed/gen-1')!;
    for (const row of days.slice(3)) {
      expect(row.source).toBe('duty');
      expect(row.demand).toBeNull();
      expect(row.delivery).toBeNull();
    }
    const total = truth.slice(3, days.length).reduce((sum, one) => sum + one.runS, 0) / ((days.length - 3) * 86_400);
    const found = days.slice(3).reduce((sum, row) => sum + row.runS, 0) / days.slice(3).reduce((sum, row) => sum + row.coveredS, 0);
    expect(Math.abs(found / total - 1)).toBeLessThan(0.03);
  });

  // A stated weakness: regulators with a dead-band draw in bursts that set off starts, so that part of the demand falls into runs.
  test('stepDescriptors() is within 15 % where regulators draw in bursts', () => {
    for (const name of ['demand', 'delivery'] as const) for (const ratio of ratios('clock-tower/gen-1', name)) expect(Math.abs(ratio - 1)).toBeLessThan(0.15);
  });
});

describe('what looks like a fault and is none', () => {
  const key = 'rope-walk/gen-1';
  const rowOf = (day: number): DayRow => seen.get(key)!.days[day]!;

  test('stepDescriptors() keeps a trip test and its refill out of holding', () => {
    expect(rowOf(8).runS / rowOf(7).runS).toBeGreaterThan(2);
    expect(rowOf(8).holdingRatio).toBeLessThan(0.99);
    // The water of the test also set off a start or two of normal length; those stay.
    expect(rowOf(8).dutyRatio! / rowOf(7).dutyRatio!).toBeLessThan(1.4);
    expect(Math.abs(rowOf(8).demand!.value / rowOf(7).demand!.value - 1)).toBeLessThan(0.05);
    expect(Math.abs(rowOf(8).delivery!.value / rowOf(7).delivery!.value - 1)).toBeLessThan(0.05);
  });

  test('stepDescriptors() keeps a power cut out of holding', () => {
    expect(rowOf(11).holdingRatio).toBeCloseTo(1 - 8 / 24, 1);
    expect(Math.abs(rowOf(11).delivery!.value / rowOf(10).delivery!.value - 1)).toBeLessThan(0.05);
  });

  test('stepDescriptors() is not led astray by a bleed of minutes', () => {
    expect(Math.abs(rowOf(14).demand!.value / rowOf(13).demand!.value - 1)).toBeLessThan(0.05);
    expect(Math.abs(rowOf(14).delivery!.value / rowOf(13).delivery!.value - 1)).toBeLessThan(0.05);
  });

  test('stepDescriptors() says a gap of five hours, and splits the rest of the day as ever', () => {
    expect(rowOf(17).coveredS / 3600).toBeGreaterThan(17.5);
    expect(rowOf(17).coveredS / 3600).toBeLessThan(19.5);
    expect(Math.abs(rowOf(17).demand!.value / rowOf(16).demand!.value - 1)).toBeLessThan(0.05);
  });
});

test('the state stays within 8.5 KB in every kind', () => {
  for (const { state } of seen.values()) expect(JSON.stringify(state).length).toBeLessThan(8704);
});
