import { heedSwitch } from './controller.ts';
import type { Departures } from './departures.ts';
import { atmosphereKPa } from './gas.ts';
import type { PlantEvent, PlantSpec, PlantState } from './plant-state.ts';
import { heedReceiver } from './receiver-switch.ts';
import { stretch } from './stretch.ts';
import { weatherAt } from './weather.ts';

/**
 * Move the plant to `untilMs`, or to its next start or stop if that is sooner, and say which. Between two looks every flow is taken as constant at its middle value, so that amounts are
 * straight lines and temperature an exponential; the moment at which pressure meets the switch is solved for, not stepped to.
 */
export function advancePlant(state: PlantState, spec: PlantSpec, dep: Departures, coldC: (hourMs: number) => number, untilMs: number): PlantEvent {
  const atmKPa = atmosphereKPa(spec.elevationM);
  for (;;) {
    weatherAt(state.weather, spec.surroundings, state.atMs, state.weatherDice, coldC, state.air);
    let event = heedSwitch(state, spec, dep, atmKPa);
    if (state.receiver && spec.receiver !== undefined) event = heedReceiver(state, state.receiver, spec.receiver, dep, atmKPa) ?? event;
    if (event !== undefined || state.atMs >= untilMs) return event;
    stretch(state, spec, dep, atmKPa, untilMs);
  }
}
