import { HOUR_MS, MINUTE_MS } from '../../shared/time.ts';

/** Attempts before a notice is given up; with the waits below the last is made about 21 h after the first. Our choice. */
export const MOST_ATTEMPTS = 12;
const LONGEST_MS = 6 * HOUR_MS;

/**
 * How long to wait after the `attempts`-th failure: 1, 2, 4 … min, at most 6 h, 20 % more or less by the dice,
 * so that many who failed together don't come back together.
 *
 * @throws {RangeError} if `attempts` is no whole number ≥ 1.
 */
export function retryAfterMs(attempts: number, random: () => number): number {
  if (!Number.isInteger(attempts) || attempts < 1) throw new RangeError(`Cannot wait as attempts must be a whole number of at least 1: current value is ${attempts}`);
  const doubled = Math.min(LONGEST_MS, MINUTE_MS * 2 ** Math.min(attempts - 1, 30));
  return Math.round(doubled * (0.8 + 0.4 * random()));
}
