import { type BaseChannel, baseChannel, type Channel } from '../../shared/channels.ts';
import type { Departures } from './departures.ts';
import { atmosphereKPa } from './gas.ts';
import { onCurve } from './delivery-curve.ts';
import { type PlantSpec, type PlantState, productOxygenNow, riserGaugeKPa, tankAbsKPa } from './plant-state.ts';
import { motorOf } from './motor.ts';
import { type Dice, normal } from './random.ts';
import { receiverAbsKPa, sourceAbsKPa } from './receiver.ts';
import { roomPercent } from './weather.ts';

/** How a channel is measured: scatter (sd), decimals sent, and how far it must move to be sent between two periods. Kept units. */
export type SensorKind = { readonly sd: number; readonly decimals: number; readonly deadBand: number; readonly pace: 'period' | 'slow' | 'hourly' };

/** Common practice, no source: 0.1 % pressure transmitters of 1 MPa, a 12-bit gateway, small oxygen cells. */
const PRESSURE: SensorKind = { sd: 0.5, decimals: 1, deadBand: 20, pace: 'period' };
const TEMPERATURE: SensorKind = { sd: 0.08, decimals: 1, deadBand: 0.5, pace: 'slow' };
const COUNTER: SensorKind = { sd: 0, decimals: 0, deadBand: Infinity, pace: 'hourly' };
export const SENSOR_KINDS: Readonly<Partial<Record<BaseChannel, SensorKind>>> = {
  running: COUNTER, producing: COUNTER, power: COUNTER, 'run-time': COUNTER, starts: COUNTER,
  duty: { sd: 0, decimals: 4, deadBand: Infinity, pace: 'hourly' },
  'tank-pressure': { ...PRESSURE, deadBand: 25 },
  'discharge-pressure': { ...PRESSURE, deadBand: 60 },
  'feed-pressure': { ...PRESSURE, deadBand: 60 },
  'system-pressure': { ...PRESSURE, sd: 0.2, deadBand: 10 },
  nitrogen: { sd: 0.0004, decimals: 4, deadBand: Infinity, pace: 'period' },
  oxygen: { sd: 0.0004, decimals: 4, deadBand: Infinity, pace: 'period' },
  'room-temperature': TEMPERATURE, 'pipe-temperature': TEMPERATURE, 'outdoor-temperature': TEMPERATURE, 'tank-temperature': TEMPERATURE,
  humidity: { sd: 0.4, decimals: 0, deadBand: 3, pace: 'slow' },
  // Its scatter is smaller than its step.
  'motor-current': { sd: 0, decimals: 1, deadBand: Infinity, pace: 'period' },
};

export type SensorSetting = { readonly channel: Channel; readonly kind: SensorKind; readonly riser: number };

/** The sensors behind a set of channels. @throws {RangeError} for a channel that the plant has no sensor for. */
export function sensorSettings(channels: readonly Channel[], spec: PlantSpec): SensorSetting[] {
  return channels.map((channel) => {
    const kind = SENSOR_KINDS[baseChannel(channel)];
    if (kind === undefined) throw new RangeError(`Cannot simulate channel as it must be one of ${Object.keys(SENSOR_KINDS).join(', ')}: current value is ${channel}`);
    const riser = channel.startsWith('system-pressure.') ? spec.risers.findIndex((one) => `system-pressure.${one.id}` === channel) : 0;
    if (riser < 0) throw new RangeError(`Cannot simulate channel as its riser must be one of the plant's: current value is ${channel}`);
    return { channel, kind, riser };
  });
}

/** Where the oxygen is measured. */
export type NitrogenPlace = 'product' | 'tank' | 'piping';

