/*
 * The units in which a person wants pressures and temperatures. What is kept stays kPa and °C; every number that is shown goes
 * through here. The choice is this folder's only state: a page sets it once, before it draws; the server never does.
 */

export const PRESSURE_UNITS = ['kPa', 'bar', 'psi'] as const;
export const TEMPERATURE_UNITS = ['°C', '°F'] as const;
export type ShownUnits = { readonly pressure: (typeof PRESSURE_UNITS)[number]; readonly temperature: (typeof TEMPERATURE_UNITS)[number] };
export const KEPT_UNITS: ShownUnits = { pressure: 'kPa', temperature: '°C' };

/** kPa in one of each. The psi follows from the pound (0.45359237 kg), standard gravity and the inch (25.4 mm), all exact. */
const KPA_IN: Readonly<Record<ShownUnits['pressure'], number>> = { kPa: 1, bar: 100, psi: 6.894757293168361 };

let chosen: ShownUnits = KEPT_UNITS;

/** From now on numbers are shown in these. */
export function showIn(units: ShownUnits): void {
  chosen = units;
}

export function shownUnits(): ShownUnits {
  return chosen;
}

/** The unit in which a value kept in `keptUnit` is shown; any other than kPa and °C is its own. */
export function shownUnit(keptUnit: string, units: ShownUnits = chosen): string {
  return keptUnit === 'kPa' ? units.pressure : keptUnit === '°C' ? units.temperature : keptUnit;
}

/** A kept value in the shown unit; gauge stays gauge. */
export function inShownUnit(value: number, keptUnit: string, units: ShownUnits = chosen): number {
  if (keptUnit === 'kPa') return value / KPA_IN[units.pressure];
  return keptUnit === '°C' && units.temperature === '°F' ? value * 1.8 + 32 : value;
}

/** What a person typed in the shown unit, as it is kept. */
export function inKeptUnit(value: number, keptUnit: string, units: ShownUnits = chosen): number {
  if (keptUnit === 'kPa') return value * KPA_IN[units.pressure];
  return keptUnit === '°C' && units.temperature === '°F' ? (value - 32) / 1.8 : value;
}
