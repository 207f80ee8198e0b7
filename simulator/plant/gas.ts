/** Pressure and temperature of a normal litre (NL): 101.325 kPa, 0 °C (DIN 1343). */
export const NORMAL_KPA = 101.325;
export const NORMAL_K = 273.15;
/** Gas constant of air, J/(kg K), and its ratio of heats; nitrogen differs by 3 % and 0, less than any orifice is known. */
const AIR_R = 287.05;
const AIR_K = 1.4;
const AIR_KG_PER_NL = (NORMAL_KPA * 1000) / (AIR_R * NORMAL_K) / 1000;
/** Reference of ISO 6358: 20 °C, 1.185 kg/m³. */
const ISO_6358_K = 293.15;
const ISO_6358_KG_PER_L = 1.185e-3;

/** Gas in a vessel, NL, from its absolute pressure. */
export function amountNL(absKPa: number, litres: number, gasK: number): number {
  return ((absKPa * litres) / NORMAL_KPA) * (NORMAL_K / gasK);
}

/** Absolute pressure of an amount of gas in a vessel, kPa. */
export function pressureAbsKPa(gasNL: number, litres: number, gasK: number): number {
  return ((gasNL * NORMAL_KPA) / litres) * (gasK / NORMAL_K);
}

let lastElevationM = 0;
let lastAtmosphereKPa = NORMAL_KPA;
/** Pressure of the air at a height above the sea, kPa (ICAO standard atmosphere). The last answer is kept: it is asked for again and again. */
export function atmosphereKPa(elevationM: number): number {
  if (elevationM !== lastElevationM) {
    lastElevationM = elevationM;
    lastAtmosphereKPa = NORMAL_KPA * (1 - 2.25577e-5 * elevationM) ** 5.25588;
  }
  return lastAtmosphereKPa;
}

/** Outlet over inlet pressure at and below which a nozzle chokes. */
export function criticalRatio(heatRatio: number): number {
  return (2 / (heatRatio + 1)) ** (heatRatio / (heatRatio - 1));
}

const AIR_CRITICAL = criticalRatio(AIR_K);
const AIR_CHOKED = Math.sqrt(AIR_K) * (2 / (AIR_K + 1)) ** ((AIR_K + 1) / (2 * (AIR_K - 1)));

export type Nozzle = { readonly areaMm2: number; readonly upAbsKPa: number; readonly downAbsKPa: number; readonly upK: number; readonly heatRatio: number; readonly gramsPerMol: number; readonly compressibility: number };

/** Isentropic mass flow of any gas through a nozzle, kg/h, choked or subsonic. Area includes the discharge coefficient. */
export function nozzleKgPerHour(nozzle: Nozzle): number {
  const { areaMm2, upAbsKPa, downAbsKPa, upK, heatRatio: k } = nozzle;
  if (downAbsKPa >= upAbsKPa) return 0;
  const perArea = (upAbsKPa * 1000) / Math.sqrt((nozzle.compressibility * 8314.462618 * upK) / nozzle.gramsPerMol);
  const ratio = Math.max(downAbsKPa / upAbsKPa, criticalRatio(k));
  const psi = Math.sqrt(((2 * k) / (k - 1)) * (ratio ** (2 / k) - ratio ** ((k + 1) / k)));
  return areaMm2 * 1e-6 * perArea * psi * 3600;
}

/**
 * Flow of air or nitrogen through a hole, NL/min; area in mm², coefficient included. No flow uphill.
 * The same formula as `nozzleKgPerHour` with the constants of air worked out, because it is asked millions of times.
 */
export function orificeNLPerMin(areaMm2: number, upAbsKPa: number, downAbsKPa: number, upK: number): number {
  if (areaMm2 <= 0 || downAbsKPa >= upAbsKPa) return 0;
  const perArea = (upAbsKPa * 1000) / Math.sqrt(AIR_R * upK);
  const ratio = downAbsKPa / upAbsKPa;
  const psi = ratio <= AIR_CRITICAL ? AIR_CHOKED : Math.sqrt(7 * (ratio ** (2 / AIR_K) - ratio ** (2.4 / AIR_K)));
  return (areaMm2 * 1e-6 * perArea * psi * 60) / AIR_KG_PER_NL;
}

/** Effective area of a sharp-edged round hole, mm² (coefficient 0.65). */
export function holeMm2(diameterMm: number): number {
  return 0.65 * (Math.PI / 4) * diameterMm * diameterMm;
}

/**
 * Flow through a valve or fitting of sonic conductance C, NL/min.
 * Below 5 % of pressure drop the curve is a straight line: the square root's endless slope at zero flow is not in real
 * fittings, where the flow is laminar there, and would keep a solver from settling.
 * @see ISO 6358-1:2013; critical ratio b = 0.3 unless told.
 */
export function valveNLPerMin(conductanceLPerSBar: number, upAbsKPa: number, downAbsKPa: number, upK: number, criticalB = 0.3): number {
  if (downAbsKPa >= upAbsKPa) return 0;
  const ratio = downAbsKPa / upAbsKPa;
  const choked = (upAbsKPa / 100) * conductanceLPerSBar * ISO_6358_KG_PER_L * Math.sqrt(ISO_6358_K / upK);
  const shape = ratio <= criticalB ? 1 : ratio <= 0.95 ? Math.sqrt(1 - ((ratio - criticalB) / (1 - criticalB)) ** 2) : Math.sqrt(1 - ((0.95 - criticalB) / (1 - criticalB)) ** 2) * ((1 - ratio) / 0.05);
  return (choked * shape * 60) / AIR_KG_PER_NL;
}
