import { onCurve } from './plant/delivery-curve.ts';
import { atmosphereKPa } from './plant/gas.ts';
import { type PlantState, riserGaugeKPa, tankAbsKPa } from './plant/plant-state.ts';
import type { GeneratorScenario } from './scenario.ts';

/** What a technician reads off the cabinet's own gauges, to the kPa, and off the analyser to a tenth of a per cent. The drop is that of the last run. */
export function gaugesNow(plant: PlantState, scenario: GeneratorScenario): Record<string, number> {
  const tankAbs = tankAbsKPa(plant, scenario.plant);
  const drop = plant.curveMs > 0 ? onCurve(plant.curve, plant.curve.discharge, tankAbs) - onCurve(plant.curve, plant.curve.feed, tankAbs) : undefined;
  return {
    tankPressureKPa: Math.round(tankAbs - atmosphereKPa(scenario.plant.elevationM)),
    ...(scenario.plant.risers.length > 0 ? { systemPressureKPa: Math.round(riserGaugeKPa(plant, scenario.plant, 0)) } : {}),
    ...(drop === undefined ? {} : { elementDropKPa: Math.round(drop) }),
    nitrogenPercent: Math.round(1000 * (1 - plant.productOxygen)) / 10,
  };
}
