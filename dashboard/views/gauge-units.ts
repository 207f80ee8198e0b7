/** What the gauges on site show; what is kept is kPa gauge. A technician should never have to convert at a gauge. */
export const GAUGE_UNITS = ['kPa', 'bar', 'psi'] as const;
export type GaugeUnit = (typeof GAUGE_UNITS)[number];

/** kPa in one of each. psi: 4.4482216152605 N over (25.4 mm)². @see UCUM, [psi] */
const KPA_IN: Readonly<Record<GaugeUnit, number>> = { kPa: 1, bar: 100, psi: 6.894757293168361 };
const PLACES: Readonly<Record<GaugeUnit, number>> = { kPa: 0, bar: 2, psi: 1 };

export function kPaFromGauge(value: number, unit: GaugeUnit): number {
  return value * KPA_IN[unit];
}

export function gaugeFromKPa(kPa: number, unit: GaugeUnit): number {
  return kPa / KPA_IN[unit];
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
