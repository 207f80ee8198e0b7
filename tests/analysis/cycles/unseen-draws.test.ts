// Issue: descriptors don't lie where reports are rare, demand comes and goes or goes in bursts, and days begin within a run (design, section 6).
// World: the ideal tank, whose books say what was drawn and made.
import { describe, expect, test } from 'vitest';
import { fillingKPa, learnWarmShare } from '../../../analysis/cycles/normal.ts';
import { startDescriptors } from '../../../analysis/cycles/state.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { fold, idealTank, type Row, setupOf } from './ideal-tank.ts';

const off = (estimate: DayRow['demand'], truth: number): number => estimate!.value / truth - 1;

/** What a controller that tells only the duty ratio of the hour makes of an hour meter. */
function asDuty(rows: readonly Row[]): Row[] {
  let before: Row | undefined;
  return rows.flatMap((row) => {
    if (row.channel !== 'run-time') return row.channel === 'starts' ? [] : [row];
    if (row.atMs % 3_600_000 !== 0) return [];
    const told = before === undefined ? [] : [{ channel: 'duty' as const, atMs: row.atMs, value: (row.value - before.value) / ((row.atMs - before.atMs) / 1000) }];
    before = row;
    return told;
  });
}

describe('demand that comes and goes within the day, the tank read each quarter of an hour', () => {
  // For a third of each day sixteen times as much is drawn, in rests of 17 minutes that no two reports fall into.
  const comesAndGoes = (atS: number): number => (atS % 86_400 < 28_800 ? 8 : 0.5);
  const { rows } = idealTank({ hours: 24 * 6 + 3, litres: 150, lowKPa: 550, highKPa: 650, sampleS: 900, noiseKPa: 0.5, demand: comesAndGoes, delivery: () => 24, sends: ['running', 'tank-pressure'] });
  const { days } = fold(rows, setupOf({ tankLitres: 150, cutInKPa: 550, cutOutKPa: 650, reportEveryS: 900 }));

  test('rests too short for the reports count by the band that they lost', () => {
    // By the time at rest, not by the clock: the busy third rests two thirds of its time.
    const busyRestS = 28_800 * (1 - 8 / 24);
    const quietRestS = 57_600 * (1 - 0.5 / 24);
    const atRest = (8 * busyRestS + 0.5 * quietRestS) / (busyRestS + quietRestS);
    for (const day of days.slice(1, 6)) expect(Math.abs(off(day.demand, atRest))).toBeLessThan(0.1);
  });

  test('what a run made is known by its own rest', () => {
    for (const day of days.slice(1, 6)) expect(Math.abs(off(day.delivery, 24))).toBeLessThan(0.05);
  });
});

describe('runs that are counted, and cut by the edges of what is told', () => {
  const world = { hours: 24 * 20 + 3, litres: 225, lowKPa: 535, highKPa: 635, sampleS: 600, noiseKPa: 0.3, demand: (atS: number) => 0.62 + 0.05 * Math.sin(atS / 200_000), delivery: () => 19.5, sends: ['run-time', 'starts', 'tank-pressure'] as const };
  const { rows } = idealTank(world);
  const hourly = rows.filter((row) => row.channel === 'tank-pressure' || row.atMs % 3_600_000 === 0);
  const known = setupOf({ tankLitres: 225, cutInKPa: 535, cutOutKPa: 635, reportEveryS: 600 });

  test.each([['counters', hourly], ['duty', asDuty(rows)]] as const)('by %s each hour, no day takes a run for more or for less than was made in it', (source, sent) => {
    const { days } = fold(sent, known);
    const counted = days.slice(1, 20);
    expect(counted.every((day) => day.source === source)).toBe(true);
    for (const day of counted) expect(Math.abs(off(day.delivery, 19.5))).toBeLessThan(0.06);
  });

  test('where the tank is not read as they speak, the error says that a band may be between the ends', () => {
    const shifted = hourly.map((row) => (row.channel === 'tank-pressure' ? { ...row, atMs: row.atMs + 300_000 } : row)).sort((a, b) => a.atMs - b.atMs);
    for (const day of fold(shifted, known).days.slice(1, 20)) expect(Math.abs(day.delivery!.value - 19.5)).toBeLessThan(4 * day.delivery!.se);
  });
});

test('bursts that no rest shows are drawn all the same: fillings say that as much was made, and how far that may be off', () => {
  // Every 50 minutes 90 NL/min for two and a half minutes, which start the compressor; between them hardly anything.
  const bursts = (atS: number): number => (atS % 3000 < 150 ? 90 : 0.4);
  const { rows, delivered, runS } = idealTank({ hours: 24 * 6 + 3, litres: 290, lowKPa: 540, highKPa: 613, sampleS: 300, noiseKPa: 0.5, demand: bursts, delivery: () => 54, sends: ['run-time', 'starts', 'tank-pressure'] });
  expect((60 * delivered) / runS).toBeCloseTo(54, 3);
  const { days } = fold(asDuty(rows), setupOf({ tankLitres: 290, cutInKPa: 540, cutOutKPa: 613, reportEveryS: 300 }));
  for (const day of days.slice(1, 6)) {
    expect(day.delivery!.value).toBeGreaterThan(0.6 * 54);
    expect(day.delivery!.value + 1.64 * day.delivery!.se).toBeGreaterThan(0.9 * 54);
  }
});

test('learnWarmShare() follows what settled rests lose of the band, and takes a rest that ended early for no warmth', () => {
  const state = startDescriptors();
  state.band = { lowKPa: 550, highKPa: 700 };
  expect(fillingKPa(state, state.band)).toBe(150);
  // Within a few rests: what is learned over weeks would look like a decline.
  for (let rest = 0; rest < 6; rest += 1) learnWarmShare(state, setupOf(), 142.5);
  expect(Math.abs(fillingKPa(state, state.band) - 142.5)).toBeLessThan(2);
  // One in three ends in a burst, and seems to have lost a quarter of the band.
  for (let rest = 0; rest < 90; rest += 1) learnWarmShare(state, setupOf(), rest % 3 === 0 ? 40 : 142.5);
  expect(Math.abs(fillingKPa(state, state.band) - 142.5)).toBeLessThan(1.5);
  for (let rest = 0; rest < 200; rest += 1) learnWarmShare(state, setupOf(), 40);
  expect(fillingKPa(state, state.band)).toBeCloseTo(0.9 * 150, 1);
});
