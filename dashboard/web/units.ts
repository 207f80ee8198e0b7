import { KEPT_UNITS, PRESSURE_UNITS, type ShownUnits, showIn, TEMPERATURE_UNITS } from '../views/shown-units.ts';

/** The units that this person wants, remembered in this browser only. */
const UNITS = 'lull.units';

export function rememberedUnits(): ShownUnits {
  try {
    const { pressure, temperature } = JSON.parse(window.localStorage.getItem(UNITS) ?? '{}') as Partial<Record<string, unknown>>;
    return { pressure: PRESSURE_UNITS.find((one) => one === pressure) ?? KEPT_UNITS.pressure, temperature: TEMPERATURE_UNITS.find((one) => one === temperature) ?? KEPT_UNITS.temperature };
  } catch {
    return KEPT_UNITS;
  }
}

/** Remember them, and show every number in them from now on. */
export function chooseUnits(units: ShownUnits): void {
  try {
    window.localStorage.setItem(UNITS, JSON.stringify(units));
  } catch {
    // A browser that keeps nothing shows them until the page is loaded anew.
  }
  showIn(units);
}