/** The true value of a channel, in the unit that it is kept in. `duty` is counted by the gateway, not here. */
export function trueValue(state: PlantState, spec: PlantSpec, sensor: SensorSetting, place: NitrogenPlace, dep: Departures): number {
  const atmKPa = atmosphereKPa(spec.elevationM);
  switch (baseChannel(sensor.channel)) {
    case 'running': return motorOf(state).running ? 1 : 0;
    case 'producing': return state.running ? 1 : 0;
    case 'power': return dep.powerOff ? 0 : 1;
    case 'run-time': return motorOf(state).runS;
    case 'starts': return motorOf(state).starts;
    case 'tank-pressure': return tankAbsKPa(state, spec) - atmKPa;
    case 'feed-pressure': return state.houseAbsKPa - atmKPa;
    case 'discharge-pressure': return state.running ? dischargeGaugeKPa(state, spec, atmKPa) : restingGaugeKPa(state, spec, atmKPa);
    case 'system-pressure': return riserGaugeKPa(state, spec, sensor.riser);
    case 'nitrogen': return 1 - oxygenAt(state, spec, place);
    case 'oxygen': return oxygenAt(state, spec, place);
    case 'room-temperature': return state.air.roomC;
    case 'pipe-temperature': return state.air.pipeC;
    case 'outdoor-temperature': return state.air.outdoorC;
    case 'tank-temperature': return state.tankK - 273.15;
    case 'humidity': return roomPercent(state.air);
    case 'motor-current': return motorOf(state).running ? 3 + 0.004 * (state.receiver && spec.receiver !== undefined ? receiverAbsKPa(state.receiver, spec.receiver, state.air.roomC) - atmKPa : dischargeGaugeKPa(state, spec, atmKPa)) : 0;
    default: return 0;
  }
}

/** The unloader empties the head at a stop; in a run it stands above the housing by the elements' drop. */
function dischargeGaugeKPa(state: PlantState, spec: PlantSpec, atmKPa: number): number {
  const tankAbs = tankAbsKPa(state, spec);
  const drop = onCurve(state.curve, state.curve.discharge, tankAbs) - onCurve(state.curve, state.curve.feed, tankAbs);
  return state.houseAbsKPa + drop - atmKPa;
}

/** Behind a receiver the elements stay under pressure while the membrane valve is shut. */
function restingGaugeKPa(state: PlantState, spec: PlantSpec, atmKPa: number): number {
  return state.receiver && spec.receiver !== undefined ? sourceAbsKPa(state.receiver, spec.receiver, state.air.roomC, atmKPa) - atmKPa : 0;
}

function oxygenAt(state: PlantState, spec: PlantSpec, place: NitrogenPlace): number {
  return place === 'tank' ? state.tankOxygen : place === 'piping' ? (state.risers[0]?.oxygen ?? state.tankOxygen) : productOxygenNow(state, spec);
}

/** A worn cell follows oxygen with a lag of so many seconds for each share of its answer that is lost. Common practice, no source. */
const LAG_S = 360;

/** What a worn cell makes of the truth: less oxygen, later. It follows from report to report, as if each stood since the last. */
function aged(value: number, { channel }: SensorSetting, lost: number, held: { value: number | null }, sinceS: number): number {
  const oxygen = channel === 'oxygen' ? value : 1 - value;
  held.value = (held.value ?? oxygen) + (oxygen - (held.value ?? oxygen)) * (1 - Math.exp(-sinceS / (LAG_S * lost)));
  const read = (1 - lost) * held.value;
  return channel === 'oxygen' ? read : 1 - read;
}

const POWERS = [1, 10, 100, 1000, 10_000];

/** What the sensor says: the truth with its scatter, in its steps; a state and a counter have neither. */
export function sensed(value: number, sensor: SensorSetting, dep: Departures, held: { value: number | null }, dice: Dice, atmKPa: number, sinceS: number): number {
  const { sd, decimals } = sensor.kind;
  let read = sd === 0 ? value : value + sd * normal(dice);
  const fault = dep.sensor;
  if (fault !== null && fault.channel === sensor.channel) {
    if (fault.kind === 'freeze') {
      held.value ??= read;
      read = held.value;
    } else if (fault.kind === 'offset') read += fault.size;
    else if (fault.kind === 'scale') read *= 1 - fault.size;
    else if (fault.kind === 'absolute') read += fault.size * atmKPa;
    else if (fault.kind === 'ageing') read += aged(value, sensor, fault.size, held, sinceS) - value;
  } else held.value = null;
  const power = POWERS[decimals]!;
  const rounded = Math.round(read * power) / power;
  const ratio = sensor.kind.decimals === 4;
  return ratio || sensor.channel === 'humidity' ? Math.min(Math.max(rounded, 0), ratio ? 1 : 100) : rounded + 0;
}
