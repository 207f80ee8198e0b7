// Issue: tight generators run two to five times a day, and a run more or less must not look like more or less made (design, section 6).
// World: the ideal tank, counted by hour meter and starts each hour, or by a duty ratio each hour.
import { describe, expect, test } from 'vitest';
import type { DayRow } from '../../../shared/cycle.ts';
import { fold, type Ideal, idealTank, type Row, setupOf } from './ideal-tank.ts';

const DELIVERY = 14;
const WORLD: Omit<Ideal, 'delivery'> = { hours: 24 * 9 + 3, litres: 300, lowKPa: 480, highKPa: 610, sampleS: 120, noiseKPa: 0.5, demand: (atS) => 1.1 + 0.3 * Math.sin(atS / 90_000), sends: ['run-time', 'starts', 'tank-pressure'] };
const known = setupOf({ tankLitres: 300, cutInKPa: 480, cutOutKPa: 610, reportEveryS: 120 });

/** From the fifth day on a drain takes a fifth. */
const rows = idealTank({ ...WORLD, delivery: (atS) => (atS < 5 * 86_400 ? DELIVERY : 0.8 * DELIVERY) }).rows;

/** Counters are sent on the hour alone. */
const hourly = rows.filter((row) => row.channel === 'tank-pressure' || row.atMs % 3_600_000 === 0);

/** What a controller that tells only the duty ratio of the hour makes of it. */
const asDuty = hourly.flatMap((row, index): Row[] => {
  if (row.channel !== 'run-time') return row.channel === 'starts' ? [] : [row];
  const before = hourly.slice(0, index).findLast((one) => one.channel === 'run-time');
  return before === undefined ? [] : [{ channel: 'duty', atMs: row.atMs, value: (row.value - before.value) / ((row.atMs - before.atMs) / 1000) }];
});

/** How far each day's delivery is from the truth, as shares, the least first. */
const errors = (days: readonly DayRow[]): number[] => days.slice(1, 8).map((day, index) => Math.abs(day.delivery!.value / (index < 4 ? DELIVERY : 0.8 * DELIVERY) - 1)).sort((a, b) => a - b);

describe('delivery of a generator that runs three to five times a day', () => {
  test.each([['counters', hourly, 0.01], ['duty', asDuty, 0.03]] as const)('by %s is the same each day, and a fifth less is seen as that', (source, sent, within) => {
    const { days } = fold(sent, known);
    expect(days[3]!.source).toBe(source);
    expect(new Set(days.slice(1, 5).map((day) => Math.round(day.runS / 600))).size).toBeGreaterThan(1);
    const off = errors(days);
    expect(off[3]!).toBeLessThan(within);
    // One may have a run that its edge cuts.
    expect(off[5]!).toBeLessThan(5 * within);
  });

  test('its stated error is of the size of what it errs by', () => {
    const { days } = fold(hourly, known);
    for (const day of days.slice(1, 8)) expect(day.delivery!.se / day.delivery!.value).toBeLessThan(0.08);
  });
});

describe('delivery by run states beside a tank that is read each quarter of an hour', () => {
  const sparse = setupOf({ tankLitres: 300, cutInKPa: 480, cutOutKPa: 610, reportEveryS: 900 });
  const sent = idealTank({ ...WORLD, sampleS: 900, sends: ['running', 'tank-pressure'], delivery: (atS) => (atS < 5 * 86_400 ? DELIVERY : 0.8 * DELIVERY) }).rows;

  test('is the same each day, though what is drawn in a rest is poorly known', () => {
    const { days } = fold(sent, sparse);
    expect(days[3]!.source).toBe('running');
    const off = errors(days);
    expect(off[3]!).toBeLessThan(0.015);
    expect(off[6]!).toBeLessThan(0.06);
  });

  test('is not halved by the message of a stop that got lost', () => {
    const stops = sent.flatMap((row, index) => (row.channel === 'running' && row.value === 0 && sent.slice(0, index).findLast((one) => one.channel === 'running')?.value === 1 ? [index] : []));
    const lost = new Set(stops.filter((_, place) => place % 4 === 1));
    const { days } = fold(sent.filter((_, index) => !lost.has(index)), sparse);
    expect(errors(days)[5]!).toBeLessThan(0.06);
  });
});

test('cycles that are cut short fill less than the band, and are no measure of what is drawn', () => {
  const cut = idealTank({ ...WORLD, hours: 24 * 5 + 3, highKPa: 505, sampleS: 600, demand: () => 1.6, delivery: () => DELIVERY }).rows;
  const { days } = fold(cut, setupOf({ tankLitres: 300, cutInKPa: 480, cutOutKPa: 610, reportEveryS: 600 }));
  expect(days[2]!.starts).toBeGreaterThan(25);
  for (const day of days.slice(1)) if (day.demand !== null) expect(day.demand.value).toBeLessThan(2 * 1.6);
  // The same cycles with a band as narrow as they are tell all.
  const narrow = fold(cut, setupOf({ tankLitres: 300, cutInKPa: 480, cutOutKPa: 505, reportEveryS: 600 })).days;
  for (const day of narrow.slice(1)) expect(Math.abs(day.demand!.value / 1.6 - 1)).toBeLessThan(0.15);
});
