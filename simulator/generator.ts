import { DAY_MS, HOUR_MS } from '../shared/time.ts';
import { applyFault, faultShare } from './faults/table.ts';
import { coldSnapC, UPSETS } from './faults/upsets.ts';
import { applyHabit, type HabitState, startHabit } from './habit.ts';
import { type Departures, feedSignature, noDepartures, resetDepartures } from './plant/departures.ts';
import { atmosphereKPa } from './plant/gas.ts';
import { ELEMENT_NAMES } from './plant/elements.ts';
import { settle, WEAR_PER_H } from './plant/controller.ts';
import { advancePlant } from './plant/plant.ts';
import { motorOf, stopsAtKPa } from './plant/motor.ts';
import { type PlantEvent, type PlantState, startPlant, tankAbsKPa } from './plant/plant-state.ts';
import { receiverAbsKPa } from './plant/receiver.ts';
import { type Dice, startDice, uniform } from './plant/random.ts';
import { sensed, type SensorSetting, sensorSettings, trueValue } from './plant/sensors.ts';
import { gaugesNow } from './gauges.ts';
import type { GeneratorScenario, UpsetScenario } from './scenario.ts';

/** What faults and visits do is looked at this often; reports keep to the same beat. */
const BEAT_MS = 300_000;
/** In a run a gateway looks once a minute whether a pressure has moved past its dead-band. */
const LOOK_MS = 60_000;
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
  /** What a technician read before and after, by the place of the visit in the scenario. */
  gauges: { visit: number; asFound: Record<string, number>; asLeft: Record<string, number> | null }[];
  /** For each fault of the scenario, when an observer at the machine could first have known; null until then. */
  knowableMs: (number | null)[];
  signature: number;
  /** Null where nothing varies from day to day. */
  habit: HabitState | null;
  /** Rows that are on their way: flat, four numbers a row. */
  pending: number[];
};

/** What follows from the scenario alone, made once. */
export type Prepared = { readonly sensors: readonly SensorSetting[]; /** What is sent at a start or stop. */ readonly onChange: number[]; readonly watched: readonly number[]; readonly hasPower: boolean; /** What departs from good order now; written anew at each beat. */ readonly departures: Departures; /** Something departs, and must be put back at the next beat. */ dirty: boolean; readonly beatMs: number };

