/** `delta`: drift that is forgiven per value; `threshold`: sum that signals, both in units of the values; `alpha`: how much of the sum is kept at each step. */
export type PageHinkleyParams = { readonly minCount: number; readonly delta: number; readonly threshold: number; readonly alpha: number };
/** Plain JSON. */
export type PageHinkleyState = PageHinkleyParams & { readonly count: number; readonly mean: number; readonly up: number; readonly down: number; readonly signal: 'up' | 'down' | null };

/**
 * Begin a Page–Hinkley test: a CUSUM against the running mean of all values so far, for series without a baseline.
 *
 * Price: none can be stated without the sd of the values; in sd, threshold 50 with delta 0.005 is the usual choice for thousands of
 * values a day and useless for daily ones. It begins anew after a signal. Prefer a CUSUM over `scoreAgainst()` where a price matters.
 *
 * @throws {RangeError} if the threshold isn't > 0 or alpha isn't in 0..1.
 * @see Page 1954, Biometrika 41:100; Hinkley 1971, Biometrika 58:509.
 */
export function startPageHinkley({ minCount = 30, delta = 0.005, threshold = 50, alpha = 0.9999 }: Partial<PageHinkleyParams> = {}): PageHinkleyState {
  if (!(threshold > 0)) throw new RangeError(`Cannot start a test as threshold must be above 0: current value is ${threshold}`);
  if (!(alpha > 0 && alpha <= 1)) throw new RangeError(`Cannot start a test as alpha must be above 0 and at most 1: current value is ${alpha}`);
  return { minCount, delta, threshold, alpha, count: 0, mean: 0, up: 0, down: 0, signal: null };
}

/** @throws {RangeError} if the value isn't finite. */
export function stepPageHinkley(before: PageHinkleyState, value: number): PageHinkleyState {
  if (!Number.isFinite(value)) throw new RangeError(`Cannot add a value as it must be finite: current value is ${value}`);
  const state = before.signal === null ? before : startPageHinkley(before);
  const count = state.count + 1;
  const mean = state.mean + (value - state.mean) / count;
  const up = Math.max(0, state.alpha * state.up + value - mean - state.delta);
  const down = Math.max(0, state.alpha * state.down - value + mean - state.delta);
  const ready = count >= state.minCount;
  const signal = ready && up > state.threshold ? 'up' : ready && down > state.threshold ? 'down' : null;
  return { ...state, count, mean, up, down, signal };
}

/** The batch: every state, one a value. */
export function pageHinkley(params: Partial<PageHinkleyParams>, values: readonly number[]): PageHinkleyState[] {
  let state = startPageHinkley(params);
  return values.map((value) => (state = stepPageHinkley(state, value)));
}
