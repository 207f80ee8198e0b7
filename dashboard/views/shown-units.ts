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

const PRESSURE_IN_TEXT = /([-−]?\d[\d,]*(?:\.\d+)?)(?:(\s?(?:to|–|-)\s?)([-−]?\d[\d,]*(?:\.\d+)?))?[\s\u00a0]?kPa\b/g;

/**
 * A sentence that analysis wrote, its pressures in the unit that was chosen: `240 to 180 kPa`, `8.5 kPa/h`. Temperatures are left
 * as they are, because a sentence may mean a difference of °C. Three digits are kept, as many as a gauge is read with.
 */
export function sentenceInShownUnits(text: string): string {
  if (chosen.pressure === 'kPa') return text;
  const number = (digits: string): string => String(Number(inShownUnit(Number(digits.replaceAll(',', '').replace('−', '-')), 'kPa').toPrecision(3))).replace('-', '−');
  return text.replaceAll(PRESSURE_IN_TEXT, (_all, from: string, between: string | undefined, to: string | undefined) => `${number(from)}${between === undefined || to === undefined ? '' : `${between}${number(to)}`}\u00a0${chosen.pressure}`);
}
