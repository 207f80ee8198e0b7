import { DAY_MS, MINUTE_MS } from '../shared/time.ts';
import type { GeneratorState } from './generator-state.ts';
import { riserGaugeKPa } from './plant/plant-state.ts';
import type { GeneratorScenario } from './scenario.ts';

/*
 * By when a valve that was left shut and a bleed that was left open are to be known (design, section 5, "Scoring rules"):
 * before half the margin of the piping to its low-pressure signal is lost; the valve also when the first rest after the visit
 * is longer than 99.5 % of rests, the bleed by the end of the second whole cycle after it. Whichever comes first.
 */

/** The low-pressure signal of invented piping, as a share of its set point; half the margin is lost at the middle between. */
export const LOW_PRESSURE_SHARE = 0.75;
const HALF_MARGIN_SHARE = (1 + LOW_PRESSURE_SHARE) / 2;
const RESTS_KEPT = 200;
const LEAST_RESTS = 20;
const LONG_REST_SHARE = 0.995;
/** The third start after a visit ends the second whole cycle. */
const STARTS = 3;

/** Keep how long this generator rests in good order, and see whether a fault that a visit made is due to be known now. */
export function noteDue(state: GeneratorState, scenario: GeneratorScenario, quiet: boolean, midnightMs: number): void {
  const { plant } = state;
  const started = plant.starts !== state.startsSeen;
  state.startsSeen = plant.starts;
  if (started && quiet) {
    state.restsMin.push(Math.round((10 * (plant.runStartMs - plant.stopMs)) / MINUTE_MS) / 10);
    if (state.restsMin.length > RESTS_KEPT) state.restsMin.shift();
  }
  for (let index = 0; index < scenario.faults.length; index += 1) {
    const { cause, fromDay, toDay } = scenario.faults[index]!;
    if (cause !== 'valve-left-shut' && cause !== 'bleed-left-open') continue;
    const due = (state.due[index] ??= { starts: null, atMs: null });
    const day = (plant.atMs - midnightMs) / DAY_MS;
    if (due.atMs !== null || day < fromDay || (toDay !== undefined && day >= toDay)) continue;
    due.starts ??= plant.starts;
    const late = cause === 'bleed-left-open' ? plant.starts - due.starts >= STARTS : plant.starts - due.starts <= 1 && restsTooLong(state, midnightMs + fromDay * DAY_MS);
    if (late || halfMarginLost(state, scenario)) due.atMs = Math.round(plant.atMs);
  }
}

/** A rest that was there already counts from the visit's end: till then somebody had locked it out. */
function restsTooLong({ plant, restsMin }: GeneratorState, fromMs: number): boolean {
  if (plant.running || restsMin.length < LEAST_RESTS) return false;
  const longest = restsMin.toSorted((a, b) => a - b)[Math.floor(LONG_REST_SHARE * (restsMin.length - 1))]!;
  return (plant.atMs - Math.max(plant.stopMs, fromMs)) / MINUTE_MS > longest;
}

function halfMarginLost({ plant }: GeneratorState, { plant: spec }: GeneratorScenario): boolean {
  return spec.risers.some((riser, index) => riserGaugeKPa(plant, spec, index) < HALF_MARGIN_SHARE * riser.setKPa);
}
