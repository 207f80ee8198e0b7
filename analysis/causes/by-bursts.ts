import type { DayRow } from '../../shared/cycle.ts';
import { median } from '../change/robust.ts';

/** Days before a change, and of now, that are compared; a share from which it is worth a sentence. Common practice, no source. */
const BEFORE_DAYS = 14;
const NOW_DAYS = 3;
const LEAST_SHARE = 0.15;

/** How much of demand goes in bursts, where much does or did: a user or a regulator that steps, and not a hole, draws so. `undefined` where the tank can't tell. */
export function byBursts(rows: readonly DayRow[], onsetMs: number): string | undefined {
  const told = rows.filter((row) => typeof row.burstShare === 'number' && row.demand !== null);
  const now = told.filter((row) => row.startMs >= onsetMs).slice(-NOW_DAYS);
  const before = told.filter((row) => row.endMs <= onsetMs).slice(-BEFORE_DAYS);
  if (now.length === 0 || before.length === 0) return undefined;
  const share = (some: readonly DayRow[]): number => median(some.map((row) => row.burstShare!))!;
  if (Math.max(share(now), share(before)) < LEAST_SHARE) return undefined;
  const quiet = (some: readonly DayRow[]): number => median(some.map((row) => row.demand!.value * (1 - row.burstShare!)))!;
  const percent = (value: number): string => `${Math.round(100 * value)} %`;
  return `It draws in bursts: ${percent(share(now))} of demand, before ${percent(share(before))}; what is drawn quietly is ${(quiet(now) / Math.max(1e-9, quiet(before))).toFixed(1)} times what it was.`;
}
