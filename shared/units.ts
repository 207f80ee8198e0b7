import type { Quantity } from './channels.ts';

/** Kept value = sent value × scale + offset. */
export type Conversion = { readonly scale: number; readonly offset: number };
/** `wrong-quantity`: a unit that we know, of something else. `unit-unclear`: `%`, which some send as 0..1 and many as 0..100. */
export type UnitRejection = 'unknown-unit' | 'wrong-quantity' | 'unit-unclear' | 'no-unit';
/** What `%` means in one series, once that is decided. */
export type PercentAs = 'ratio' | 'per-cent';

/** 1 psi = 1 pound-force (avoirdupois) per square inch. @see UCUM 2.2, units [psi], [lbf_av], [in_i]. */
export const KPA_PER_PSI = 6.894757293168361;
const ZERO_CELSIUS_K = 273.15;

const by = (scale: number, offset = 0): Conversion => ({ scale, offset });
const SAME = by(1);
/** Degrees Fahrenheit: °C = (F − 32) / 1.8. */
const FAHRENHEIT = by(1 / 1.8, -32 / 1.8);

/**
 * Units that can be sent for a quantity: SenML's registry (RFC 8428, section 12.1), its secondary units (RFC 8798),
 * and those that gateways of this trade really send. Each names the step to what is kept (see `CHANNELS`).
 */
const UNITS: Readonly<Record<Quantity, ReadonlyMap<string, Conversion>>> = {
  state: new Map([['/', SAME]]),
  ratio: new Map([['/', SAME], ['/100', by(1 / 100)], ['/1000', by(1 / 1000)], ['ppm', by(1e-6)]]),
  duration: new Map([['s', SAME], ['ms', by(1 / 1000)], ['min', by(60)], ['h', by(3600)]]),
  count: new Map([['count', SAME], ['/', SAME]]),
  pressure: new Map([['Pa', by(1 / 1000)], ['hPa', by(1 / 10)], ['kPa', SAME], ['bar', by(100)], ['mbar', by(1 / 10)], ['[psi]', by(KPA_PER_PSI)], ['psi', by(KPA_PER_PSI)]]),
  temperature: new Map([['Cel', SAME], ['K', by(1, -ZERO_CELSIUS_K)], ['degF', FAHRENHEIT], ['[degF]', FAHRENHEIT]]),
  'relative-humidity': new Map([['%RH', SAME], ['/', by(100)], ['/100', SAME]]),
  current: new Map([['A', SAME], ['mA', by(1 / 1000)]]),
};

/** Symbols of SenML's registry that measure what no channel of ours keeps; known, so that the sentence can say so. */
const OTHER_SYMBOLS: ReadonlySet<string> = new Set(['m', 'kg', 'g', 'cd', 'mol', 'Hz', 'rad', 'sr', 'N', 'J', 'W', 'kW', 'C', 'V', 'mV', 'F', 'Ohm', 'S', 'Wb', 'T', 'H', 'lm', 'lx', 'Bq', 'Gy', 'Sv', 'kat', 'm2', 'm3', 'l', 'm/s', 'm/s2', 'm3/s', 'l/s', 'W/m2', 'cd/m2', 'bit', 'bit/s', 'lat', 'lon', 'pH', 'dB', 'dBW', 'Bspl', '%EL', 'EL', '1/s', '1/min', 'beat/min', 'beats', 'S/m', 'B', 'VA', 'VAs', 'var', 'vars', 'J/m', 'kg/m3', 'deg']);
const KNOWN_SYMBOLS: ReadonlySet<string> = new Set([...OTHER_SYMBOLS, ...Object.values(UNITS).flatMap((units) => [...units.keys()]), '%']);

/**
 * How a value sent in `symbol` becomes the kept value of a quantity.
 *
 * `%` is the ratio 0..1 in SenML (RFC 8428, section 12.1, note 2), but many send per cent: `percentAs` says which,
 * and without it the answer is `unit-unclear`. States and counts may come without a unit; others must name one.
 */
export function conversionFor(quantity: Quantity, symbol: string | undefined, percentAs?: PercentAs): Conversion | { readonly rejected: UnitRejection } {
  if (symbol === undefined) return quantity === 'state' || quantity === 'count' ? SAME : { rejected: 'no-unit' };
  const conversion = UNITS[quantity].get(symbol);
  if (conversion !== undefined) return conversion;
  if (symbol === '%' && (quantity === 'ratio' || quantity === 'relative-humidity')) {
    if (percentAs === undefined) return { rejected: 'unit-unclear' };
    const keptPerRatio = quantity === 'ratio' ? 1 : 100;
    return by(percentAs === 'ratio' ? keptPerRatio : keptPerRatio / 100);
  }
  return { rejected: KNOWN_SYMBOLS.has(symbol) ? 'wrong-quantity' : 'unknown-unit' };
}

/** Symbols that are taken for a quantity, for messages to people. */
export function unitsOf(quantity: Quantity): string[] {
  return [...UNITS[quantity].keys(), ...(quantity === 'ratio' || quantity === 'relative-humidity' ? ['%'] : [])];
}

/** The symbol that kept values of a quantity are written with; read back, it changes nothing. `null` for states, which are `vb`. */
export function keptSymbol(quantity: Quantity): string | null {
  return KEPT_SYMBOLS[quantity];
}
const KEPT_SYMBOLS: Readonly<Record<Quantity, string | null>> = { state: null, ratio: '/', duration: 's', count: 'count', pressure: 'kPa', temperature: 'Cel', 'relative-humidity': '%RH', current: 'A' };

/**
 * Pressure of the standard atmosphere at a height, kPa absolute; what is taken off a pressure that the registry calls absolute.
 * Weather moves the true one by about ±3 kPa, which is the error of a gauge pressure that comes from an absolute one.
 * Holds in the troposphere, −500 m to 11,000 m.
 *
 * @see ISO 2533:1975, standard atmosphere: 101.325 kPa and 288.15 K at sea level, 6.5 K less per km.
 */
export function standardAtmosphereKPa(elevationM: number): number {
  const LAPSE_K_PER_M = 0.0065;
  const SEA_LEVEL_K = 288.15;
  /** g·M/(R·lapse) with ISO 2533's own constants: 9.80665, 28.964420, 8314.32. */
  const EXPONENT = 5.25588;
  return 101.325 * (1 - (LAPSE_K_PER_M * elevationM) / SEA_LEVEL_K) ** EXPONENT;
}
