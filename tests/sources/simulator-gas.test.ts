// Source: each test names its own. The simulator's flow, humidity, compressor and membrane formulas against published numbers.
import { describe, expect, test } from 'vitest';
import { compressorNLPerMin, volumetricEfficiency } from '../../simulator/plant/compressor.ts';
import { amountNL, atmosphereKPa, criticalRatio, nozzleKgPerHour, orificeNLPerMin, pressureAbsKPa, valveNLPerMin } from '../../simulator/plant/gas.ts';
import { condensateGramsPerNL, humidityRatio, relativeHumidityPercent, saturationPa } from '../../simulator/plant/humid-air.ts';
import { AIR_OXYGEN, crossFlow } from '../../simulator/plant/membrane.ts';

const PSI_KPA = 6.894757293168;
const AIR_70F_K = 294.261;
const circleMm2 = (inch: number): number => (Math.PI / 4) * (inch * 25.4) ** 2;
/** NL/min as cubic feet a minute of air at 70 °F and 14.696 psia. */
const asCfm = (nlPerMin: number): number => ((nlPerMin * AIR_70F_K) / 273.15) / 28.316846592;
const orificeCfm = (inch: number, psig: number): number => asCfm(orificeNLPerMin(circleMm2(inch), (psig + 14.696) * PSI_KPA, 101.325, AIR_70F_K));

// Source: handbook table "Discharge of air through an orifice", "Based on 100% coefficient of flow". The table has three
// digits and lies 0.3 % under the ideal nozzle, and its smallest hole is rounded to 0.001: hence 1 %, and 2 % for 1/64 in.
describe('orificeNLPerMin() meets the handbook table at a coefficient of 1', () => {
  const sizes = [1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4, 3 / 8];
  const table: readonly [number, readonly number[]][] = [
    [15, [0.105, 0.42, 1.68, 6.72, 26.9, 60.5]], [20, [0.123, 0.491, 1.96, 7.86, 31.4, 70.7]], [30, [0.158, 0.633, 2.53, 10.1, 40.5, 91.1]],
    [40, [0.194, 0.774, 3.1, 12.4, 49.6, 112]], [50, [0.229, 0.916, 3.66, 14.7, 58.6, 132]], [70, [0.3, 1.2, 4.79, 19.2, 76.7, 173]], [100, [0.406, 1.62, 6.49, 26, 104, 234]], [125, [0.494, 1.98, 7.9, 31.6, 126, 284]],
  ];
  for (const [psig, flows] of table) {
    test(`at ${psig} psi gauge`, () => flows.forEach((cfm, index) => expect(Math.abs(orificeCfm(sizes[index]!, psig) / cfm - 1)).toBeLessThan(index === 0 ? 0.02 : 0.011)));
  }
});

// Source: US DOE, Compressed Air Tip Sheet 3 (2004), leak table; its numbers are from memory. The table carries about 0.97
// already: ideal flow is 3 % above it, and its own rounding adds the rest of the 5 %; 1/64 in. is left out, two digits only.
test('orificeNLPerMin() meets the DOE leak table within 5 %', () => {
  const sizes = [1 / 32, 1 / 16, 1 / 8, 1 / 4, 3 / 8];
  const table: readonly [number, readonly number[]][] = [[70, [1.16, 4.66, 18.62, 74.4, 167.8]], [80, [1.26, 5.24, 20.76, 83.1, 187.2]], [90, [1.46, 5.72, 23.1, 92, 206.6]], [100, [1.55, 6.31, 25.22, 100.9, 227]], [125, [1.94, 7.66, 30.65, 122.2, 275.5]]];
  for (const [psig, flows] of table) flows.forEach((cfm, index) => expect(Math.abs(orificeCfm(sizes[index]!, psig) * 0.97 / cfm - 1)).toBeLessThan(0.05));
});

