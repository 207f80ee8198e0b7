// Issue: "The main job, end to end, on real input", item 3: unit resolution.
import { expect, test } from 'vitest';
import { CHANNELS, type Quantity } from '../../shared/channels.ts';
import { conversionFor, keptSymbol, standardAtmosphereKPa, unitsOf } from '../../shared/units.ts';

const kept = (quantity: Quantity, unit: string, value: number): number => {
  const conversion = conversionFor(quantity, unit);
  if ('rejected' in conversion) throw new Error(conversion.rejected);
  return value * conversion.scale + conversion.offset;
};

test('conversionFor() brings each sent unit to the kept one', () => {
  expect(kept('pressure', 'Pa', 640_000)).toBeCloseTo(640, 10);
  expect(kept('pressure', 'bar', 6.4)).toBeCloseTo(640, 10);
  expect(kept('pressure', 'mbar', 6400)).toBeCloseTo(640, 10);
  expect(kept('pressure', 'psi', 100)).toBeCloseTo(689.4757293168361, 10);
  expect(kept('temperature', 'K', 293.15)).toBeCloseTo(20, 10);
  expect(kept('temperature', '[degF]', 68)).toBeCloseTo(20, 10);
  expect(kept('relative-humidity', '%RH', 45)).toBe(45);
  expect(kept('relative-humidity', '/', 0.45)).toBe(45);
});

test('conversionFor() tells a unit of something else from an unknown one', () => {
  expect(conversionFor('pressure', 'Cel')).toEqual({ rejected: 'wrong-quantity' });
  expect(conversionFor('temperature', '1/s')).toEqual({ rejected: 'wrong-quantity' });
  expect(conversionFor('pressure', 'cubit')).toEqual({ rejected: 'unknown-unit' });
  expect(conversionFor('pressure', undefined)).toEqual({ rejected: 'no-unit' });
  expect(conversionFor('pressure', '%')).toEqual({ rejected: 'wrong-quantity' });
});

test('keptSymbol() reads back without any change, for every channel', () => {
  for (const { quantity } of Object.values(CHANNELS)) {
    const symbol = keptSymbol(quantity);
    if (symbol !== null) expect(conversionFor(quantity, symbol), quantity).toEqual({ scale: 1, offset: 0 });
    expect(unitsOf(quantity).length).toBeGreaterThan(0);
  }
});

// Source: ISO 2533:1975, table of the standard atmosphere (values from memory): 101.325, 89.875, 79.495 kPa at 0, 1,000 and 2,000 m.
// The table's own geopotential height differs from metres by 0.03 % at 2,000 m, hence no closer than 0.03 kPa.
test('standardAtmosphereKPa() meets the standard atmosphere', () => {
  expect(standardAtmosphereKPa(0)).toBe(101.325);
  expect(Math.abs(standardAtmosphereKPa(1000) - 89.875)).toBeLessThan(0.03);
  expect(Math.abs(standardAtmosphereKPa(2000) - 79.495)).toBeLessThan(0.03);
});
