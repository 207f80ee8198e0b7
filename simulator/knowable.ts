import { DAY_MS } from '../shared/time.ts';
import type { GeneratorState } from './generator-state.ts';
import type { Departures } from './plant/departures.ts';
import { motorOf, startsAtKPa, stopsAtKPa } from './plant/motor.ts';
import type { PlantEvent, PlantState } from './plant/plant-state.ts';
import type { FaultScenario, GeneratorScenario } from './scenario.ts';
import { longestRunMs, SHORT_BY_KPA, switchGaugeKPa } from './signs.ts';

/** Water soaks the elements once the bowl is full; membranes that have lost so much of their permeance are less pure by a thousandth. */
const PERMEANCE_LOST = 0.03;

/** From when anybody beside the machine could know of a fault: of the running its first sign, of a shut drain its water, of others their onset. */
export function noteKnowable(state: GeneratorState, scenario: GeneratorScenario, dep: Departures, event: PlantEvent, midnightMs: number): void {
  if (scenario.faults.length === 0) return;
  const { plant } = state;
  const day = (plant.atMs - midnightMs) / DAY_MS;
  for (let index = 0; index < scenario.faults.length; index += 1) {
    const fault = scenario.faults[index]!;
    if (state.knowableMs[index] !== null || day < fault.fromDay || (fault.toDay !== undefined && day >= fault.toDay)) continue;
    if (shows(fault, state, scenario, dep, event)) state.knowableMs[index] = Math.round(plant.atMs);
  }
}

function shows(fault: FaultScenario, state: GeneratorState, { plant: spec }: GeneratorScenario, dep: Departures, event: PlantEvent): boolean {
  const { plant } = state;
  const motor = motorOf(plant);
  if (fault.cause === 'not-starting') return dep.startBlocked && motor.calling && !motor.running && switchGaugeKPa(plant, spec) < startsAtKPa(plant, spec, dep.bandShiftKPa) - SHORT_BY_KPA;
  if (fault.cause === 'stops-short') return event === 'stop' && motor.calling && !motor.running && switchGaugeKPa(plant, spec) < stopsAtKPa(spec) - SHORT_BY_KPA;
  if (fault.cause === 'runs-without-end') return motor.running && plant.atMs - motor.runStartMs > longestRunMs(state.runsMin);
  if (fault.cause === 'drain-stuck-closed') return drainShows(fault, plant, spec.bowlMl, dep);
  return true;
}

function drainShows({ variant }: FaultScenario, plant: PlantState, bowlMl: number, dep: Departures): boolean {
  return plant.waterMl > bowlMl || (variant !== 'frozen' && dep.permeance < 1 - PERMEANCE_LOST);
}
