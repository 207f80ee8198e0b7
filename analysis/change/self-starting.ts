import { normalQuantile } from './normal.ts';
import { studentCdf } from './student.ts';

/** Count, mean and sum of squared deviations of what has been learned; plain JSON. */
export type ReferenceState = { readonly count: number; readonly mean: number; readonly squares: number };

export function startReference(): ReferenceState {
  return { count: 0, mean: 0, squares: 0 };
}

/**
 * How far a value lies from those learned so far, as the value of a normal distribution that is as rare; `undefined`
 * before 2 values are learned or while they are all equal.
 *
 * With mean and sd from few values, (x − mean)/sd isn't normal, and a sum over it signals many times too often
 * (`startCusum()`). This z is exactly normal and independent from value to value, so the price of a CUSUM or EWMA
 * over it holds from the third value on. It pays with strength: a shift that comes early is learned before it is seen, and a
 * slow ramp teaches the reference to follow. So learn only from values that should count as normal.
 *
 * @see Hawkins 1987, The Statistician 36:299; Hawkins & Olwell 1998, chapter 7.
 */
export function scoreAgainst(state: ReferenceState, value: number): number | undefined {
  if (state.count < 2 || !(state.squares > 0)) return undefined;
  const freedom = state.count - 1;
  const sd = Math.sqrt(state.squares / freedom);
  const t = ((value - state.mean) / sd) * Math.sqrt(state.count / (state.count + 1));
  // The smaller tail keeps its digits; and no value is rarer than a double can say.
  const z = normalQuantile(Math.max(1e-300, studentCdf(-Math.abs(t), freedom)));
  return t > 0 ? -z : z;
}

/**
 * Learn a value.
 * @throws {RangeError} if it isn't finite.
 * @see Welford 1962, Technometrics 4:419.
 */
export function stepReference(state: ReferenceState, value: number): ReferenceState {
  if (!Number.isFinite(value)) throw new RangeError(`Cannot learn a value as it must be finite: current value is ${value}`);
  const count = state.count + 1;
  const mean = state.mean + (value - state.mean) / count;
  return { count, mean, squares: state.squares + (value - state.mean) * (value - mean) };
}
