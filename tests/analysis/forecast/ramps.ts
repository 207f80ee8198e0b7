import { normals, seeded } from '../change/world.ts';

/** A way to a limit: the level as a function of the days since onset, which starts at `base` and would reach 1 after `crossing` days. */
export type Ramp = { readonly kind: 'steady' | 'accelerating' | 'decelerating' | 'exponential' | 'flat'; readonly level: (day: number) => number; readonly crossing: number };

/**
 * Ramps as they may come: base 0.1 to 0.6 of the limit, 25 to 250 days from onset to limit, day-to-day scatter 1 to 8 % of the limit
 * with a correlation of 0 to 0.4, seen for 12 days up to 90 % of the way. Invented; no fit to any data.
 */
export function drawRamp(kind: Ramp['kind'], seed: number): { readonly ramp: Ramp; readonly scatter: number; readonly seenDays: number; readonly values: number[] } {
  const random = seeded(seed * 7919 + 13);
  const normal = normals(random);
  const between = (low: number, high: number): number => low + (high - low) * random();
  const base = between(0.1, 0.6);
  const crossing = Math.exp(between(Math.log(25), Math.log(250)));
  const bend = kind === 'accelerating' ? between(1.3, 2) : kind === 'decelerating' ? between(0.5, 0.8) : 1;
  const level = (day: number): number => (kind === 'flat' ? base : kind === 'exponential' ? base * (1 / base) ** (day / crossing) : base + (1 - base) * (day / crossing) ** bend);
  const scatter = Math.exp(between(Math.log(0.01), Math.log(0.08)));
  const correlation = between(0, 0.4);
  const seenDays = Math.round(Math.max(12, Math.min(120, between(0.25, 0.9) * crossing)));
  let lean = normal();
  const values = Array.from({ length: seenDays }, (_, i) => {
    lean = correlation * lean + Math.sqrt(1 - correlation * correlation) * normal();
    return level(i + 0.5) + scatter * lean;
  });
  return { ramp: { kind, level, crossing: kind === 'flat' ? Infinity : crossing }, scatter, seenDays, values };
}
