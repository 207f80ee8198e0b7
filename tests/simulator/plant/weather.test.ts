// Reference: yearly means and extremes of the typical years that the climates were fitted to (14.4, 4.4, 24.3 and 13.6 °C).
import { expect, test } from 'vitest';
import { HOUR_MS } from '../../../shared/time.ts';
import type { ClimateName } from '../../../simulator/plant/climates.ts';
import { startDice } from '../../../simulator/plant/random.ts';
import { type Air, roomPercent, startWeather, type Surroundings, weatherAt } from '../../../simulator/plant/weather.ts';

const START_MS = Date.UTC(2026, 0, 1);

function year(climate: ClimateName): Air[] {
  const surroundings: Surroundings = { climate, room: { heldC: 19, outdoorShare: 0.3, lagH: 6 }, piping: { heldC: 12, outdoorShare: 0.9, lagH: 4 } };
  const dice = startDice(4, climate);
  const state = startWeather(surroundings, START_MS, dice);
  return Array.from({ length: 8760 }, (_, hour) => {
    const air: Air = { roomC: 0, dewC: 0, pipeC: 0, pipeCPerMin: 0, outdoorC: 0 };
    weatherAt(state, surroundings, START_MS + hour * HOUR_MS, dice, () => 0, air);
    return air;
  });
}
const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / values.length;
const spread = (values: readonly number[]): number => Math.sqrt(mean(values.map((one) => (one - mean(values)) ** 2)));

test.each([['inland', 14.4], ['subarctic', 4.4], ['subtropical', 24.3], ['foothill', 13.6]] as const)('weatherAt() gives a year of the climate %s', (climate, meanC) => {
  const air = year(climate);
  const outdoor = air.map((one) => one.outdoorC);
  // Weather noise of hours to days leaves a year's mean uncertain by some tenths of a degree.
  expect(Math.abs(mean(outdoor) - meanC)).toBeLessThan(1.2);
  const warmHalf = mean(outdoor.slice(3600, 5800));
  const coldHalf = mean([...outdoor.slice(0, 1400), ...outdoor.slice(8000)]);
  expect(warmHalf).toBeGreaterThan(coldHalf + 5);
  for (const one of air) {
    expect(roomPercent(one)).toBeGreaterThan(0);
    expect(roomPercent(one)).toBeLessThanOrEqual(98);
  }
  // Rooms and piping follow with a lag and by a share: less spread than out of doors, and later.
  expect(spread(air.map((one) => one.roomC))).toBeLessThan(0.5 * spread(outdoor));
  expect(spread(air.map((one) => one.pipeC))).toBeLessThan(spread(outdoor));
});
