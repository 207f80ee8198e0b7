/** Mean, yearly cos and sin, daily cos and sin, and the yearly cosine of the daily cos and sin; then AR(1) coefficient and sd of its innovations. */
export type Wave = { readonly terms: readonly [number, number, number, number, number, number, number]; readonly phi: number; readonly sigma: number };
export type Climate = { readonly temperatureC: Wave; readonly depressionC: Wave; /** Hours that the series' clock is ahead of UTC. */ readonly hoursEast: number };
export type ClimateName = keyof typeof CLIMATES;

/**
 * Four climates, fitted by tests/references/fit-climates.py to 8,760 hours each. They give the shape of a year, of a day
 * and of its weather, not the weather of any date.
 * inland, subarctic, subtropical: TMY2 and TMY3 typical years of the US National Renewable Energy Laboratory, public domain
 * (Greensboro NC, Sand Point AK, Miami FL). foothill: PVGIS typical year at 45 N 8 E, © European Union, free with source.
 */
export const CLIMATES = {
  inland: {
    temperatureC: { terms: [14.422, -11.115, -2.559, -3.488, -2.31, 0.443, -0.118], phi: 0.977, sigma: 1.054 },
    depressionC: { terms: [6.242, 0.656, 1.161, -3.255, -2.125, 0.515, 0.017], phi: 0.9503, sigma: 1.332 },
    hoursEast: -5,
  },
  subarctic: {
    temperatureC: { terms: [4.421, -5.095, -2.488, -0.756, -0.582, 0.461, 0.439], phi: 0.9862, sigma: 0.567 },
    depressionC: { terms: [4.295, -0.168, -0.141, -0.654, -0.498, 0.448, 0.31], phi: 0.9091, sigma: 0.9 },
    hoursEast: -9,
  },
  subtropical: {
    temperatureC: { terms: [24.314, -3.786, -1.458, -2.207, -1.141, -0.186, -0.449], phi: 0.9551, sigma: 0.793 },
    depressionC: { terms: [5.531, 0.204, 0.769, -2.297, -1.167, -0.133, -0.177], phi: 0.9206, sigma: 0.991 },
    hoursEast: -5,
  },
  foothill: {
    temperatureC: { terms: [13.564, -9.269, -2.643, -3.139, -2.318, 0.747, 0.376], phi: 0.9697, sigma: 0.72 },
    depressionC: { terms: [4.933, -2.476, 0.128, -2.643, -1.779, 1.45, 0.956], phi: 0.9562, sigma: 0.96 },
    hoursEast: 0,
  },
} as const satisfies Record<string, Climate>;