// Source: Çengel and Cimbala 2006, example 12.4, and the exact value for 1.4.
test('criticalRatio() is .528282 for air and gives 766812.9 Pa of 1.4 MPa for a heat ratio of 1.289', () => {
  expect(criticalRatio(1.4)).toBeCloseTo(0.528282, 6);
  expect(1_400_000 * criticalRatio(1.289)).toBeCloseTo(766_812.9022792266, 3);
});

// Source: API 520 part 1, worked examples: 24,270 kg/h, M 51, 348 K, Z 0.90, k 1.11, 670 kPa, Kd 0.975.
// Their areas are rounded to a tenth of a mm² and their charts to three digits: 0.1 %.
test('nozzleKgPerHour() meets both regimes of API 520', () => {
  const gas = { upAbsKPa: 670, upK: 348, heatRatio: 1.11, gramsPerMol: 51, compressibility: 0.9 };
  expect(nozzleKgPerHour({ ...gas, areaMm2: 3699 * 0.975, downAbsKPa: 101 }) / 24_270).toBeCloseTo(1, 3);
  expect(nozzleKgPerHour({ ...gas, areaMm2: 4248.4 * 0.975, downAbsKPa: 532 }) / 24_270).toBeCloseTo(1, 2);
});

// Source: equation of ISO 6358; vectors computed from it for C = 2 dm³/(s bar), 7 bar absolute, 20 °C, in dm³/s ANR.
test('valveNLPerMin() meets the ISO 6358 ellipse', () => {
  const asAnr = (nl: number): number => ((nl / 60) * (101325 / (287.05 * 273.15)) / 1000) / 1.185e-3;
  const ratios = [0.2, 0.3, 0.528, 0.7, 0.8, 0.9, 0.95];
  const vectors: readonly [number, readonly number[]][] = [[0.3, [14, 14, 13.2366, 11.4891, 9.798, 7.2111, 5.1962]], [0.528, [14, 14, 14, 13.0374, 11.4416, 8.617, 6.271]]];
  for (const [b, flows] of vectors) flows.forEach((flow, index) => expect(asAnr(valveNLPerMin(2, 700, 700 * ratios[index]!, 293.15, b))).toBeCloseTo(flow, 3));
});

// Source: clearance formula of a reciprocating stage; table computed for n = 1.3.
test('volumetricEfficiency() meets the clearance table', () => {
  const table: readonly [number, readonly number[]][] = [[0.04, [0.9238, 0.842, 0.8049]], [0.06, [0.8857, 0.7629, 0.7073]], [0.1, [0.8095, 0.6049, 0.5122]]];
  for (const [clearance, values] of table) [4, 8, 10].forEach((ratio, index) => expect(volumetricEfficiency(clearance, ratio)).toBeCloseTo(values[index]!, 4));
});

// Reference: ideal gas; air that is 10 K warmer at 20 °C holds 3.4 % less.
test('compressorNLPerMin() falls by 3.4 % for 10 K of room', () => {
  const spec = { displacementLPerMin: 150, clearanceRatio: 0.03, intakeRiseK: 0 };
  const at = (roomK: number): number => compressorNLPerMin(spec, { roomK, atmKPa: 101.325, intakeDropKPa: 0 }, 800, 1);
  expect(at(303.15) / at(293.15)).toBeCloseTo(1 - 0.033, 3);
});

// Source: pump-up test, US 80 gal from 100 to 125 psi gauge in 1.20 min: 15.157 scfm (computed); BEE guide book 3: 13.17 m³/min (from memory).
test('amountNL() gives the pump-up tests', () => {
  const gained = (litres: number, kPa: number): number => amountNL(kPa, litres, 273.15);
  expect((gained(80 * 3.785411784, 25 * PSI_KPA) / 1.2) / 28.316846592 * (101.325 / (14.7 * PSI_KPA))).toBeCloseTo(15.157, 2);
  expect(((gained(8322, (7.03 - 0.5) * 98.0665) / 4.021) * 101.325) / (1.026 * 98.0665) / 1000).toBeCloseTo(13.17, 2);
});

