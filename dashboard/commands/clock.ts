import { type Clock, msFromIso } from '../../shared/time.ts';

/** A clock that may run faster than the wall's; `scale` of its seconds pass in one. */
export type ScaledClock = Clock & { readonly scale: number };

/** The machine's own clock. */
export function wallClock(): ScaledClock {
  return { scale: 1, nowMs: () => Date.now() };
}

/** A clock that showed `startMs` when the wall's showed `wallStartMs`, and runs `scale` times as fast since. */
export function scaledClock(startMs: number, scale: number, wallStartMs: number = Date.now()): ScaledClock {
  return { scale, nowMs: () => Math.floor(startMs + (Date.now() - wallStartMs) * scale) };
}

/** Read `START@N` as `--clock` takes it: a time in ISO 8601 (or `now`) and how many times faster. `undefined` if it is none. */
export function parseClock(text: string): ScaledClock | undefined {
  const at = text.lastIndexOf('@');
  const scale = Number(text.slice(at + 1));
  const start = text.slice(0, at);
  const startMs = start === 'now' ? Date.now() : msFromIso(start);
  if (at < 1 || startMs === undefined || !Number.isFinite(scale) || scale < 1 || scale > 3600) return undefined;
  return scaledClock(startMs, scale);
}
