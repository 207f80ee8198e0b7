import { type FoldState, startFold } from './generator-fold.ts';
import { startWatch, type WatchState } from './generator-watch.ts';

/*
 * What was saved by an earlier build lacks what was added since. A field may be added to a saved state with a start value
 * that means "not known yet"; a field is never given another meaning under its old name.
 */

/** The state of a generator as it was saved, with what has been added since at its start value. @throws {SyntaxError} if it isn't JSON. */
export function readWatch(json: string): WatchState {
  return filledUp(startWatch(), JSON.parse(json)) as WatchState;
}

/** A daily checkpoint, likewise. @throws {SyntaxError} if it isn't JSON. */
export function readFold(json: string): FoldState {
  return filledUp(startFold(), JSON.parse(json)) as FoldState;
}

function filledUp(start: unknown, saved: unknown): unknown {
  if (!isPlain(start) || !isPlain(saved)) return saved === undefined ? start : saved;
  const whole: Record<string, unknown> = { ...saved };
  for (const [name, value] of Object.entries(start)) whole[name] = filledUp(value, saved[name]);
  return whole;
}

function isPlain(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
