// Issue: "A diagnosis that holds up", item 9: leak in the trade's terms. The gas itself is held to published tables in tests/sources/gas-flow.test.ts.
import { expect, test } from 'vitest';
import { leakTerms, TEST_KPA } from '../../../analysis/verify/leak-terms.ts';
import type { DayRow } from '../../../shared/cycle.ts';
import { type GeneratorRecord, generatorSchema } from '../../../shared/registry.ts';

const generator = (change: Record<string, unknown> = {}): GeneratorRecord => generatorSchema.parse({ id: 'gen-1', tankLitres: 115, cutInKPa: 550, cutOutKPa: 700, compressorKW: 1.5, risers: [{ id: 'riser-1', setKPa: 240, lowPressureKPa: 180, pipeLitres: 2300 }], ...change });
const day = (demand: number, change: Partial<DayRow> = {}): DayRow => ({ provisional: false, holdingRatio: 1, coveredS: 86_400, runS: 8640, unit: 'NL/min', demand: { value: demand, se: 0.1 }, systemKPa: { value: 240, se: 0.1 }, cutInKPa: 550, cutOutKPa: 700, ...change }) as DayRow;
const days = (count: number, change: Partial<DayRow> = {}): DayRow[] => Array.from({ length: count }, (_, index) => day(3 + 0.1 * (index % 3), change));

test('leakTerms() gives hole, standard litres, falls beside the published figures, and energy', () => {
  const terms = leakTerms({ days: days(7), generator: generator(), elevationM: 0 })!;
  expect(terms.demandNLPerMin).toBeCloseTo(3.1, 12);
  expect(terms.standardLitresPerMin).toBeCloseTo(3.1 * 1.07322, 4);
  // Choked air-like gas: 0.19919 dm³/(s bar) for each ideal mm² at 20 °C and 100 kPa (ISO 6358, reckoned); nitrogen is 1.7 % lighter in flow's root.
  const area = (diameterMm: number) => (Math.PI / 4) * diameterMm ** 2;
  const litresAnr = terms.standardLitresPerMin * 1.01325;
  const byIso = (gaugeKPa: number) => litresAnr / 60 / (0.19919 * Math.sqrt(28.9647 / 28.0134) * 0.65 * ((gaugeKPa + 101.325) / 100));
  expect(area(terms.holeMm.piping!)).toBeCloseTo(byIso(240), 3);
  expect(area(terms.holeMm.tank!)).toBeCloseTo(byIso(625), 3);
  // Held against simple arithmetic: 3.1 NL/min for 2 h out of 2,300 L, at 276 instead of 240 kPa.
  const linear = ((3.1 * 120 * 101.325) / 2300) * (293.15 / 273.15) * ((TEST_KPA + 101.325) / (240 + 101.325));
  expect(terms.fallIn2hKPa! / linear).toBeGreaterThan(0.96);
  expect(terms.fallIn2hKPa! / linear).toBeLessThan(1);
  // 24 h lose less than twelve times 2 h: a hole passes less as its piping empties.
  expect(terms.fallIn24hKPa!).toBeLessThan(12 * terms.fallIn2hKPa!);
  expect(terms.energyKWhPerYear).toBeCloseTo(0.1 * 1.5 * 8766, 6);
  expect(terms.costPerYear).toBeNull();
  expect(terms.says.join(' ')).toContain('NFPA 13 has a loss of more than 10.3 kPa (1.5 psi) corrected');
  expect(terms.says.at(-1)).toContain('An indication from running times, never a test result');
});

test('leakTerms() prices the energy where a price is given', () => {
  const terms = leakTerms({ days: days(7), generator: generator(), elevationM: 0, price: { perKWh: 0.2, unit: 'EUR' } })!;
  expect(terms.costPerYear).toBeCloseTo(0.2 * 0.1 * 1.5 * 8766, 6);
  expect(terms.says.join(' ')).toContain('263 EUR');
});

test('leakTerms() needs three days of demand as an amount of gas', () => {
  expect(leakTerms({ days: days(2), generator: generator(), elevationM: 0 })).toBeNull();
  expect(leakTerms({ days: days(7, { unit: 'kPa/min' }), generator: generator(), elevationM: 0 })).toBeNull();
  expect(leakTerms({ days: days(7, { provisional: true }), generator: generator(), elevationM: 0 })).toBeNull();
});

test('leakTerms() says what can’t be reckoned without the piping’s litres, and leaves power out where none is registered', () => {
  const terms = leakTerms({ days: days(7), generator: generator({ risers: [{ id: 'riser-1' }], compressorKW: undefined }), elevationM: 0 })!;
  expect([terms.fallIn24hKPa, terms.fallIn2hKPa, terms.energyKWhPerYear]).toEqual([null, null, null]);
  expect(terms.says.join(' ')).toContain('can’t be reckoned: its litres or its pressure aren’t known');
});

test('leakTerms() needs a larger hole where the air is thin', () => {
  const at = (elevationM: number) => leakTerms({ days: days(7), generator: generator(), elevationM })!.holeMm.piping!;
  expect(at(2000)).toBeGreaterThan(at(0));
});
