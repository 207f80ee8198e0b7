import { DAY_MS, HOUR_MS } from '../shared/time.ts';
import type { GeneratorState } from './generator-state.ts';
import type { Departures } from './plant/departures.ts';
import { motorOf, stopsAtKPa } from './plant/motor.ts';
import type { PlantEvent } from './plant/plant-state.ts';
import type { GeneratorScenario } from './scenario.ts';
import { SHORT_BY_KPA, switchGaugeKPa } from './signs.ts';

/** A run longer than this has no end in sight. */
const LONG_RUN_MS = HOUR_MS;

/** Faults of the running count from the first sign of them, others from their onset. */
export function noteKnowable(state: GeneratorState, scenario: GeneratorScenario, dep: Departures, event: PlantEvent, midnightMs: number): void {
  if (scenario.faults.length === 0) return;
  const { plant } = state;
  const day = (plant.atMs - midnightMs) / DAY_MS;
  for (let index = 0; index < scenario.faults.length; index += 1) {
    const fault = scenario.faults[index]!;
    if (state.knowableMs[index] !== null || day < fault.fromDay || (fault.toDay !== undefined && day >= fault.toDay)) continue;
    const motor = motorOf(plant);
    if (fault.cause === 'not-starting' && !(dep.startBlocked && motor.calling && !motor.running)) continue;
    if (fault.cause === 'stops-short' && !(event === 'stop' && motor.calling && !motor.running && switchGaugeKPa(plant, scenario.plant) < stopsAtKPa(scenario.plant) - SHORT_BY_KPA)) continue;
    if (fault.cause === 'runs-without-end' && !(motor.running && plant.atMs - motor.runStartMs > LONG_RUN_MS)) continue;
    if (fault.variant === 'frozen' && plant.air.roomC >= dep.drainFreezesC) continue;
    state.knowableMs[index] = Math.round(plant.atMs);
  }
}
