import { NBSP } from './number-words.ts';
import { inShownUnit, shownUnit } from './shown-units.ts';
import { readingOf } from './visit-readings.ts';

/** The few numbers that a visit leaves behind, as found and as left, under names with their unit last. */
export const MEASURED = [
  { name: 'tankPressureKPa', words: 'tank pressure', unit: 'kPa' },
  { name: 'systemPressureKPa', words: 'piping pressure', unit: 'kPa' },
  { name: 'elementDropKPa', words: 'drop over elements', unit: 'kPa' },
  { name: 'nitrogenPercent', words: 'nitrogen', unit: '%' },
] as const;

/** One of them as a person says it; a name that is not ours is shown as it was written. */
export function measuredValueWords(name: string, value: number): string {
  const known = MEASURED.find((one) => one.name === name) ?? readingOf(name);
  return known === undefined ? `${name} ${value}` : `${known.words} ${Number(inShownUnit(value, known.unit).toPrecision(4))}${NBSP}${shownUnit(known.unit)}`;
}
