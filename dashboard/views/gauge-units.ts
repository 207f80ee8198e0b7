import { inKeptUnit, inShownUnit, PRESSURE_UNITS } from './shown-units.ts';

/** What the gauges on site show, whatever the pages show; what is kept is kPa gauge. A technician should never have to convert at a gauge. */
export const GAUGE_UNITS = PRESSURE_UNITS;
export type GaugeUnit = (typeof GAUGE_UNITS)[number];

const PLACES: Readonly<Record<GaugeUnit, number>> = { kPa: 0, bar: 2, psi: 1 };

export function kPaFromGauge(value: number, unit: GaugeUnit): number {
  return inKeptUnit(value, 'kPa', { pressure: unit, temperature: '°C' });
}

export function gaugeFromKPa(kPa: number, unit: GaugeUnit): number {
  return inShownUnit(kPa, 'kPa', { pressure: unit, temperature: '°C' });
}

/** `35.0 psi`, with a space that doesn't break. */
export function gaugeWords(kPa: number, unit: GaugeUnit): string {
  return `${gaugeFromKPa(kPa, unit).toFixed(PLACES[unit]).replace('-', '−')}\u00a0${unit}`;
}

/** A number as typed, comma or point; `null` for nothing, `undefined` for what is no number. */
export function typedNumber(text: string | undefined): number | null | undefined {
  const trimmed = (text ?? '').trim().replace(',', '.');
  if (trimmed === '') return null;
  const value = Number(trimmed);
  return Number.isFinite(value) ? value : undefined;
}
