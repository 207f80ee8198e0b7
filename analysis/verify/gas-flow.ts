/*
 * Gas through a hole, written from the textbook's equations of ideal gas. SI inside: Pa absolute, K, kg/s; the product's units
 * at the edges. Nothing here is shared with what makes simulated worlds.
 */

/** Universal gas constant, J/(mol K), exact since 2019; molar masses, kg/mol. */
const R = 8.314462618;
export const NITROGEN = { molarKg: 0.0280134, k: 1.4 } as const;
export const AIR = { molarKg: 0.0289647, k: 1.4 } as const;
export type Gas = { readonly molarKg: number; readonly k: number };

export const ATMOSPHERE_KPA = 101.325;
const NORMAL_K = 273.15;
const STANDARD_K = 293.15;

/** Outlet over inlet pressure (absolute) below which flow is choked: (2/(k+1))^(k/(k−1)); 0.528 at k = 1.4. */
export function criticalRatio(k: number): number {
  return (2 / (k + 1)) ** (k / (k - 1));
}

export type HoleFlow = { readonly areaMm2: number; readonly upKPaAbs: number; readonly downKPaAbs: number; readonly upK: number; readonly gas: Gas; /** Discharge coefficient: 1 ideal, 0.97 well rounded, 0.65 sharp-edged (handbook table's footnote). */ readonly coefficient: number; /** Compressibility; 1 = ideal gas. */ readonly z?: number };

/**
 * Mass flow through a hole, kg/s: choked where the outlet is below the critical ratio, else isentropic and subsonic.
 * @throws {RangeError} if a pressure or the temperature isn't above 0.
 * @see API Standard 520-1, critical and subcritical flow; Shapiro 1953, The Dynamics and Thermodynamics of Compressible Fluid Flow, ch. 4.
 */
export function holeKgPerS({ areaMm2, upKPaAbs, downKPaAbs, upK, gas, coefficient, z = 1 }: HoleFlow): number {
  for (const [name, value] of [['upKPaAbs', upKPaAbs], ['downKPaAbs', downKPaAbs], ['upK', upK]] as const) {
    if (!(value > 0)) throw new RangeError(`Cannot reckon a flow as ${name} must be above 0: current value is ${value}`);
  }
  const { k } = gas;
  const ratio = downKPaAbs / upKPaAbs;
  if (ratio >= 1) return 0;
  const perArea = (coefficient * upKPaAbs * 1000) / Math.sqrt((z * R * upK) / gas.molarKg);
  const shape = ratio <= criticalRatio(k) ? Math.sqrt(k) * (2 / (k + 1)) ** ((k + 1) / (2 * (k - 1))) : Math.sqrt(((2 * k) / (k - 1)) * (ratio ** (2 / k) - ratio ** ((k + 1) / k)));
  return areaMm2 * 1e-6 * perArea * shape;
}

/** Litres a minute at a reference state (pressure, temperature) that carry so much mass. */
export function litresPerMin(kgPerS: number, gas: Gas, atK: number, atKPa = ATMOSPHERE_KPA): number {
  return ((kgPerS / gas.molarKg) * R * atK * 60) / atKPa;
}

/** NL/min (0 °C, 101.325 kPa) as standard litres a minute (20 °C, 101.325 kPa). */
export function standardFromNormal(nlPerMin: number): number {
  return (nlPerMin * STANDARD_K) / NORMAL_K;
}

/** Diameter of the one round hole, mm, that lets so many NL/min of nitrogen out into the open at 20 °C. Zero or less is no hole. */
export function holeMm(nlPerMin: number, upKPaGauge: number, coefficient: number, atmosphereKPa = ATMOSPHERE_KPA): number | undefined {
  if (!(nlPerMin > 0) || !(upKPaGauge > 0)) return undefined;
  const perMm2 = litresPerMin(holeKgPerS({ areaMm2: 1, upKPaAbs: upKPaGauge + atmosphereKPa, downKPaAbs: atmosphereKPa, upK: STANDARD_K, gas: NITROGEN, coefficient }), NITROGEN, NORMAL_K);
  return Math.sqrt(((nlPerMin / perMm2) * 4) / Math.PI);
}

/**
 * Fall of a shut volume's pressure, kPa, that loses through one hole for some hours: mass balance of an ideal gas at one
 * temperature, in steps of at most a hundredth of the way to the open air. The flow is known at `flowAtKPaGauge` and follows
 * the pressure as that of a hole does, because a leak flows less as its piping empties.
 */
export function fallThroughHole(params: { readonly litres: number; readonly fromKPaGauge: number; readonly hours: number; readonly nlPerMin: number; readonly flowAtKPaGauge: number; readonly celsius?: number; readonly atmosphereKPa?: number }): number {
  const { litres, fromKPaGauge, hours, nlPerMin, flowAtKPaGauge, celsius = 20, atmosphereKPa = ATMOSPHERE_KPA } = params;
  if (!(litres > 0)) throw new RangeError(`Cannot reckon a fall as litres must be above 0: current value is ${litres}`);
  const shape = (gaugeKPa: number): number => (gaugeKPa <= 0 ? 0 : holeKgPerS({ areaMm2: 1, upKPaAbs: gaugeKPa + atmosphereKPa, downKPaAbs: atmosphereKPa, upK: STANDARD_K, gas: NITROGEN, coefficient: 1 }));
  const known = shape(flowAtKPaGauge);
  if (known === 0) return 0;
  const kPaPerNL = (ATMOSPHERE_KPA / litres) * ((celsius + 273.15) / NORMAL_K);
  let gauge = fromKPaGauge;
  let leftMin = hours * 60;
  while (leftMin > 1e-9 && gauge > 1e-6) {
    const perMin = (shape(gauge) / known) * nlPerMin * kPaPerNL;
    const stepMin = Math.min(leftMin, (gauge / perMin) * 0.01);
    // The midpoint's flow stands for the step: the error falls with its square.
    const middle = Math.max(0, gauge - (perMin * stepMin) / 2);
    gauge -= (shape(middle) / known) * nlPerMin * kPaPerNL * stepMin;
    leftMin -= stepMin;
  }
  return fromKPaGauge - Math.max(0, gauge);
}
