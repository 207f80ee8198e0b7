import type { DescriptorSetup } from './state.ts';

/** Normal conditions of NL: 0 °C and 101.325 kPa. */
const NORMAL_KELVIN = 273.15;
const NORMAL_KPA = 101.325;
/** Slopes "in kPa" are slopes of the pressure that the same gas would have at 20 °C, so that a cooling room is no leak. */
const REFERENCE_KELVIN = 293.15;

/**
 * Pressure of the air outside, kPa absolute, in the standard atmosphere; weather moves it by ±3 %, which is left out:
 * at 600 kPa gauge that is 0.4 % of the content.
 * @see ISO 2533:1975, standard atmosphere below 11 km.
 */
export function atmosphereKPa(elevationM: number): number {
  return NORMAL_KPA * (1 - 2.25577e-5 * elevationM) ** 5.25588;
}

let outsideOf: { readonly elevationM: number; readonly kPa: number } = { elevationM: 0, kPa: atmosphereKPa(0) };
/** Pressure of the air where a generator stands, kPa absolute. The same few elevations come again and again; a power for each sample would be half the cost of one. */
export function outsideKPa(setup: DescriptorSetup): number {
  const { elevationM } = setup.registered.site;
  if (outsideOf.elevationM !== elevationM) outsideOf = { elevationM, kPa: atmosphereKPa(elevationM) };
  return outsideOf.kPa;
}

/**
 * What a closed volume holds, as the absolute pressure that its gas would have at 20 °C (kPa).
 * Ideal gas: amount = pV/RT; nitrogen at 1,000 kPa is within 0.3 % of it.
 */
export function contentKPa(gaugeKPa: number, outsideKPa: number, celsius: number): number {
  return ((gaugeKPa + outsideKPa) * REFERENCE_KELVIN) / (celsius + 273.15);
}

/** NL in a tank of `litres` for each kPa of `contentKPa`. */
export function litresNPerKPa(litres: number): number {
  return (litres / NORMAL_KPA) * (NORMAL_KELVIN / REFERENCE_KELVIN);
}

/** Gauge pressure that a sealed pipe shows at another temperature, with no leak (kPa). */
export function sealedGaugeKPa(gaugeKPa: number, outsideKPa: number, fromCelsius: number, toCelsius: number): number {
  return ((gaugeKPa + outsideKPa) * (toCelsius + 273.15)) / (fromCelsius + 273.15) - outsideKPa;
}
