import type { PlantSpec, PlantState } from './plant-state.ts';

/** The compressor's motor, wherever it stands: with an air receiver it has its own state, else it runs while product is made. */
export type Motor = { readonly running: boolean; readonly calling: boolean; readonly runStartMs: number; readonly runS: number; readonly starts: number };

export function motorOf(state: PlantState): Motor {
  return state.receiver ?? state;
}

/** The gauge pressure at which its switch should stop it, kPa. */
export function stopsAtKPa(spec: PlantSpec): number {
  return spec.receiver?.cutOutKPa ?? spec.cutOutKPa;
}

/** The gauge pressure at which its switch should start it now, kPa. */
export function startsAtKPa(state: PlantState, spec: PlantSpec, bandShiftKPa: number): number {
  return spec.receiver?.cutInKPa ?? state.cutInKPa + bandShiftKPa;
}
