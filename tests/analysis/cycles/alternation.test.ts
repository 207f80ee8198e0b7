// World: an ideal tank that two compressors of unlike strength fill by turns.
import { describe, expect, test } from 'vitest';
import { byTurns } from '../../../analysis/causes/by-turns.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { DAY_MS } from '../../../shared/time.ts';
import { fold, type Ideal, idealTank, setupOf, START_MS } from './ideal-tank.ts';

const HOURS = 24 * 9;

/** Each new run is the other compressor's. */
function byTurnsOf(one: number, other: number, fromS = 0): Ideal['delivery'] {
  let lastS = -10;
  let turn = false;
  return (atS) => {
    if (atS - lastS > 1) turn = !turn;
    lastS = atS;
    return turn || atS < fromS ? one : other;
  };
}

function daysOf(one: number, other: number, sampleS: number, fromS = 0): { readonly days: readonly DayRow[]; readonly delivery: number } {
  const world = idealTank({ hours: HOURS, litres: 300, demand: () => 3, delivery: byTurnsOf(one, other, fromS), sampleS, noiseKPa: 0.5 });
  const { days } = fold(world.rows, setupOf({ tankLitres: 300, cutInKPa: 550, cutOutKPa: 700, reportEveryS: sampleS }), START_MS + HOURS * 3_600_000);
  return { days: days.slice(3), delivery: (world.delivered / world.runS) * 60 };
}

describe('two compressors that take turns', () => {
  // Nine runs a day: one more of one than of the other. Where samples are rarer than runs, the middle run was one compressor's, and delivery
  // jumped by 10 % (25 and 20 NL/min) or 28 % (30 and 15) from day to day, with an error of 1 % beside it.
  test.each([[25, 20, 60], [25, 20, 900], [30, 15, 300], [30, 15, 900]])('of %d and %d NL/min, the tank each %d s: delivery is their mean, within its error', (one, other, sampleS) => {
    const { days, delivery } = daysOf(one, other, sampleS);
    for (const day of days) {
      expect(Math.abs(day.delivery!.value / delivery - 1)).toBeLessThan(0.06);
      expect(Math.abs(day.delivery!.value - delivery)).toBeLessThan(2 * day.delivery!.se);
      expect(day.delivery!.se / delivery).toBeLessThan(0.25);
    }
  });

  test('runs that are unlike each other without turns make counted fillings unsure by as much, also where a day or quarter begins within a run', () => {
    let lastS = -10;
    let runs = 0;
    const delivery: Ideal['delivery'] = (atS) => {
      if (atS - lastS > 1) runs += 1;
      lastS = atS;
      return runs % 3 === 0 ? 60 : 20;
    };
    const world = idealTank({ hours: HOURS, litres: 300, demand: () => 3, delivery, sampleS: 900, noiseKPa: 0.5 });
    const { days } = fold(world.rows, setupOf({ tankLitres: 300, cutInKPa: 550, cutOutKPa: 700, reportEveryS: 900 }), START_MS + HOURS * 3_600_000);
    const trueNLPerMin = (world.delivered / world.runS) * 60;
    for (const day of days.slice(3)) {
      expect(Number.isFinite(day.delivery!.se)).toBe(true);
      expect(Math.abs(day.delivery!.value - trueNLPerMin)).toBeLessThan(3 * day.delivery!.se);
    }
  });

  test('are recognised by their runs, and one compressor is not', () => {
    // The runs last as the tank's span over delivery less demand: 22 against 17, 27 against 12.
    expect(daysOf(25, 20, 60).days.at(-1)!.runsAlternate!).toBeCloseTo(22 / 17, 1);
    expect(daysOf(30, 15, 60).days.at(-1)!.runsAlternate!).toBeCloseTo(27 / 12, 1);
    expect(daysOf(25, 25, 60).days.every((day) => day.runsAlternate === null)).toBe(true);
  });

  test('byTurns() says that one of them fell behind', () => {
    const { days } = daysOf(25, 18, 60, 3 * 86_400);
    expect(byTurns(days, START_MS + 3 * DAY_MS)).toBe('Every second run takes 1.5 times as long as the others: one of two compressors that take turns makes less.');
    expect(byTurns(daysOf(25, 18, 60).days, START_MS + 4 * DAY_MS)).toBeUndefined();
  });
});