// Source: ideal gas, sealed pipe: 40 psi gauge at 70 °F reads 36.9021 at 40 °F, 43.2839 the other way.
test('pressureAbsKPa() of a sealed pipe follows temperature', () => {
  const fahrenheit = (f: number): number => ((f - 32) * 5) / 9 + 273.15;
  const move = (from: number, to: number): number => pressureAbsKPa(amountNL((40 + 14.696) * PSI_KPA, 100, fahrenheit(from)), 100, fahrenheit(to)) / PSI_KPA - 14.696;
  expect(move(70, 40)).toBeCloseTo(36.9021, 3);
  expect(move(70, 32)).toBeCloseTo(36.076, 3);
  expect(move(40, 70)).toBeCloseTo(43.2839, 3);
});

// Source: ICAO standard atmosphere, table: 1,000 m 89.875 kPa, 2,000 m 79.495 kPa (from memory).
test('atmosphereKPa() follows the standard atmosphere', () => {
  expect(atmosphereKPa(0)).toBe(101.325);
  expect(atmosphereKPa(1000)).toBeCloseTo(89.875, 1);
  expect(atmosphereKPa(2000)).toBeCloseTo(79.495, 1);
});

// Source: ASHRAE Handbook Fundamentals 2017, chapter 1, table 3 (300 ppm as psychrolib's own test allows) and table 2.
test('saturationPa() and humidityRatio() meet ASHRAE', () => {
  for (const [airC, pa] of [[-60, 1.08], [-20, 103.24], [-5, 401.74], [5, 872.6], [25, 3169.7], [50, 12351.3], [100, 101418], [150, 476101.4]] as const) expect(Math.abs(saturationPa(airC) / pa - 1)).toBeLessThan(airC === -60 ? 0.01 : 3e-4);
  for (const [airC, ratio] of [[5, 0.005425], [25, 0.020173], [50, 0.086863]] as const) expect(Math.abs(humidityRatio(saturationPa(airC), 101_325) / ratio - 1)).toBeLessThan(0.01);
  expect(humidityRatio(3169.7, 95_461)).toBeCloseTo(0.0213603998047487, 12);
});

// Source: Magnus formula of WMO-No. 8 (2023), vectors of pvlib's tests.
test('relativeHumidityPercent() meets the WMO formula', () => {
  for (const [airC, dewC, percent] of [[20, 15, 72.95185312581116], [25, 20, 73.81500029087906], [30, 25, 74.6401272083123], [15, 12, 82.27063889868842], [10, 8, 87.39018119185337]] as const) expect(relativeHumidityPercent(airC, dewC)).toBeCloseTo(percent, 9);
});

// Source: worked example computed from ASHRAE's formulas: 30 °C, 70 %, to 9.01325 bar absolute; 24.16, 26.94, 29.12, 29.65 L a
// day at 1 m³/min of intake air; the example took Magnus for vapour pressure, which is 0.3 % under ASHRAE's. A cubic metre of humid intake air holds less dry air than one of dry air: the example's mass.
test('condensateGramsPerNL() gives 24.16 litres a day', () => {
  const nlPerM3 = (1000 * 273.15 * (101.325 - 0.7 * saturationPa(30) / 1000)) / (303.15 * 101.325);
  for (const [cooledC, litres] of [[35, 24.16], [25, 26.94], [10, 29.12], [3, 29.65]] as const) expect(Math.abs((condensateGramsPerNL(30, 70, 101.325, 901.325, cooledC) * nlPerM3 * 1.44) / litres - 1)).toBeLessThan(0.004);
});

/** Area at which the retentate has this oxygen. */
function areaFor(oxygen: number, ratio: number, feed: number, alpha: number): number {
  let small = 0.001;
  let large = 6;
  for (let round = 0; round < 60; round += 1) {
    const middle = (small + large) / 2;
    if (crossFlow(middle, ratio, feed, alpha).oxygen > oxygen) small = middle;
    else large = middle;
  }
  return small;
}

