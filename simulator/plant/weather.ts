import { HOUR_MS } from '../../shared/time.ts';
import { CLIMATES, type Climate, type ClimateName, type Wave } from './climates.ts';
import { relativeHumidityPercent } from './humid-air.ts';
import { type Dice, normal } from './random.ts';

/** The rooms that a generator and its piping stand in. */
export type Surroundings = {
  readonly climate: ClimateName;
  /** The machine room follows the outdoor air by this share, the rest is held at `roomHeldC`, with this lag. */
  readonly room: Space;
  readonly piping: Space;
};
export type Space = { readonly heldC: number; readonly outdoorShare: number; readonly lagH: number };

/** Air around a generator at one hour. */
export type AirHour = { outdoorC: number; dewC: number; roomC: number; pipeC: number };
/** `before` and `after` enclose the present; between them everything is a straight line. */
export type WeatherState = { hour: number; temperatureNoise: number; depressionNoise: number; before: AirHour; after: AirHour };
/** What the plant needs of it, at a moment; pipe temperature's slope too, because piping breathes by it. */
export type Air = { roomC: number; dewC: number; pipeC: number; pipeCPerMin: number; outdoorC: number };

const YEAR_HOURS = 8765.82;

function waveAt(wave: Wave, hour: number, hoursEast: number): number {
  const yearly = (2 * Math.PI * (hour % YEAR_HOURS)) / YEAR_HOURS;
  const daily = (2 * Math.PI * ((hour + hoursEast) % 24)) / 24;
  const [mean, yc, ys, dc, ds, mc, ms] = wave.terms;
  const season = Math.cos(yearly);
  return mean + yc * season + ys * Math.sin(yearly) + (dc + mc * season) * Math.cos(daily) + (ds + ms * season) * Math.sin(daily);
}

/** Hours since 1 January of a leap-year cycle's start, so that the year's wave stands in the right season. */
const HOURS_TO_2020 = Date.UTC(2020, 0, 1) / HOUR_MS;

function outdoors(climate: Climate, state: { temperatureNoise: number; depressionNoise: number }, hour: number, shiftC: number): { outdoorC: number; dewC: number } {
  const since = hour - HOURS_TO_2020;
  const outdoorC = waveAt(climate.temperatureC, since, climate.hoursEast) + state.temperatureNoise + shiftC;
  const depression = Math.max(0.2, waveAt(climate.depressionC, since, climate.hoursEast) + state.depressionNoise);
  return { outdoorC, dewC: outdoorC - depression };
}

/** Weather at a place from `startMs` on. Generators that share dice of the same seed share the weather. */
export function startWeather(surroundings: Surroundings, startMs: number, dice: Dice): WeatherState {
  const climate: Climate = CLIMATES[surroundings.climate];
  const noise = { temperatureNoise: (climate.temperatureC.sigma / Math.sqrt(1 - climate.temperatureC.phi ** 2)) * normal(dice), depressionNoise: (climate.depressionC.sigma / Math.sqrt(1 - climate.depressionC.phi ** 2)) * normal(dice) };
  const hour = Math.floor(startMs / HOUR_MS);
  const first = outdoors(climate, noise, hour, 0);
  const settled = (space: Space): number => space.heldC + space.outdoorShare * (first.outdoorC - space.heldC);
  const before = { ...first, roomC: settled(surroundings.room), pipeC: settled(surroundings.piping) };
  const state = { hour, ...noise, before, after: before };
  stepHour(state, surroundings, climate, dice, 0);
  state.hour = hour;
  return state;
}

function stepHour(state: WeatherState, surroundings: Surroundings, climate: Climate, dice: Dice, shiftC: number): void {
  state.temperatureNoise = climate.temperatureC.phi * state.temperatureNoise + climate.temperatureC.sigma * normal(dice);
  state.depressionNoise = climate.depressionC.phi * state.depressionNoise + climate.depressionC.sigma * normal(dice);
  state.hour += 1;
  const next = outdoors(climate, state, state.hour + 1, shiftC);
  const lagged = (was: number, space: Space): number => was + (space.heldC + space.outdoorShare * (next.outdoorC - space.heldC) - was) * (1 - Math.exp(-1 / space.lagH));
  state.before = state.after;
  state.after = { ...next, roomC: lagged(state.after.roomC, surroundings.room), pipeC: lagged(state.after.pipeC, surroundings.piping) };
}

/**
 * Air at a moment; the moment never goes back. `shiftC(hour)` is what a cold snap adds.
 * Writes into `air`, because this is asked several times a simulated minute.
 */
export function weatherAt(state: WeatherState, surroundings: Surroundings, atMs: number, dice: Dice, shiftC: (hourMs: number) => number, air: Air): void {
  const hour = Math.floor(atMs / HOUR_MS);
  while (state.hour < hour) stepHour(state, surroundings, CLIMATES[surroundings.climate], dice, shiftC((state.hour + 2) * HOUR_MS));
  const share = (atMs - state.hour * HOUR_MS) / HOUR_MS;
  const { before, after } = state;
  air.outdoorC = before.outdoorC + share * (after.outdoorC - before.outdoorC);
  air.roomC = before.roomC + share * (after.roomC - before.roomC);
  air.pipeC = before.pipeC + share * (after.pipeC - before.pipeC);
  air.pipeCPerMin = (after.pipeC - before.pipeC) / 60;
  air.dewC = before.dewC + share * (after.dewC - before.dewC);
}

/** Humidity of the room, %: the outdoor air's water at the room's temperature. */
export function roomPercent(air: Air): number {
  return Math.min(98, relativeHumidityPercent(air.roomC, Math.min(air.dewC, air.roomC)));
}
