// World: an ideal tank whose delivery falls along a straight line of its pressure, and random fleets in good order whose true
// bend is read off the plants' own curves, which analysis never sees.
import { beforeAll, describe, expect, test } from 'vitest';
import { startDescriptors, stepDescriptors } from '../../../analysis/cycles/descriptors.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { generatorsOf } from '../../../shared/registry.ts';
import { calendarOf, DAY_MS } from '../../../shared/time.ts';
import { atmosphereKPa } from '../../../simulator/plant/gas.ts';
import { onCurve } from '../../../simulator/plant/delivery-curve.ts';
import { randomScenario } from '../../../simulator/random-worlds.ts';
import { startWorld, stepWorld } from '../../../simulator/world.ts';
import { fold, type Ideal, idealTank, setupOf, START_MS } from './ideal-tank.ts';

const REF_KPA = 625 + 101.325;
const bending = (beta: number, more: Partial<Ideal> = {}): Ideal => ({ hours: 50, litres: 150, demand: () => 3, delivery: (_, gaugeKPa) => 28 * (1 - (beta * (gaugeKPa + 101.325 - REF_KPA)) / REF_KPA), ...more });
/** The second day, when what is usual is known. */
const dayOf = (world: Ideal, generator: Parameters<typeof setupOf>[0] = {}): DayRow => fold(idealTank(world).rows, setupOf({ tankLitres: 150, cutInKPa: 550, cutOutKPa: 700, reportEveryS: world.sampleS ?? 60, ...generator }), START_MS + 50 * 3_600_000).days[1]!;

describe('noteBend()', () => {
  // What falls off along a run is taken as two straight pieces: 4 % of β.
  test.each([0, 0.3, 1.2, 2.5])('finds β %d of an ideal tank', (beta) => {
    expect(Math.abs(dayOf(bending(beta)).bend! - beta)).toBeLessThan(0.02 + 0.04 * beta);
  });

  // 0.5 kPa of noise on three samples of each run: 0.3 a run, and a day has some 20.
  test('finds it through the noise of a usual gauge', () => {
    expect(Math.abs(dayOf(bending(1.2, { noiseKPa: 0.5 })).bend! - 1.2)).toBeLessThan(0.25);
  });

  test('says nothing where reports are too rare for the halves of a run', () => {
    expect(dayOf(bending(1.2, { sampleS: 600 })).bend).toBeNull();
  });

  test('says nothing of sieve beds whose swings are as long as half a run', () => {
    expect(dayOf(bending(1.2), { kind: 'sieve' }).bend).toBeNull();
  });

  /** Gas that comes in is 5 K warmer, and nobody sends its temperature: left alone it would pass for a bend. */
  test('leaves out the warmth of the tank, as the rest after the run shows it', () => {
    const warm = idealTank(bending(1));
    let kelvin = 0;
    let running = 0;
    let beforeMs = START_MS;
    const rows = warm.rows.map((row) => {
      kelvin += (5 * running - kelvin) * -Math.expm1((beforeMs - row.atMs) / 420_000);
      beforeMs = row.atMs;
      if (row.channel === 'running') running = row.value;
      return row.channel === 'tank-pressure' ? { ...row, value: (row.value + 101.325) * (1 + kelvin / 293.15) - 101.325 } : row;
    });
    const { bend } = fold(rows, setupOf({ tankLitres: 150, cutInKPa: 550, cutOutKPa: 700 }), START_MS + 50 * 3_600_000).days[0]!;
    expect(Math.abs(bend! - 1)).toBeLessThan(0.15);
  });
});

