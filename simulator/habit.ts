import type { Departures } from './plant/departures.ts';
import { holeMm2 } from './plant/gas.ts';
import { between, type Dice, normal, startDice, uniform } from './plant/random.ts';

/**
 * What makes a generator in good order differ from one day to the next. Piping is never quite tight in the same way:
 * joints move with load and weather, and people use air. Assumed: common practice, no source.
 */
export type Habit = {
  /** Day-to-day sd of ln(healthy loss of the piping); 0.05 = tight and steady, 0.2 = old and restless. It wanders with a memory of three days. */
  readonly wander: number;
  /** Tenants draw from the tank in working hours, Monday to Friday: so often a day on average, so long, through so wide an opening. */
  readonly use?: { readonly timesPerDay: number; readonly minutes: number; readonly openingMm: number };
  /** A vent at the end of the first riser that a timer opens, for five minutes at least. */
  readonly vent?: { readonly everyH: number; readonly minutes: number; readonly openingMm: number };
};

/** Plain JSON. `uses` are the draws of today, [from, to) in days of the scenario, flat. */
export type HabitState = { dice: Dice; day: number; before: number; after: number; uses: number[] };

/** Memory from one day to the next: half of a departure is left after two days. */
const MEMORY = 0.71;

export function startHabit(seed: number, key: string): HabitState {
  const dice = startDice(seed, `${key} habit`);
  const before = normal(dice);
  return { dice, day: -1e9, before, after: before, uses: [] };
}

/** Lay what is usual today over the departures; true if a vent is open, which must be shut again. `midnightDay` is the weekday number of day 0 (0 = Sunday). */
export function applyHabit(dep: Departures, state: HabitState, habit: Habit, day: number, midnightDay: number): boolean {
  const today = Math.floor(day);
  if (state.day === -1e9) state.day = today - 1;
  while (state.day < today) nextDay(state, habit, midnightDay);
  const noise = state.before + (day - today) * (state.after - state.before);
  dep.wander = Math.exp(habit.wander * noise);
  dep.useMm2 = 0;
  for (let index = 0; index < state.uses.length; index += 2) {
    if (day >= state.uses[index]! && day < state.uses[index + 1]!) dep.useMm2 += holeMm2(habit.use!.openingMm);
  }
  const { vent } = habit;
  if (vent === undefined || (day * 24) % vent.everyH >= vent.minutes / 60) return false;
  dep.purgeMm2[0] = (dep.purgeMm2[0] ?? 0) + holeMm2(vent.openingMm);
  return true;
}

function nextDay(state: HabitState, habit: Habit, midnightDay: number): void {
  state.day += 1;
  state.before = state.after;
  state.after = MEMORY * state.before + Math.sqrt(1 - MEMORY * MEMORY) * normal(state.dice);
  state.uses = [];
  const weekday = (((midnightDay + state.day) % 7) + 7) % 7;
  if (habit.use === undefined || weekday === 0 || weekday === 6) return;
  // Each working hour has the same chance, which makes the number of times scatter as it does with people.
  for (let hour = 7; hour < 17; hour += 1) {
    if (uniform(state.dice) >= habit.use.timesPerDay / 10) continue;
    const from = state.day + (hour + uniform(state.dice)) / 24;
    state.uses.push(from, from + (habit.use.minutes * between(state.dice, 0.4, 1.8)) / 1440);
  }
}
