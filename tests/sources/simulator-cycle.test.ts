// Source: start and stop formulas of receiver sizing (compressed-air handbooks, from memory) and the leak limits of NFPA 13
// and 25 in flow units for a system of 750 gal, worked out anew; against the simulated plant and its gas formulas.
import { expect, test } from 'vitest';
import { DAY_MS } from '../../shared/time.ts';
import { amountNL } from '../../simulator/plant/gas.ts';
import { startWorld, stepWorld } from '../../simulator/world.ts';
import { oneGenerator, START_MS } from '../simulator/one-generator.ts';

const PSI_KPA = 6.894757293168;
const GALLON_L = 3.785411784;
const SCF_L = 28.316846592;
/** A standard cubic foot is told at 14.7 psi and the system's own temperature. */
const scfm = (nlPerMin: number): number => (nlPerMin * 101.325) / (14.7 * PSI_KPA) / SCF_L;

test('amountNL() gives the leak limits of 750 gal: 3 psi in 2 h is 0.1705 scfm, 1.5 psi in 24 h 0.00710', () => {
  const lost = (psi: number, minutes: number): number => scfm(amountNL(psi * PSI_KPA, 750 * GALLON_L, 273.15) / minutes);
  expect(lost(3, 120)).toBeCloseTo(0.17051, 4);
  expect(lost(1.5, 1440)).toBeCloseTo(0.0071046, 6);
  expect(lost(10, 7 * 1440)).toBeCloseTo(0.0067663, 6);
});

// duty = Ql/Qc and starts per time = Pa Ql (1 - Ql/Qc)/(V dP) hold for constant flows and gas of one temperature. The
// plant's gas warms by 6 K in a run (1 % of its amount, 7 % of a band of 150 kPa), its housing fills before product flows,
// and its switch scatters: 3 % on duty, 12 % on starts.
test.each([['plain', 0.06], ['leaky', 0.14]])('advancePlant() starts and rests as the formulas say: %s', (_name, more) => {
  const base = oneGenerator().generators[0]!.plant;
  const plant = { ...base, healthyTankLeakMm2: base.healthyTankLeakMm2 + more, surroundings: { ...base.surroundings, room: { heldC: 20, outdoorShare: 0, lagH: 6 }, piping: { heldC: 20, outdoorShare: 0, lagH: 6 } } };
  const world = startWorld({ scenario: oneGenerator({ plant, channels: ['running'] }), seed: 4, startMs: START_MS });
  const state = world.generators[0]!.plant;
  const before = { ...state.book, runS: state.runS, starts: state.starts, content: state.tankNL };
  stepWorld(world, START_MS + 12 * DAY_MS);
  const minutes = (state.atMs - START_MS) / 60_000;
  const runMin = (state.runS - before.runS) / 60;
  const drawn = (state.book.tankLeakNL + state.book.suppliedNL - before.tankLeakNL - before.suppliedNL) / minutes;
  const made = (state.book.productNL - before.productNL) / runMin;
  expect(Math.abs((runMin / minutes) / (drawn / made) - 1)).toBeLessThan(0.03);
  const bandNL = amountNL(plant.cutOutKPa - plant.cutInKPa, plant.tankLitres, 293.15);
  const startsPerMin = (drawn * (1 - drawn / made)) / bandNL;
  expect(Math.abs((state.starts - before.starts) / minutes / startsPerMin - 1)).toBeLessThan(0.12);
});
