/** Where the fall of the piping is not known, this is how long its supply may stay closed, min (the rule of the trade that we follow). */
export const UNKNOWN_FALL_MIN = 30;
/** Kept above the low-pressure signal, kPa. */
export const RESERVE_KPA = 20;
/** However tight the piping: after this it is looked at anew, because a cold night takes pressure too. Our choice, min. */
export const MOST_MIN = 240;

const ATMOSPHERE_KPA = 101.325;
const ZERO_C_K = 273.15;

export type TimeAllowed = {
  readonly minutes: number;
  /** `computed` from all three numbers; `unknown` where one is missing; `too-low`: don't close; `capped`: the piping could wait longer, the page doesn't. */
  readonly because: 'computed' | 'unknown' | 'too-low' | 'capped';
};

/**
 * How long the supply of a piping may stay closed: (pressure now − low-pressure signal − 20 kPa) ÷ its fall, in whole minutes,
 * rounded down. Holds while the temperature of the pipes stays; pipes that cool lose more than their leak.
 * Pressures in kPa gauge; `null` = not known.
 *
 * @throws {RangeError} for a number that is not finite, or a fall below 0.
 */
export function timeAllowedClosed(given: { readonly pipingKPa: number | null; readonly lowPressureKPa: number | null; readonly fallKPaPerHour: number | null }): TimeAllowed {
  for (const [name, value] of Object.entries(given)) if (value !== null && (!Number.isFinite(value) || (name === 'fallKPaPerHour' && value < 0))) throw new RangeError(`Cannot tell the time allowed as ${name} must be a finite number${name === 'fallKPaPerHour' ? ' of at least 0' : ''}: current value is ${value}`);
  const { pipingKPa, lowPressureKPa, fallKPaPerHour } = given;
  if (pipingKPa === null || lowPressureKPa === null) return { minutes: UNKNOWN_FALL_MIN, because: 'unknown' };
  const roomKPa = pipingKPa - lowPressureKPa - RESERVE_KPA;
  if (roomKPa <= 0) return { minutes: 0, because: 'too-low' };
  if (fallKPaPerHour === null) return { minutes: UNKNOWN_FALL_MIN, because: 'unknown' };
  const minutes = fallKPaPerHour === 0 ? Infinity : Math.floor((roomKPa / fallKPaPerHour) * 60);
  return minutes > MOST_MIN ? { minutes: MOST_MIN, because: 'capped' } : { minutes, because: 'computed' };
}

/**
 * The fastest that a piping can fall by its leak, kPa/h, if all that is drawn from the tank were lost in it: an upper limit,
 * on the safe side. NL are at 0 °C and 101.325 kPa; the pipes are taken to be at 20 °C. `null` where one is not known.
 *
 * @see ideal gas: dp = n·R·T / V
 */
export function fallFromDemand(demandNLPerMin: number | null, pipeLitres: number | null): number | null {
  if (demandNLPerMin === null || pipeLitres === null || !(pipeLitres > 0) || !(demandNLPerMin >= 0)) return null;
  return (demandNLPerMin * 60 * ATMOSPHERE_KPA * ((ZERO_C_K + 20) / ZERO_C_K)) / pipeLitres;
}

/** Least length of a hold test, min: below it the reading error of a gauge is larger than what is looked for. Our choice. */
export const LEAST_HOLD_MIN = 5;

export type HoldTest = { readonly startKPa: number; readonly endKPa: number; readonly minutes: number; readonly startC: number | null; readonly endC: number | null; readonly pipeLitres: number | null };
export type HoldResult = { readonly fallKPaPerHour: number; readonly leakNLPerMin: number | null; readonly temperatureTaken: boolean };

/**
 * What a hold test of one riser says: its fall with the supply closed, set right for the pipes' temperature where both were
 * read, and the leak that this means. Indication only. At sea level: 1,000 m up a gauge's zero is 11 kPa lower, which
 * matters for the temperature's part only.
 *
 * @returns `undefined` for a test shorter than 5 min.
 * @see Gay-Lussac: absolute pressure goes with absolute temperature; a sealed pipe at 40 psi gauge and 70 °F reads 36.9 at 40 °F
 */
export function holdTestResult(test: HoldTest): HoldResult | undefined {
  if (!(test.minutes >= LEAST_HOLD_MIN)) return undefined;
  const temperatureTaken = test.startC !== null && test.endC !== null;
  const warmth = temperatureTaken ? ((test.startC ?? 0) + ZERO_C_K) / ((test.endC ?? 0) + ZERO_C_K) : 1;
  const endKPa = (test.endKPa + ATMOSPHERE_KPA) * warmth - ATMOSPHERE_KPA;
  const fallKPaPerHour = ((test.startKPa - endKPa) / test.minutes) * 60;
  const pipeK = (test.startC ?? 20) + ZERO_C_K;
  const leakNLPerMin = test.pipeLitres === null ? null : (Math.max(0, fallKPaPerHour) / 60 / ATMOSPHERE_KPA) * (ZERO_C_K / pipeK) * test.pipeLitres;
  return { fallKPaPerHour, leakNLPerMin, temperatureTaken };
}
