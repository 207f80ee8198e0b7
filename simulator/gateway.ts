import { DAY_MS, HOUR_MS } from '../shared/time.ts';
import { type GeneratorState, type Prepared, ROW, upsetActive } from './generator-state.ts';
import type { Departures } from './plant/departures.ts';
import { atmosphereKPa } from './plant/gas.ts';
import { motorOf } from './plant/motor.ts';
import { uniform } from './plant/random.ts';
import { sensed, type SensorSetting, trueValue } from './plant/sensors.ts';
import type { GeneratorScenario } from './scenario.ts';

/** Pressures that have moved past their dead-band since they were last sent. */
export function moved(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures): number[] {
  return prepared.watched.filter((index) => {
    const sensor = prepared.sensors[index]!;
    return Math.abs(trueValue(state.plant, scenario.plant, sensor, scenario.nitrogenAt, dep) - state.sentValue[index]!) > sensor.kind.deadBand;
  });
}

/** What a period's report holds: the quick channels always, the slow ones when they moved or an hour has passed; of a gateway that reads by the clock, all. */
export function due(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures): number[] {
  const chosen: number[] = [];
  const { sensors } = prepared;
  for (let index = 0; index < sensors.length; index += 1) {
    const sensor = sensors[index]!;
    const hourPast = state.plant.atMs - state.sentMs[index]! >= HOUR_MS - 1000;
    if (sensor.kind.pace === 'period' || hourPast || scenario.readsByClock === true) chosen.push(index);
    else if (sensor.kind.pace === 'slow' && Math.abs(trueValue(state.plant, scenario.plant, sensor, scenario.nitrogenAt, dep) - state.sentValue[index]!) > sensor.kind.deadBand) chosen.push(index);
  }
  return chosen;
}

/** Measure the chosen channels now and put the pack on its way. */
export function emit(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures, midnightMs: number, chosen: number[]): void {
  if (chosen.length === 0) return;
  const { plant, pending } = state;
  const trueMs = Math.round(plant.atMs / 100) * 100;
  const receivedMs = receipt(state, scenario, dep, prepared, trueMs, midnightMs);
  const atMs = trueMs + 1000 * ((scenario.clockAheadS ?? 0) + dep.clockAheadS);
  const atmKPa = atmosphereKPa(scenario.plant.elevationM);
  const from = pending.length;
  for (const index of chosen) {
    const sensor = prepared.sensors[index]!;
    const truth = measured(state, scenario, prepared, dep, sensor);
    const value = sensed(truth, sensor, dep, state.held[index]!, state.sensorDice, atmKPa, (plant.atMs - state.sentMs[index]!) / 1000);
    state.sentMs[index] = plant.atMs;
    state.sentValue[index] = truth;
    if (receivedMs !== undefined) pending.push(dep.exchanged ? index + prepared.sensors.length : index, atMs, value, receivedMs);
  }
  if (receivedMs !== undefined && scenario.doubleRatio > 0 && uniform(state.gatewayDice) < scenario.doubleRatio) {
    const again = receivedMs + 3000 + Math.floor(uniform(state.gatewayDice) * 15_000);
    for (let row = from, end = pending.length; row < end; row += ROW) pending.push(pending[row]!, atMs, pending[row + 2]!, again);
  }
}

/** What is at the sensor's end of the wires. */
function measured(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures, sensor: SensorSetting): number {
  if (sensor.channel === 'duty') return dutySince(state);
  const { sensor: fault } = dep;
  let at = sensor;
  if (fault?.kind === 'swap' && (sensor.channel === fault.channel || sensor.channel === fault.other)) {
    const other = sensor.channel === fault.channel ? fault.other : fault.channel;
    at = prepared.sensors.find((one) => one.channel === other) ?? sensor;
  }
  const value = trueValue(state.plant, scenario.plant, at, scenario.nitrogenAt, dep);
  if (sensor.channel !== 'run-time' && sensor.channel !== 'starts') return value;
  const { runS, starts } = counted(state, scenario);
  return sensor.channel === 'run-time' ? runS : starts;
}

/** What hour meter and start counter show. */
export function counted(state: GeneratorState, { counterEnds }: GeneratorScenario): { readonly runS: number; readonly starts: number; readonly rounds: number } {
  const { runS, starts } = motorOf(state.plant);
  const run = runS - (state.countedFrom?.runS ?? 0);
  const begun = starts - (state.countedFrom?.starts ?? 0);
  const runEndS = (counterEnds?.runTimeH ?? Infinity) * 3600;
  const startsEnd = counterEnds?.starts ?? Infinity;
  return { runS: run % runEndS, starts: begun % startsEnd, rounds: Math.floor(run / runEndS) + Math.floor(begun / startsEnd) };
}

function dutySince(state: GeneratorState): number {
  const { plant } = state;
  const { runS } = motorOf(plant);
  const share = (runS - state.dutyRunS) / Math.max(1, (plant.atMs - state.dutyMs) / 1000);
  state.dutyRunS = runS;
  state.dutyMs = plant.atMs;
  return Math.min(1, share);
}

/** When a pack of this device time arrives; `undefined` if it never does. */
function receipt(state: GeneratorState, scenario: GeneratorScenario, dep: Departures, prepared: Prepared, atMs: number, midnightMs: number): number | undefined {
  const delayMs = 300 + Math.floor(uniform(state.gatewayDice) * 2200);
  const lost = scenario.lossRatio > 0 && uniform(state.gatewayDice) < scenario.lossRatio;
  if (lost || dep.silent || (dep.powerOff && !prepared.hasPower)) return undefined;
  const day = (atMs - midnightMs) / DAY_MS;
  const burst = scenario.upsets.find((upset) => upset.kind === 'late-burst' && upsetActive(upset, day));
  if (burst === undefined) return atMs + delayMs;
  // Sent in order within a minute of the connection's return.
  const endMs = midnightMs + (burst.fromDay + burst.hours / 24) * DAY_MS;
  return Math.round(endMs + 4000 + (60_000 * (day - burst.fromDay) * 24) / burst.hours);
}