export function prepareGenerator(scenario: GeneratorScenario): Prepared {
  const sensors = sensorSettings(scenario.channels, scenario.plant);
  const at = (channel: string): number => sensors.findIndex((sensor) => sensor.channel === channel);
  return {
    sensors,
    onChange: at('running') < 0 && at('producing') < 0 ? [] : [at('running'), at('producing'), at('tank-pressure')].filter((index) => index >= 0),
    watched: at('running') < 0 ? [] : sensors.flatMap((sensor, index) => (sensor.kind.pace === 'period' && Number.isFinite(sensor.kind.deadBand) ? [index] : [])),
    hasPower: at('power') >= 0,
    departures: noDepartures(scenario.plant.risers.length),
    dirty: false,
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
  return { plant, sensorDice: startDice(seed, `${key} sensors`), gatewayDice, nextBeatMs: first, nextReportMs: first, sentMs: none, sentValue: [...none], held: none.map(() => ({ value: null })), dutyRunS: motorOf(plant).runS, dutyMs: startMs, visitsDone: 0, resets: 0, countedFrom: { runS: 0, starts: 0 }, gauges: [], knowableMs: scenario.faults.map(() => null), signature: feedSignature(noDepartures(0)), habit: scenario.habit === undefined ? null : startHabit(seed, key), pending: [] };
}

function upsetActive(upset: UpsetScenario, day: number): boolean {
  return day >= upset.fromDay && day < upset.fromDay + upset.hours / 24;
}

/** All that departs from good order at this moment. */
function departuresAt(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, day: number, midnightMs: number): Departures {
  const { departures: dep } = prepared;
  if (prepared.dirty) {
    resetDepartures(dep);
    prepared.dirty = false;
  }
  for (const visit of scenario.visits) {
    if (day < visit.atDay || day >= visit.atDay + (0.7 * visit.hours) / 24) continue;
    dep.lockedOut = true;
    prepared.dirty = true;
  }
  // 1 January 1970 was a Thursday.
  if (state.habit !== null && scenario.habit !== undefined) applyHabit(dep, state.habit, scenario.habit, day, (4 + midnightMs / DAY_MS) % 7);
  for (const upset of scenario.upsets) {
    if (!upsetActive(upset, day)) continue;
    UPSETS[upset.kind].apply(dep, upset.size ?? UPSETS[upset.kind].usualSize, (day - upset.fromDay) * 24, upset);
    prepared.dirty = true;
  }
  for (const fault of scenario.faults) {
    if (faultShare(fault, day) === 0) continue;
    applyFault(dep, fault, day);
    prepared.dirty = true;
  }
  return dep;
}

/** Hour meter and start counter begin anew. */
function resetCounters(state: GeneratorState, scenario: GeneratorScenario, day: number): void {
  let due = 0;
  for (const upset of scenario.upsets) if (upset.kind === 'counter-reset' && day >= upset.fromDay) due += 1;
  if (due === state.resets) return;
  state.resets = due;
  const { runS, starts } = motorOf(state.plant);
  state.countedFrom = { runS, starts };
}

/** What the technician reads as a visit begins. */
function readAsFound(state: GeneratorState, scenario: GeneratorScenario, day: number): void {
  const visit = scenario.visits[state.visitsDone];
  if (visit?.readGauges !== true || day < visit.atDay || state.gauges.some((one) => one.visit === state.visitsDone)) return;
  state.gauges.push({ visit: state.visitsDone, asFound: gaugesNow(state.plant, scenario), asLeft: null });
}

/** Parts changed at visits that are over by now. A part logged as changed and not changed stays as it was. */
function finishVisits(state: GeneratorState, scenario: GeneratorScenario, day: number): void {
  for (;;) {
    const visit = scenario.visits[state.visitsDone];
    if (visit === undefined || day < visit.atDay + visit.hours / 24) return;
    const read = state.gauges?.find((one) => one.visit === state.visitsDone);
    state.visitsDone += 1;
    const really = visit.replaced.filter((part) => !(visit.notReally ?? []).includes(part));
    ELEMENT_NAMES.forEach((name, index) => {
      if (really.includes(name)) state.plant.loading[index] = 0;
    });
    if (really.includes('compressor')) state.plant.wear = 0;
    if (really.includes('drain')) state.plant.waterMl = 0;
    if (read !== undefined) {
      // A technician lets it run before leaving, with everything shut that should be.
      settle(state.plant, scenario.plant, noDepartures(scenario.plant.risers.length), atmosphereKPa(scenario.plant.elevationM));
      read.asLeft = gaugesNow(state.plant, scenario);
    }
    state.plant.curveMs = 0;
  }
}

/** Move a generator on until its plant is past `untilMs`; what its sensors say goes to `pending`. */
export function advanceGenerator(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, worldStartMs: number, untilMs: number): void {
  const midnightMs = Math.floor(worldStartMs / DAY_MS) * DAY_MS;
  const coldC = (hourMs: number): number => coldSnapC(scenario.upsets, (hourMs - midnightMs) / DAY_MS);
  while (state.plant.atMs <= untilMs) {
    const day = (state.plant.atMs - midnightMs) / DAY_MS;
    finishVisits(state, scenario, day);
    const dep = departuresAt(state, scenario, prepared, day, midnightMs);
    readAsFound(state, scenario, day);
    resetCounters(state, scenario, day);
    const signature = feedSignature(dep);
    if (signature !== state.signature) {
      state.signature = signature;
      state.plant.curveMs = 0;
    }
    beat(state, scenario, prepared, dep, coldC, midnightMs);
  }
}

/** From one beat to the next: run the plant, send on change, on movement, and by period. */
function beat(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures, coldC: (hourMs: number) => number, midnightMs: number): void {
  const { plant } = state;
  const send = (chosen: number[]): void => emit(state, scenario, prepared, dep, midnightMs, chosen);
  while (plant.atMs < state.nextBeatMs) {
    const untilMs = plant.running && prepared.watched.length > 0 ? Math.min(state.nextBeatMs, plant.atMs + LOOK_MS) : state.nextBeatMs;
    const event = advancePlant(plant, scenario.plant, dep, coldC, untilMs);
    noteKnowable(state, scenario, dep, event, midnightMs);
    if (event !== undefined && prepared.onChange.length > 0) send(prepared.onChange);
    else if (plant.running && plant.atMs < state.nextBeatMs) send(moved(state, scenario, prepared, dep));
  }
  state.nextBeatMs += prepared.beatMs;
  if (plant.atMs >= state.nextReportMs) {
    state.nextReportMs += scenario.reportEveryS * 1000;
    send(due(state, scenario, prepared, dep));
  }
}

/** A run longer than this has no end in sight. */
const LONG_RUN_MS = HOUR_MS;

/** Faults of the running count from the first sign of them, others from their onset. */
function noteKnowable(state: GeneratorState, scenario: GeneratorScenario, dep: Departures, event: PlantEvent, midnightMs: number): void {
  if (scenario.faults.length === 0) return;
  const { plant } = state;
  const day = (plant.atMs - midnightMs) / DAY_MS;
  for (let index = 0; index < scenario.faults.length; index += 1) {
    const fault = scenario.faults[index]!;
    if (state.knowableMs[index] !== null || day < fault.fromDay || (fault.toDay !== undefined && day >= fault.toDay)) continue;
    const atmKPa = atmosphereKPa(scenario.plant.elevationM);
    const gaugeKPa = (plant.receiver && scenario.plant.receiver !== undefined ? receiverAbsKPa(plant.receiver, scenario.plant.receiver, plant.air.roomC) : tankAbsKPa(plant, scenario.plant)) - atmKPa;
    const motor = motorOf(plant);
    if (fault.cause === 'not-starting' && !(dep.startBlocked && motor.calling && !motor.running)) continue;
    if (fault.cause === 'stops-short' && !(event === 'stop' && motor.calling && !motor.running && gaugeKPa < stopsAtKPa(scenario.plant) - 10)) continue;
    if (fault.cause === 'runs-without-end' && !(motor.running && plant.atMs - motor.runStartMs > LONG_RUN_MS)) continue;
    if (fault.variant === 'frozen' && plant.air.roomC >= dep.drainFreezesC) continue;
    state.knowableMs[index] = Math.round(plant.atMs);
  }
}

/** Pressures that have moved past their dead-band since they were last sent. */
function moved(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures): number[] {
  return prepared.watched.filter((index) => {
    const sensor = prepared.sensors[index]!;
    return Math.abs(trueValue(state.plant, scenario.plant, sensor, scenario.nitrogenAt, dep) - state.sentValue[index]!) > sensor.kind.deadBand;
  });
}

/** What a period's report holds: the quick channels always, the slow ones when they moved or an hour has passed. */
function due(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures): number[] {
  const chosen: number[] = [];
  const { sensors } = prepared;
  for (let index = 0; index < sensors.length; index += 1) {
    const sensor = sensors[index]!;
    const hourPast = state.plant.atMs - state.sentMs[index]! >= HOUR_MS - 1000;
    if (sensor.kind.pace === 'period' || hourPast) chosen.push(index);
    else if (sensor.kind.pace === 'slow' && Math.abs(trueValue(state.plant, scenario.plant, sensor, scenario.nitrogenAt, dep) - state.sentValue[index]!) > sensor.kind.deadBand) chosen.push(index);
  }
  return chosen;
}

/** Measure the chosen channels now and put the pack on its way. */
function emit(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures, midnightMs: number, chosen: number[]): void {
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
    const value = sensed(truth, sensor, dep, state.held[index]!, state.sensorDice, atmKPa);
    state.sentMs[index] = plant.atMs;
    state.sentValue[index] = truth;
    if (receivedMs !== undefined) pending.push(index, atMs, value, receivedMs);
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
  if (sensor.channel === 'run-time') return value - (state.countedFrom?.runS ?? 0);
  return sensor.channel === 'starts' ? value - (state.countedFrom?.starts ?? 0) : value;
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
