// Source: ideal gas law, values computed from it (a sealed pipe of 40 psi gauge going from 70 °F to 40 °F reads 36.9).
// Source: US Navy NAVFAC MO-209, Tables 5-3 and 5-4: pressure decay of a compressed-air system, 629 ft3.
import { linearRegression } from 'simple-statistics';
import { describe, expect, test } from 'vitest';
import { atmosphereKPa, contentKPa, litresNPerKPa, sealedGaugeKPa } from '../../../analysis/cycles/tank-content.ts';
import { fold, type Row, setupOf, START_MS } from './ideal-tank.ts';

const PSI_KPA = 6.894757293168361;
const celsius = (fahrenheit: number): number => ((fahrenheit - 32) * 5) / 9;
const OUTSIDE_KPA = 14.695948775 * PSI_KPA;

describe('temperature', () => {
  test.each([[40, 70, 40, 36.9021], [40, 70, 32, 36.076], [40, 40, 70, 43.2839]])('sealedGaugeKPa() takes %d psi at %d °F to %d °F: %d psi', (psi, from, to, expected) => {
    expect(sealedGaugeKPa(psi * PSI_KPA, OUTSIDE_KPA, celsius(from), celsius(to)) / PSI_KPA).toBeCloseTo(expected, 3);
  });

  test('contentKPa() sees no loss in a sealed pipe that cools from 70 to 40 °F', () => {
    const warm = contentKPa(40 * PSI_KPA, OUTSIDE_KPA, celsius(70));
    const cold = contentKPa(36.9021 * PSI_KPA, OUTSIDE_KPA, celsius(40));
    expect(cold).toBeCloseTo(warm, 3);
  });

  test('stepDescriptors() finds no demand in a sealed tank whose room cools by 10 K in 12 hours', () => {
    const rows: Row[] = [];
    for (let minute = 0; minute <= 13 * 60; minute += 1) {
      const room = 20 - (10 * Math.min(minute, 720)) / 720;
      const atMs = START_MS + minute * 60_000;
      if (minute % 60 === 0) rows.push({ channel: 'running', atMs, value: 0 });
      rows.push({ channel: 'tank-temperature', atMs, value: room }, { channel: 'tank-pressure', atMs, value: sealedGaugeKPa(690, 101.325, 20, room) });
    }
    const withTemperature = fold(rows, setupOf({ tankLitres: 100 })).quarters[0]!;
    const without = fold(rows.filter((row) => row.channel !== 'tank-temperature'), setupOf({ tankLitres: 100 })).quarters[0]!;
    expect(Math.abs(withTemperature.demand!.value)).toBeLessThan(1e-3);
    // 791 kPa absolute × 10/293 in 12 h: 0.0375 kPa/min looks like 0.034 NL/min of leak.
    expect(without.demand!.value).toBeCloseTo(0.0344, 3);
  });
});

describe('pressure decay', () => {
  // psi gauge and minutes from the start, as printed.
  const DECAY = [[90, 0], [80, 10.7], [70, 23.28], [60, 38.57], [50, 58.93], [40, 87.47], [30, 135.02], [20, 277.67]] as const;
  const LOSSES = [40, 34, 28, 21, 15, 9, 3];
  const CUBIC_FOOT_LITRES = 28.316846592;

  test('litresNPerKPa() turns the falls of MO-209 into its printed losses and its line Q = 0.62 P - 12.75', () => {
    // The source counts cubic feet at the gas's own temperature against 14.7 psi: at 0 °C a normal litre is just that.
    const perKPa = (litresNPerKPa(629 * CUBIC_FOOT_LITRES) * (293.15 / 273.15) * 101.325) / (14.7 * PSI_KPA);
    const points = LOSSES.map((loss, index) => {
      const [from, startMin] = DECAY[index]!;
      const [to, endMin] = DECAY[index + 1]!;
      const fallKPa = contentKPa(from * PSI_KPA, OUTSIDE_KPA, 20) - contentKPa(to * PSI_KPA, OUTSIDE_KPA, 20);
      const scfm = (perKPa * fallKPa) / (endMin - startMin) / CUBIC_FOOT_LITRES;
      // Printed as whole numbers; all seven agree to 0.03.
      expect(Math.abs(scfm - loss)).toBeLessThan(0.03);
      return [(from + to) / 2, Math.round(scfm)];
    });
    const { m, b } = linearRegression(points);
    expect(m).toBeCloseTo(0.621429, 5);
    expect(b).toBeCloseTo(-12.75, 3);
    expect(m * 96 + b).toBeCloseTo(46.907, 3);
  });
});

test('atmosphereKPa() follows the standard atmosphere', () => {
  // ISO 2533 values at 0, 1,000 and 3,000 m, from memory: 101.325, 89.87, 70.11 kPa.
  expect(atmosphereKPa(0)).toBe(101.325);
  expect(atmosphereKPa(1000)).toBeCloseTo(89.87, 1);
  expect(atmosphereKPa(3000)).toBeCloseTo(70.11, 1);
});
