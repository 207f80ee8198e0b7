import { NORMAL_K, NORMAL_KPA } from './gas.ts';

/** A small reciprocating compressor. */
export type CompressorSpec = {
  /** Swept volume per minute at nominal speed, litres. */
  readonly displacementLPerMin: number;
  readonly clearanceRatio: number;
  /** Warming of the air between the room and the cylinder, K. */
  readonly intakeRiseK: number;
};

/** Exponent of expansion of the gas that the clearance traps; between isothermal and adiabatic. */
const POLYTROPIC = 1.3;

/** Share of the swept volume that is drawn in: the gas left in the clearance takes its room again. Never below 0. */
export function volumetricEfficiency(clearanceRatio: number, pressureRatio: number): number {
  return Math.max(0, 1 + clearanceRatio - clearanceRatio * pressureRatio ** (1 / POLYTROPIC));
}

export type Intake = { readonly roomK: number; readonly atmKPa: number; /** Drop over the intake element, kPa. */ readonly intakeDropKPa: number };

/** Air delivered against a discharge pressure, NL/min. `condition` = 1 when new: wear, valves, belt and voltage lower it. */
export function compressorNLPerMin(spec: CompressorSpec, intake: Intake, dischargeAbsKPa: number, condition: number): number {
  const suctionKPa = intake.atmKPa - intake.intakeDropKPa;
  const filled = volumetricEfficiency(spec.clearanceRatio, dischargeAbsKPa / suctionKPa);
  return spec.displacementLPerMin * filled * condition * (suctionKPa / NORMAL_KPA) * (NORMAL_K / (intake.roomK + spec.intakeRiseK));
}