// Source: Geankoplis, Transport Processes, example 13.6-1 (from memory, computed again): .209, alpha 10, 190 to 19 cmHg, theta .2.
// The plant models cross-flow only; the complete-mixing examples are of a formula that it doesn't have.
test('crossFlow() meets Geankoplis 13.6-1', () => {
  let small = 0.0001;
  let large = 3;
  for (let round = 0; round < 60; round += 1) {
    const middle = (small + large) / 2;
    if (crossFlow(middle, 0.1, 0.209, 10).product > 0.8) small = middle;
    else large = middle;
  }
  const out = crossFlow(small, 0.1, 0.209, 10);
  expect(out.oxygen).toBeCloseTo(0.11904, 4);
  expect((0.209 - 0.8 * out.oxygen) / 0.2).toBeCloseTo(0.56886, 4);
  // Area in cm²: s × feed flow × thickness / (permeability of nitrogen × feed pressure).
  expect((small * 1e6 * 2.54e-3) / (50e-10 * 190) / 1e8).toBeCloseTo(2.8996, 3);
});

// Source: computed cross-flow behaviour at 8 bar absolute, permeate 1 bar; feed over product. Twelve steps are 1 % off at 99.5 %.
test('crossFlow() meets the table of feed over product', () => {
  const table: readonly [number, readonly number[]][] = [[4, [2.629, 3.518, 4.401, 6.4]], [6, [2.028, 2.496, 2.928, 3.821, 4.964]], [8, [1.807, 2.145, 2.447, 3.047, 3.781]]];
  for (const [alpha, ratios] of table) {
    ratios.forEach((ratio, index) => {
      const purity = [0.95, 0.97, 0.98, 0.99, 0.995][index]!;
      expect(Math.abs(1 / crossFlow(areaFor(1 - purity, 1 / 8, AIR_OXYGEN, alpha), 1 / 8, AIR_OXYGEN, alpha).product / ratio - 1), `${alpha} ${purity}`).toBeLessThan(purity > 0.985 ? 0.01 : 0.001);
    });
  }
});

// Source: the same module, sized for 98 % at 8 bar; product flow held while feed pressure, product flow or permeance change.
test('crossFlow() meets the table of purity against pressure, flow and permeance', () => {
  const sized = areaFor(0.02, 1 / 8, AIR_OXYGEN, 6);
  const feed = 1 / crossFlow(sized, 1 / 8, AIR_OXYGEN, 6).product;
  const module = (sized * feed) / 8;
  const purity = (bar: number, product: number, permeance: number): number => {
    let small = product * 1.05;
    let large = product * 40;
    for (let round = 0; round < 60; round += 1) {
      const middle = (small + large) / 2;
      if (crossFlow((module * permeance * bar) / middle, 1 / bar, AIR_OXYGEN, 6).product * middle > product) large = middle;
      else small = middle;
    }
    return 100 * (1 - crossFlow((module * permeance * bar) / small, 1 / bar, AIR_OXYGEN, 6).oxygen);
  };
  // A hundredth of a per cent: the steps of the integration at nearly pure product.
  const cases: readonly [number, number, number, number][] = [[9, 1, 1, 98.594], [7.5, 1, 1, 97.604], [7, 1, 1, 97.121], [6, 1, 1, 95.814], [5, 1, 1, 93.87], [8, 0.75, 1, 98.755], [8, 1.25, 1, 97.219], [8, 2, 1, 95.012], [8, 1, 1.1, 98.28], [8, 1, 0.9, 97.653], [8, 1, 0.7, 96.667]];
  for (const [bar, product, permeance, percent] of cases) expect(Math.abs(purity(bar, product, permeance) - percent), `${bar} bar, ${product}, ${permeance}`).toBeLessThan(0.015);
});
