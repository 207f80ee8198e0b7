/** How a reading is typed: pressures in the unit of the gauge, the others in the unit that is shown. */
export type ReadingUnit = 'gauge' | '%' | 'h' | '°C' | 'min';
export type VisitReading = { readonly name: string; readonly words: string; readonly unit: ReadingUnit; readonly hint?: string };

/** What is read as found and as left, in the order in which a technician walks; names carry the unit in which they are kept. */
export const VISIT_READINGS: readonly VisitReading[] = [
  { name: 'systemPressureKPa', words: 'piping pressure', unit: 'gauge' },
  { name: 'tankPressureKPa', words: 'tank pressure', unit: 'gauge', hint: 'at which the drop is read' },
  { name: 'dischargePressureKPa', words: 'before the elements', unit: 'gauge' },
  { name: 'feedPressureKPa', words: 'after the elements', unit: 'gauge' },
  { name: 'elementDropKPa', words: 'drop over elements', unit: 'gauge', hint: 'difference of the two above' },
  { name: 'nitrogenPercent', words: 'nitrogen', unit: '%', hint: 'after 10 min of running' },
  { name: 'cutInKPa', words: 'starts at (cut-in)', unit: 'gauge' },
  { name: 'cutOutKPa', words: 'stops at (cut-out)', unit: 'gauge' },
  { name: 'runTimeH', words: 'hour meter', unit: 'h' },
];

/** Read on the way back into service. */
export const RETURN_READINGS: readonly VisitReading[] = [
  { name: 'regulatorOutletKPa', words: "regulator's outlet", unit: 'gauge' },
  { name: 'pipingAfter15MinKPa', words: 'piping after 15 min', unit: 'gauge' },
];

const KNOWN = new Map([...VISIT_READINGS, ...RETURN_READINGS].map((one) => [one.name, one]));

/** The words and the kept unit of a reading; a riser's stands behind a point: `systemPressureKPa.riser-1`. */
export function readingOf(name: string): { readonly words: string; readonly unit: string } | undefined {
  const [base = '', ...more] = name.split('.');
  const known = KNOWN.get(base) ?? LONGER[base];
  if (known === undefined) return undefined;
  const riser = more.join('.');
  return { words: riser === '' ? known.words : `${known.words}, ${riser}`, unit: known.unit === 'gauge' ? 'kPa' : known.unit };
}

/** What the page itself works out and keeps with the visit. */
const LONGER: Readonly<Record<string, { readonly words: string; readonly unit: string }>> = {
  timeAllowedMin: { words: 'time allowed closed', unit: 'min' },
  closedMin: { words: 'supply was closed for', unit: 'min' },
  pipingBeforeClosingKPa: { words: 'piping before closing', unit: 'kPa' },
  lowPressureKPa: { words: 'low-pressure signal', unit: 'kPa' },
  pipingFallKPaPerHour: { words: 'fall of the piping', unit: 'kPa/h' },
  holdFallKPaPerHour: { words: 'fall in the hold test', unit: 'kPa/h' },
  holdLeakNLPerMin: { words: 'leak that this means', unit: 'NL/min' },
  holdMin: { words: 'length of the hold test', unit: 'min' },
  holdStartKPa: { words: 'hold test, at the start', unit: 'kPa' },
  holdEndKPa: { words: 'hold test, at the end', unit: 'kPa' },
};
