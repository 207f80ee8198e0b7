// Issue: descriptors that don't lie where a gateway reads the run state by the clock (design, section 6).
// World: the ideal tank, whose books say what was drawn and made; its state and its tank are read at the same moments only.
import { describe, expect, test } from 'vitest';
import { edgeS } from '../../../analysis/cycles/late-start.ts';
import { fold, idealTank, type Row, setupOf } from './ideal-tank.ts';

const DAYS = 12;
const DEMAND = 1.35;
const DELIVERY = 39;
const band = { tankLitres: 115, cutInKPa: 600, cutOutKPa: 730 };
const world = { hours: 24 * DAYS + 3, litres: 115, lowKPa: 600, highKPa: 730, noiseKPa: 0.3, demand: () => DEMAND, delivery: () => DELIVERY, sends: ['running', 'tank-pressure'] as const };

/** What a gateway sends that looks at state and tank each `everyS`, and sends nothing on change. */
function byTheClock(everyS: number): Row[] {
  const { rows } = idealTank({ ...world, sampleS: everyS });
  const firstMs = rows[0]!.atMs;
  let running = 0;
  return rows.flatMap((row) => {
    if (row.channel === 'running') running = row.value;
    const isLook = row.channel === 'tank-pressure' && (row.atMs - firstMs) % (1000 * everyS) === 0;
    return isLook ? [row, { channel: 'running' as const, atMs: row.atMs, value: running }] : [];
  });
}

describe.each([60, 120, 180])('a gateway that looks each %d s, runs of four minutes', (everyS) => {
  const setup = setupOf({ ...band, reportEveryS: everyS });
  const { days, state } = fold(byTheClock(everyS), setup);
  const full = days.slice(1, DAYS);

  test('what has risen since a start that is said late is not taken from the fall of its rest', () => {
    expect(full).toHaveLength(DAYS - 1);
    for (const day of full) expect(Math.abs(day.demand!.value / DEMAND - 1)).toBeLessThan(0.03);
  });

  test('the pressure at a start is where the rest came to', () => {
    for (const day of full) expect(Math.abs(day.cutInKPa! - 600)).toBeLessThan(4);
  });

  test('no day leaves out the runs that seem a report longer, and the error holds what a look each so often misses', () => {
    // The usual gap is known by powers of √2.
    expect(edgeS(state, setup)).toBeGreaterThanOrEqual(everyS);
    expect(edgeS(state, setup)).toBeLessThan(1.42 * everyS);
    for (const day of full) expect(Math.abs(day.delivery!.value - DELIVERY)).toBeLessThan(3 * day.delivery!.se);
    const mean = full.reduce((total, day) => total + day.delivery!.value, 0) / full.length;
    expect(Math.abs(mean / DELIVERY - 1)).toBeLessThan(0.06);
  });
});

test('saidLate() leaves a gateway alone that sends on change', () => {
  const setup = setupOf({ ...band, reportEveryS: 60 });
  const { days, state } = fold(idealTank({ ...world, sampleS: 60 }).rows, setup);
  expect(edgeS(state, setup)).toBe(0);
  for (const day of days.slice(1, DAYS)) expect(Math.abs(day.delivery!.value / DELIVERY - 1)).toBeLessThan(0.02);
});

describe('rare reports, runs of two minutes, an ideal tank whose users draw in bursts', () => {
  // Nine tenths of what is drawn goes in bursts of two minutes, which start the runs and are over between two reports.
  const bursts = (atS: number): number => (atS % 7200 < 120 ? 25 : 0.05);
  const made = 35;
  const rare = { hours: 24 * DAYS + 3, litres: 60, lowKPa: 520, highKPa: 620, sampleS: 600, noiseKPa: 0.3, demand: bursts, delivery: () => made, sends: ['running', 'tank-pressure'] as const };
  const { rows } = idealTank(rare);

  test('no day says a delivery that its samples do not show: it is near, says that it is not sure, or is not said', () => {
    const { days } = fold(rows, setupOf({ tankLitres: 60, cutInKPa: 520, cutOutKPa: 620, reportEveryS: 600 }));
    for (const { delivery } of days.slice(2, DAYS)) if (delivery !== null) expect(Math.abs(delivery.value - made)).toBeLessThan(Math.max(0.15 * made, 2.5 * delivery.se));
  });
});

test('behind an air receiver a start of the compressor tells nothing of where the tank is', () => {
  const behind = setupOf({ ...band, layout: 'air-receiver', reportEveryS: 60 });
  const { cycles, days } = fold(idealTank({ ...world, sampleS: 60 }).rows, behind);
  expect(cycles.length).toBeGreaterThan(50);
  expect(cycles.every(({ startKPa, stopKPa }) => startKPa === null && stopKPa === null)).toBe(true);
  expect(days.slice(1).every(({ cutInKPa, cutOutKPa }) => cutInKPa === null && cutOutKPa === null)).toBe(true);
});

test('a stop that is carried from a reading minutes before goes no further than the first reading of the rest lets it', () => {
  // The rise slows down as the tank fills: its slope at first, carried for minutes, would end 40 kPa too high.
  const slows = idealTank({ hours: 24 * 4, litres: 115, lowKPa: 550, highKPa: 750, sampleS: 300, demand: () => 4, delivery: (_, gaugeKPa) => 40 - (gaugeKPa - 550) / 8, sends: ['running', 'tank-pressure'] });
  const { cycles } = fold(slows.rows, setupOf({ tankLitres: 115, reportEveryS: 300 }));
  const stops = cycles.flatMap(({ stopKPa }) => stopKPa ?? []);
  expect(stops.length).toBeGreaterThan(30);
  expect(Math.max(...stops.slice(5))).toBeLessThan(775);
  // A gauge that reads 60 kPa more shows stops that are so much higher.
  const off = slows.rows.map((row) => (row.channel === 'tank-pressure' ? { ...row, value: row.value + 60 } : row));
  const higher = fold(off, setupOf({ tankLitres: 115, cutInKPa: 550, cutOutKPa: 750, reportEveryS: 300 })).cycles.flatMap(({ stopKPa }) => stopKPa ?? []);
  expect(higher.map((kPa) => Math.round(kPa - 60))).toEqual(stops.map(Math.round));
});
