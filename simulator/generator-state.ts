import { type HabitState, startHabit } from './habit.ts';
import type { OwnLook } from './own-state.ts';
import { WEAR_PER_H } from './plant/controller.ts';
import { type Departures, feedSignature, noDepartures } from './plant/departures.ts';
import { motorOf } from './plant/motor.ts';
import { type PlantState, startPlant } from './plant/plant-state.ts';
import { type Dice, startDice, uniform } from './plant/random.ts';
import { type SensorSetting, sensorSettings } from './plant/sensors.ts';
import type { GeneratorScenario, UpsetScenario } from './scenario.ts';
import type { Sign } from './signs.ts';

/** What faults and visits do is looked at this often; reports keep to the same beat. */
const BEAT_MS = 300_000;
const NEVER = -1e15;
/** Columns of a pending row: sensor, device time, value, receipt. */
export const ROW = 4;

/** A generator with its sensors and its share of the gateway, as plain JSON. */
export type GeneratorState = {
  plant: PlantState;
  sensorDice: Dice;
  gatewayDice: Dice;
  nextBeatMs: number;
  nextReportMs: number;
  sentMs: number[];
  sentValue: number[];
  held: { value: number | null }[];
  dutyRunS: number;
  dutyMs: number;
  visitsDone: number;
  /** How many counter resets are past, and what the counters are counted from. */
  resets: number;
  countedFrom: { runS: number; starts: number };
  /** How often counters that have an end came round it, when last looked. */
  rounds?: number;
  /** What a technician read before and after, by the place of the visit in the scenario. */
  gauges: { visit: number; asFound: Record<string, number>; asLeft: Record<string, number> | null }[];
  /** For each fault of the scenario, when an observer at the machine could first have known; null until then. */
  knowableMs: (number | null)[];
  signature: number;
  /** What loads and wears by itself: the first look, and later ones that say more. */
  own: OwnLook[];
  nextLookMs: number;
  /** What anybody beside it could see: runs past their limit, stops below cut-out; the last runs in good order, min. */
  signs: Sign[];
  runsMin: number[];
  motorRan: boolean;
  producedRan: boolean;
  /** The last rests in good order, min; starts when last looked. For each fault that a visit made: starts when it began, and when it was due to be known. */
  restsMin: number[];
  startsSeen: number;
  due: ({ starts: number | null; atMs: number | null } | undefined)[];
  /** Null where nothing varies from day to day. */
  habit: HabitState | null;
  /** Rows that are on their way: flat, four numbers a row. */
  pending: number[];
};

/** What follows from the scenario alone, made once. */
export type Prepared = { readonly sensors: readonly SensorSetting[]; /** What is sent at a start or stop. */ readonly onChange: number[]; readonly watched: readonly number[]; readonly hasPower: boolean; /** What departs from good order now; written anew at each beat. */ readonly departures: Departures; /** Something departs, and must be put back at the next beat. */ dirty: boolean; /** No visit, upset or fault acts now. */ quiet: boolean; readonly beatMs: number };

export function prepareGenerator(scenario: GeneratorScenario): Prepared {
  const sensors = sensorSettings(scenario.channels, scenario.plant);
  const at = (channel: string): number => sensors.findIndex((sensor) => sensor.channel === channel);
  return {
    sensors,
    onChange: scenario.readsByClock === true || (at('running') < 0 && at('producing') < 0) ? [] : [at('running'), at('producing'), at('tank-pressure')].filter((index) => index >= 0),
    watched: scenario.readsByClock === true || at('running') < 0 ? [] : sensors.flatMap((sensor, index) => (sensor.kind.pace === 'period' && Number.isFinite(sensor.kind.deadBand) ? [index] : [])),
    hasPower: at('power') >= 0,
    departures: noDepartures(scenario.plant.risers.length),
    dirty: false,
    quiet: true,
    beatMs: Math.min(BEAT_MS, scenario.reportEveryS * 1000),
  };
}

export function startGenerator(scenario: GeneratorScenario, seed: number, startMs: number): GeneratorState {
  const { key } = scenario;
  const site = key.slice(0, key.indexOf('/'));
  const gatewayDice = startDice(seed, `${key} gateway`);
  const first = startMs + Math.floor(uniform(gatewayDice) * 300) * 1000;
  const switchDice = startDice(seed, `${key} switch`);
  const plant = startPlant(scenario.plant, startMs, startDice(seed, `${site} weather`), switchDice, uniform(switchDice));
  plant.loading = [...scenario.loading];
  plant.runS = Math.round(scenario.runHours * 3600);
  plant.starts = Math.round(scenario.runHours * 7);
  if (plant.receiver) Object.assign(plant.receiver, { runS: plant.runS, starts: plant.starts });
  plant.wear = Math.min(0.05, WEAR_PER_H * scenario.runHours);
  const none = scenario.channels.map(() => NEVER);
  return { plant, sensorDice: startDice(seed, `${key} sensors`), gatewayDice, nextBeatMs: first, nextReportMs: first, sentMs: none, sentValue: [...none], held: none.map(() => ({ value: null })), dutyRunS: motorOf(plant).runS, dutyMs: startMs, visitsDone: 0, resets: 0, countedFrom: { runS: 0, starts: 0 }, gauges: [], knowableMs: scenario.faults.map(() => null), own: [], nextLookMs: startMs, signs: [], runsMin: [], motorRan: false, producedRan: false, restsMin: [], startsSeen: plant.starts, due: [], signature: feedSignature(noDepartures(0)), habit: scenario.habit === undefined ? null : startHabit(seed, key), pending: [] };
}

/** A world that an older program put into a file gets what it doesn't have yet. */
export function completeState(state: GeneratorState): void {
  if (state.own !== undefined) return;
  Object.assign(state, { own: [], nextLookMs: state.plant.atMs, signs: [], runsMin: [], motorRan: motorOf(state.plant).running, producedRan: state.plant.running, restsMin: [], startsSeen: state.plant.starts, due: [] } satisfies Partial<GeneratorState>);
}

export function upsetActive(upset: UpsetScenario, day: number): boolean {
  return day >= upset.fromDay && day < upset.fromDay + upset.hours / 24;
}
