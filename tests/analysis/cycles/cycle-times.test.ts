// Source: receiver sizing t_on = V dP/(Pa(Qc-Ql)), t_off = V dP/(Pa Ql) as handbooks of compressed air give it (from memory);
// the vectors are computed from it: V 10.6944 ft3, dP 25 psi, Pa 14.7 psi, flows in cubic feet a minute, times in minutes.
import { describe, expect, test } from 'vitest';
import { fold, type Row, setupOf, START_MS } from './ideal-tank.ts';

const VECTORS = [
  { delivery: 10, demand: 2, onMin: 2.2735, offMin: 9.0939, duty: 0.2 },
  { delivery: 8, demand: 2, onMin: 3.0313, offMin: 9.0939, duty: 0.25 },
  { delivery: 10, demand: 4, onMin: 3.0313, offMin: 4.547, duty: 0.4 },
  { delivery: 10, demand: 3, onMin: 2.5983, offMin: 6.0626, duty: 0.3 },
  { delivery: 10, demand: 5, onMin: 3.6379, offMin: 3.6379, duty: 0.5 },
  { delivery: 10, demand: 8, onMin: 9.0939, offMin: 2.2735, duty: 0.8 },
] as const;

const LITRES = 10.6944 * 28.316846592;
const PSI_KPA = 6.894757293168361;

/** Two days of strict cycles, sent as states, and where wanted as pressure every 10 s. */
function record(onMin: number, offMin: number, pressure: boolean): Row[] {
  const rows: Row[] = [];
  const cycleMs = (onMin + offMin) * 60_000;
  const lowKPa = 100 * PSI_KPA;
  const highKPa = 125 * PSI_KPA;
  for (let startMs = START_MS; startMs < START_MS + 51 * 3_600_000; startMs += cycleMs) {
    rows.push({ channel: 'running', atMs: Math.round(startMs), value: 1 }, { channel: 'running', atMs: Math.round(startMs + onMin * 60_000), value: 0 });
    if (!pressure) continue;
    for (let atMs = startMs; atMs < startMs + cycleMs; atMs += 10_000) {
      const minute = (atMs - startMs) / 60_000;
      rows.push({ channel: 'tank-pressure', atMs: Math.round(atMs), value: minute <= onMin ? lowKPa + ((highKPa - lowKPa) * minute) / onMin : highKPa - ((highKPa - lowKPa) * (minute - onMin)) / offMin });
    }
  }
  return rows.sort((a, b) => a.atMs - b.atMs);
}

describe('times alone', () => {
  const dayOf = (index: number): NonNullable<ReturnType<typeof fold>['days'][1]> => fold(record(VECTORS[index]!.onMin, VECTORS[index]!.offMin, false), setupOf()).days[1]!;
  const healthy = dayOf(0);

  test.each(VECTORS.map((vector, index) => [index, vector] as const))('stepDescriptors() splits vector %d into demand and delivery', (index, vector) => {
    const day = dayOf(index);
    expect(day.dutyRatio).toBeCloseTo(vector.duty, 2);
    expect(day.unit).toBe('relative');
    expect(day.demand!.value / healthy.demand!.value).toBeCloseTo(vector.demand / 2, 2);
    // The dead time that is taken from each run weighs more in a short run: 10 % of it at most.
    expect(Math.abs(day.delivery!.value / healthy.delivery!.value / (vector.delivery / 10) - 1)).toBeLessThan(0.08);
  });

  test('stepDescriptors() tells a worn compressor from a doubled leak at the very same run time', () => {
    const worn = dayOf(1);
    const leaking = dayOf(2);
    expect(worn.runS / worn.starts).toBeCloseTo(leaking.runS / leaking.starts, -1);
    expect(worn.demand!.value / healthy.demand!.value).toBeCloseTo(1, 2);
    expect(leaking.demand!.value / healthy.demand!.value).toBeCloseTo(2, 2);
    expect(worn.delivery!.value / healthy.delivery!.value).toBeLessThan(0.85);
    expect(leaking.delivery!.value / healthy.delivery!.value).toBeGreaterThan(0.95);
  });
});

describe('times and pressure', () => {
  test.each(VECTORS.filter((vector) => vector.offMin > 4).map((vector) => [`${vector.delivery} and ${vector.demand}`, vector] as const))('stepDescriptors() finds flows %s', (_, vector) => {
    const day = fold(record(vector.onMin, vector.offMin, true), setupOf({ tankLitres: LITRES, reportEveryS: 10 })).days[1]!;
    // Flows are at 14.7 psi and the tank's temperature; ours at 101.325 kPa and 0 °C.
    const perCubicFoot = (28.316846592 * 14.7 * PSI_KPA * 273.15) / (101.325 * 293.15);
    expect(day.unit).toBe('NL/min');
    expect(day.demand!.value / perCubicFoot).toBeCloseTo(vector.demand, 1);
    expect(day.delivery!.value / perCubicFoot).toBeCloseTo(vector.delivery, 1);
  });
});
