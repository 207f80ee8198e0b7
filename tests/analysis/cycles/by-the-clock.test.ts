// World: one plain generator whose gateway reads everything by the clock, the run state too, 16 days from 2026-03-02; truth from the plant's own book.
import { describe, expect, test } from 'vitest';
import { startDescriptors, stepDescriptors } from '../../../analysis/cycles/descriptors.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { calendarOf, DAY_MS } from '../../../shared/time.ts';
import { startWorld, stepWorld } from '../../../simulator/world.ts';
import { oneGenerator, START_MS } from '../../simulator/one-generator.ts';
import { setupOf } from './ideal-tank.ts';

const DAYS = 16;

type Seen = { readonly days: readonly DayRow[]; readonly demand: readonly number[]; readonly delivery: readonly number[] };

function seen(everyS: number): Seen {
  const world = startWorld({ scenario: oneGenerator({ channels: ['running', 'tank-pressure'], reportEveryS: everyS, readsByClock: true, habit: { wander: 0.05 } }), seed: 5, startMs: START_MS });
  const setup = { ...setupOf({ tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, reportEveryS: everyS }), calendar: calendarOf('UTC') };
  const state = startDescriptors();
  const days: DayRow[] = [];
  const [demand, delivery]: [number[], number[]] = [[], []];
  const book = () => ({ ...world.generators[0]!.plant.book, runS: world.generators[0]!.plant.runS });
  let before = book();
  for (let day = 1; day <= DAYS; day += 1) {
    const batch = stepWorld(world, START_MS + day * DAY_MS);
    for (const row of Array.from(batch.atMs.keys()).sort((a, b) => batch.atMs[a]! - batch.atMs[b]!)) stepDescriptors(state, setup, batch.series[batch.seriesIndex[row]!]!.channel, batch.atMs[row]!, batch.value[row]!, { cycle: () => undefined, quarter: () => undefined, day: (closed) => days.push(closed) });
    const now = book();
    demand.push((now.suppliedNL - before.suppliedNL + now.tankLeakNL - before.tankLeakNL) / 1440);
    delivery.push(((now.productNL - before.productNL) * 60) / (now.runS - before.runS));
    before = now;
  }
  return { days, demand, delivery };
}

describe.each([60, 180])('a gateway that reads by the clock, each %d s', (everyS) => {
  const { days, demand, delivery } = seen(everyS);
  const of = (row: DayRow): number => Math.round((row.startMs - START_MS) / DAY_MS);
  const full = days.filter((row) => of(row) >= 3);

  test('demand of each day is right, and starts are where the switch closes', () => {
    expect(full.length).toBeGreaterThan(10);
    for (const row of full) {
      expect(Math.abs(row.demand!.value / demand[of(row)]! - 1)).toBeLessThan(0.06);
      expect(Math.abs(row.cutInKPa! - 550)).toBeLessThan(6);
    }
  });

  test('delivery is right over the days, and each of them within what it says', () => {
    for (const row of full) expect(Math.abs(row.delivery!.value - delivery[of(row)]!)).toBeLessThan(3 * row.delivery!.se + 0.03 * delivery[of(row)]!);
    const mean = full.reduce((total, row) => total + row.delivery!.value / delivery[of(row)]!, 0) / full.length;
    expect(Math.abs(mean - 1)).toBeLessThan(0.05);
  });
});
