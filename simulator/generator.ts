import { DAY_MS } from '../shared/time.ts';
import { finishVisits, noteRounds, readAsFound, resetCounters } from './at-visits.ts';
import { noteDue } from './due.ts';
import { applyFault, faultShare } from './faults/table.ts';
import { coldSnapC, UPSETS } from './faults/upsets.ts';
import { layDriven } from './driven.ts';
import { due, emit, moved } from './gateway.ts';
import { completeState, type GeneratorState, type Prepared, upsetActive } from './generator-state.ts';
import { applyHabit } from './habit.ts';
import { noteKnowable } from './knowable.ts';
import { lookAtItself, saysMore } from './own-state.ts';
import { type Departures, feedSignature, resetDepartures } from './plant/departures.ts';
import { advancePlant } from './plant/plant.ts';
import type { PlantEvent } from './plant/plant-state.ts';
import type { GeneratorScenario } from './scenario.ts';
import { noteSigns } from './signs.ts';

/** In a run a gateway looks once a minute whether a pressure has moved past its dead-band. */
const LOOK_MS = 60_000;

/** All that departs from good order at this moment. */
function departuresAt(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, day: number, midnightMs: number): Departures {
  const { departures: dep } = prepared;
  if (prepared.dirty) {
    resetDepartures(dep);
    prepared.dirty = false;
  }
  prepared.quiet = true;
  for (const visit of scenario.visits) {
    if (day < visit.atDay || day >= visit.atDay + (0.7 * visit.hours) / 24) continue;
    dep.lockedOut = true;
    prepared.dirty = true;
    prepared.quiet = false;
  }
  // 1 January 1970 was a Thursday.
  if (state.habit !== null && scenario.habit !== undefined && applyHabit(dep, state.habit, scenario.habit, day, (4 + midnightMs / DAY_MS) % 7)) prepared.dirty = true;
  if (scenario.driven !== undefined && layDriven(dep, scenario.driven, day)) prepared.dirty = true;
  for (const upset of scenario.upsets) {
    if (!upsetActive(upset, day)) continue;
    UPSETS[upset.kind].apply(dep, upset.size ?? UPSETS[upset.kind].usualSize, (day - upset.fromDay) * 24, upset);
    prepared.dirty = true;
    prepared.quiet = false;
  }
  for (const fault of scenario.faults) {
    if (faultShare(fault, day) === 0) continue;
    applyFault(dep, fault, day);
    prepared.dirty = true;
    prepared.quiet = false;
  }
  return dep;
}

/** Move a generator on until its plant is past `untilMs`; what its sensors say goes to `pending`. */
export function advanceGenerator(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, worldStartMs: number, untilMs: number): void {
  completeState(state);
  const midnightMs = Math.floor(worldStartMs / DAY_MS) * DAY_MS;
  const coldC = (hourMs: number): number => coldSnapC(scenario.upsets, (hourMs - midnightMs) / DAY_MS);
  while (state.plant.atMs <= untilMs) {
    const day = (state.plant.atMs - midnightMs) / DAY_MS;
    finishVisits(state, scenario, day);
    const dep = departuresAt(state, scenario, prepared, day, midnightMs);
    readAsFound(state, scenario, day);
    resetCounters(state, scenario, day);
    noteRounds(state, scenario);
    lookOnceADay(state, scenario);
    const signature = feedSignature(dep);
    if (signature !== state.signature) {
      state.signature = signature;
      state.plant.curveMs = 0;
    }
    beat(state, scenario, prepared, dep, coldC, midnightMs);
  }
}

/** Loading and wear go by running hours: once a day is often enough, and after each visit. */
function lookOnceADay(state: GeneratorState, scenario: GeneratorScenario): void {
  if (state.plant.atMs < state.nextLookMs) return;
  state.nextLookMs = state.plant.atMs + DAY_MS;
  const look = lookAtItself(state.plant, scenario.plant);
  if (saysMore(look, state.own.at(-1))) state.own.push(look);
}

/** What the truth will tell of this moment; of a branch and of a twin nobody asks it. */
function noteTruth(state: GeneratorState, scenario: GeneratorScenario, { quiet }: Prepared, dep: Departures, event: PlantEvent, midnightMs: number): void {
  noteKnowable(state, scenario, dep, event, midnightMs);
  noteSigns(state, scenario.plant, dep, quiet);
  noteDue(state, scenario, quiet, midnightMs);
}

/** From one beat to the next: run the plant, send on change, on movement, and by period. */
function beat(state: GeneratorState, scenario: GeneratorScenario, prepared: Prepared, dep: Departures, coldC: (hourMs: number) => number, midnightMs: number): void {
  const { plant } = state;
  const send = (chosen: number[]): void => emit(state, scenario, prepared, dep, midnightMs, chosen);
  while (plant.atMs < state.nextBeatMs) {
    const untilMs = plant.running && prepared.watched.length > 0 ? Math.min(state.nextBeatMs, plant.atMs + LOOK_MS) : state.nextBeatMs;
    const event = advancePlant(plant, scenario.plant, dep, coldC, untilMs);
    if (state.nextLookMs !== Infinity) noteTruth(state, scenario, prepared, dep, event, midnightMs);
    if (event !== undefined && prepared.onChange.length > 0) send(prepared.onChange);
    else if (plant.running && plant.atMs < state.nextBeatMs) send(moved(state, scenario, prepared, dep));
  }
  state.nextBeatMs += prepared.beatMs;
  if (plant.atMs >= state.nextReportMs) {
    state.nextReportMs += scenario.reportEveryS * 1000;
    send(due(state, scenario, prepared, dep));
  }
}
