import type { DayRow } from '../../shared/cycle.ts';
import type { GeneratorRecord } from '../../shared/registry.ts';
import type { LeakTerms } from '../../shared/review.ts';
import { median } from '../change/robust.ts';
import { figure } from './figures.ts';
import { fallThroughHole, holeMm, standardFromNormal } from './gas-flow.ts';

const KPA_PER_PSI = 6.894757293168;
/** Pressure of the published tests: 40 psi. */
export const TEST_KPA = 40 * KPA_PER_PSI;
/**
 * Published figures. Acceptance: NFPA 13, 40 psi for 24 h, more than 1.5 psi lost must be corrected (text read). In service: NFPA 25-2014,
 * every 3 years, 40 psi for 2 h, up to 3 psi lost (read in a page that quotes it; clause 13.4.5.2.9 from memory).
 */
export const ACCEPTANCE_24H_KPA = 1.5 * KPA_PER_PSI;
export const IN_SERVICE_2H_KPA = 3 * KPA_PER_PSI;
/** Of a sharp-edged hole, as the footnote of the handbook's table of discharge of air has it. */
const SHARP = 0.65;
const HOURS_PER_YEAR = 8766;
const DAYS = 7;
/** Only nearly still days say what the piping loses. */
const LEAST_DAYS = 3;

export type Price = { readonly perKWh: number; readonly unit: string } | null;

/**
 * The present demand in the trade's terms: one equivalent hole, standard litres a minute, what the piping would lose with its
 * supply shut beside the published figures, energy and cost a year. `null` where demand isn't known as an amount of gas.
 *
 * All demand is taken as the piping's, purge vents and the breathing of the piping in the cold included, so the fall is rather
 * too large; a hole's flow is held against nitrogen at 20 °C. An indication, never a test result: a test shuts the supply, waits
 * for the temperature and reads a gauge.
 */
export function leakTerms(params: { readonly days: readonly DayRow[]; readonly generator: GeneratorRecord; readonly elevationM: number; readonly price?: Price }): LeakTerms | null {
  const { generator } = params;
  const recent = params.days.filter((day) => !day.provisional && day.holdingRatio >= 0.5 && day.demand !== null && day.unit === 'NL/min').slice(-DAYS);
  const demand = median(recent.map((day) => day.demand!.value));
  if (recent.length < LEAST_DAYS || demand === undefined || !(demand > 0)) return null;
  const systemKPa = median(recent.flatMap((day) => (day.systemKPa === null ? [] : [day.systemKPa.value]))) ?? generator.risers[0]?.setKPa;
  const tankKPa = median(recent.flatMap((day) => (day.cutInKPa === null || day.cutOutKPa === null ? [] : [(day.cutInKPa + day.cutOutKPa) / 2]))) ?? middle(generator.cutInKPa, generator.cutOutKPa);
  const atmosphereKPa = atmosphereAt(params.elevationM);
  const litres = pipeLitres(generator);
  const shut = (hours: number): number | null => (litres === null || systemKPa === undefined ? null : fallThroughHole({ litres, fromKPaGauge: TEST_KPA, hours, nlPerMin: demand, flowAtKPaGauge: systemKPa, atmosphereKPa }));
  const terms = {
    unit: 'NL/min' as const, demandNLPerMin: demand, standardLitresPerMin: standardFromNormal(demand),
    holeMm: { piping: systemKPa === undefined ? null : (holeMm(demand, systemKPa, SHARP, atmosphereKPa) ?? null), tank: tankKPa === undefined ? null : (holeMm(demand, tankKPa, SHARP, atmosphereKPa) ?? null) },
    fallIn24hKPa: shut(24), fallIn2hKPa: shut(2), ...energy(recent, generator, params.price ?? null),
  };
  return { ...terms, says: sentences(terms, { systemKPa, tankKPa, price: params.price ?? null }) };
}

function middle(low: number | undefined, high: number | undefined): number | undefined {
  return low === undefined || high === undefined ? undefined : (low + high) / 2;
}

/** ICAO standard atmosphere. */
function atmosphereAt(elevationM: number): number {
  return 101.325 * (1 - 2.25577e-5 * elevationM) ** 5.25588;
}

/** All risers together; `null` as soon as one isn't registered. */
export function pipeLitres(generator: GeneratorRecord): number | null {
  const litres = generator.risers.map((riser) => riser.pipeLitres);
  return litres.length === 0 || litres.some((one) => one === undefined) ? null : litres.reduce((sum: number, one) => sum + one!, 0);
}

function energy(days: readonly DayRow[], { compressorKW }: GeneratorRecord, price: Price): { energyKWhPerYear: number | null; costPerYear: number | null } {
  const coveredS = days.reduce((sum, day) => sum + day.coveredS, 0);
  if (compressorKW === undefined || coveredS <= 0) return { energyKWhPerYear: null, costPerYear: null };
  const kWh = (days.reduce((sum, day) => sum + day.runS, 0) / coveredS) * compressorKW * HOURS_PER_YEAR;
  return { energyKWhPerYear: kWh, costPerYear: price === null ? null : kWh * price.perKWh };
}

function sentences(terms: Omit<LeakTerms, 'says'>, { systemKPa, tankKPa, price }: { readonly systemKPa: number | undefined; readonly tankKPa: number | undefined; readonly price: Price }): string[] {
  const says = [`${figure(terms.demandNLPerMin)} NL/min are drawn in the mean of the last days: ${figure(terms.standardLitresPerMin)} standard litres a minute (20 °C, 101.325 kPa).`];
  const holes = [terms.holeMm.piping === null ? '' : `${figure(terms.holeMm.piping)} mm in the piping at ${figure(systemKPa!)} kPa`, terms.holeMm.tank === null ? '' : `${figure(terms.holeMm.tank)} mm at the tank at ${figure(tankKPa!)} kPa`].filter((text) => text !== '');
  if (holes.length > 0) says.push(`One sharp-edged round hole of that flow: ${holes.join(', or ')}.`);
  if (terms.fallIn24hKPa === null || terms.fallIn2hKPa === null) says.push('What the piping would lose with its supply shut can’t be reckoned: its litres or its pressure aren’t known.');
  else {
    says.push(`With the supply shut at ${figure(TEST_KPA)} kPa (40 psi) the piping would lose about ${figure(terms.fallIn24hKPa)} kPa in 24 h; NFPA 13 has a loss of more than ${figure(ACCEPTANCE_24H_KPA)} kPa (1.5 psi) corrected when a system is new.`);
    says.push(`In 2 h about ${figure(terms.fallIn2hKPa)} kPa; NFPA 25 lets up to ${figure(IN_SERVICE_2H_KPA)} kPa (3 psi) be lost in its test every 3 years.`);
  }
  if (terms.energyKWhPerYear !== null) says.push(`The compressor’s running time costs about ${figure(terms.energyKWhPerYear)} kWh a year at its registered power${terms.costPerYear === null || price === null ? '' : `, ${figure(terms.costPerYear)} ${price.unit}`}.`);
  says.push('An indication from running times, never a test result: all demand is taken as lost, purge vents and the cold included.');
  return says;
}