describe('random fleets in good order', () => {
  const errors: number[] = [];
  const bursts = { smooth: [] as number[], stepped: [] as number[] };

  beforeAll(() => {
    const startMs = Date.UTC(2026, 1, 1);
    const days = 10;
    const fleet = randomScenario({ seed: 660_003, generators: 40, days, startMs, faultyShare: 0 });
    const generators = fleet.generators.map((one) => ({ ...one, upsets: [], reportEveryS: 60, channels: [...new Set([...one.channels, 'running' as const, 'tank-pressure' as const, 'room-temperature' as const])] })).filter((one) => one.plant.receiver === undefined);
    const world = startWorld({ scenario: { ...fleet, generators }, seed: 660_003, startMs });
    const calendar = calendarOf('UTC');
    const folds = new Map(generatorsOf(fleet.registry).map((registered) => [registered.key, { setup: { registered: { ...registered, generator: { ...registered.generator, reportEveryS: 60 } }, calendar, outages: [] }, state: startDescriptors(), rows: [] as DayRow[] }]));
    for (let day = 1; day <= days; day += 1) {
      const batch = stepWorld(world, startMs + day * DAY_MS);
      for (const at of Array.from(batch.atMs.keys()).sort((a, b) => batch.atMs[a]! - batch.atMs[b]!)) {
        const { generator, channel } = batch.series[batch.seriesIndex[at]!]!;
        const one = folds.get(generator)!;
        stepDescriptors(one.state, one.setup, channel, batch.atMs[at]!, batch.value[at]!, { cycle: () => undefined, quarter: () => undefined, day: (row) => one.rows.push(row) });
      }
    }
    for (const [index, { key, plant, habit }] of generators.entries()) {
      const rows = folds.get(key)!.rows.slice(3);
      const shares = rows.flatMap((row) => row.burstShare ?? []).sort((a, b) => a - b);
      const stepped = plant.risers.some((riser) => riser.deadBandKPa > 0);
      if (shares.length > 0) bursts[stepped || habit?.use !== undefined ? 'stepped' : 'smooth'].push(shares[Math.floor(shares.length / 2)]!);
      const steady = rows.filter((row) => typeof row.bend === 'number' && (row.burstShare ?? 0) < 0.1).map((row) => row.bend!).sort((a, b) => a - b);
      if (steady.length < 4) continue;
      const { curve } = world.generators[index]!.plant;
      const refKPa = (plant.cutInKPa + plant.cutOutKPa) / 2 + atmosphereKPa(plant.elevationM);
      const at = (kPa: number): number => onCurve(curve, curve.product, kPa);
      errors.push(steady[Math.floor(steady.length / 2)]! + (((at(refKPa + 5) - at(refKPa - 5)) / 10) * refKPa) / at(refKPa));
    }
  }, 120_000);

  // Measured on 100 such generators: middle error −0.02, scatter 0.08, worst 0.5 where a day has two or three runs.
  test('noteBend() finds the bend of a plant, gas that warms and all', () => {
    expect(errors.length).toBeGreaterThan(15);
    const ordered = errors.map(Math.abs).sort((a, b) => a - b);
    expect(ordered[Math.floor(ordered.length / 2)]!).toBeLessThan(0.12);
    expect(ordered[Math.floor(0.9 * ordered.length)]!).toBeLessThan(0.4);
  });

  test('heedBurst() tells who draws in bursts', () => {
    expect(bursts.smooth.length).toBeGreaterThan(10);
    expect(bursts.smooth.filter((share) => share < 0.1).length / bursts.smooth.length).toBeGreaterThan(0.9);
    expect(bursts.stepped.filter((share) => share > 0.5).length).toBeGreaterThan(1);
  });
});

describe('heedBurst()', () => {
  /** Out of each hour a user takes 12 NL/min for ten minutes; 1.5 NL/min leak all the time: 57 % of what is drawn is burst. */
  const bursty = (atS: number): number => (atS % 3600 < 600 ? 13.5 : 1.5);

  test('parts what is drawn in bursts from what leaks', () => {
    const row = dayOf(bending(0, { demand: bursty, delivery: () => 40, litres: 400, noiseKPa: 0.3 }), { tankLitres: 400 });
    expect(row.burstShare!).toBeGreaterThan(0.45);
    expect(row.burstShare!).toBeLessThan(0.65);
    // Quiet demand by it: what leaks.
    expect(row.demand!.value * (1 - row.burstShare!)).toBeGreaterThan(1.2);
    expect(row.demand!.value * (1 - row.burstShare!)).toBeLessThan(1.9);
  });

  // The balance of whole cycles holds both: no burst is taken for more or less delivery.
  test('leaves delivery right', () => {
    const row = dayOf(bending(0, { demand: bursty, delivery: () => 40, litres: 400, noiseKPa: 0.3 }), { tankLitres: 400 });
    expect(Math.abs(row.delivery!.value / 40 - 1)).toBeLessThan(0.05);
  });

  test('finds none in a steady leak', () => {
    expect(dayOf(bending(1, { noiseKPa: 0.5 })).burstShare!).toBeLessThan(0.05);
  });
});

describe('startsByBurst()', () => {
  /** Four times a day a user takes 20 NL/min for a quarter of an hour; 2 NL/min leak. */
  const users = (atS: number): number => (atS % 21_600 > 20_000 && atS % 21_600 < 20_900 ? 22 : 2);

  // The burst goes on into the run that it started, and would take 10 to 20 % from the day's delivery.
  test('leaves runs that a burst started out of delivery', () => {
    const { days } = fold(idealTank(bending(0, { hours: 24 * 6, demand: users, delivery: () => 28, noiseKPa: 0.5 })).rows, setupOf({ tankLitres: 150, cutInKPa: 550, cutOutKPa: 700 }), START_MS + 24 * 6 * 3_600_000);
    for (const day of days.slice(1)) expect(Math.abs(day.delivery!.value / 28 - 1)).toBeLessThan(0.03);
  });

  // A drain that sticks in one run and not in the next draws nothing at rest.
  test('leaves a loss of delivery that comes and goes in', () => {
    const losing = (atS: number): number => (atS % 50_400 < 25_200 ? 28 : 18);
    const { days } = fold(idealTank(bending(0, { hours: 24 * 6, delivery: losing, noiseKPa: 0.5 })).rows, setupOf({ tankLitres: 150, cutInKPa: 550, cutOutKPa: 700 }), START_MS + 24 * 6 * 3_600_000);
    for (const day of days.slice(1)) expect(day.delivery!.value).toBeLessThan(26);
  });
});
