import { studentQuantile } from './student.ts';

/** A line through weighted points; `slope` per unit of time, `level` at `centre`, where level and slope know nothing of each other. */
export type LineFit = {
  readonly slope: number;
  readonly slopeSe: number;
  /** Weighted mean of the times, and the line's value there. */
  readonly centre: number;
  readonly level: number;
  readonly levelSe: number;
  /** At time 0. Far from the data it is mostly error. */
  readonly intercept: number;
  readonly interceptSe: number;
  /** Of one point of weight 1. */
  readonly residualSd: number;
  readonly freedom: number;
  readonly rSquared: number;
};

/**
 * Least squares of values on times, weights in proportion to 1/variance; `undefined` below 3 points or where fewer than 2 times differ.
 *
 * Times are taken from their first before anything is summed: epoch milliseconds have 13 digits, and their squares leave
 * a double none. One wild point moves it as far as it likes: `theilSen()` is for those.
 *
 * @throws {RangeError} if the lists differ in length or a weight isn't > 0.
 * @see NIST StRD; Chan, Golub & LeVeque 1983, American Statistician 37:242.
 */
export function fitLine(times: readonly number[], values: readonly number[], weights?: readonly number[]): LineFit | undefined {
  const n = times.length;
  if (values.length !== n || (weights !== undefined && weights.length !== n)) throw new RangeError(`Cannot fit a line as times, values and weights must be as many: current counts are ${n}, ${values.length} and ${weights?.length ?? n}`);
  if (weights?.some((weight) => !(weight > 0 && Number.isFinite(weight)))) throw new RangeError('Cannot fit a line as each weight must be finite and above 0');
  if (n < 3) return undefined;
  const first = times[0] as number;
  const w = (i: number): number => weights?.[i] ?? 1;
  const sum = (f: (i: number) => number): number => {
    let total = 0;
    for (let i = 0; i < n; i++) total += f(i);
    return total;
  };
  const total = sum(w);
  const meanT = sum((i) => w(i) * ((times[i] as number) - first)) / total;
  const rough = sum((i) => w(i) * (values[i] as number)) / total;
  // A second pass takes off what rounding left of the mean.
  const level = rough + sum((i) => w(i) * ((values[i] as number) - rough)) / total;
  const dt = (i: number): number => (times[i] as number) - first - meanT;
  const dy = (i: number): number => (values[i] as number) - level;
  const stt = sum((i) => w(i) * dt(i) * dt(i));
  if (!(stt > 0)) return undefined;
  const slope = sum((i) => w(i) * dt(i) * dy(i)) / stt;
  const squares = sum((i) => w(i) * (dy(i) - slope * dt(i)) ** 2);
  const all = sum((i) => w(i) * dy(i) * dy(i));
  const freedom = n - 2;
  const residualSd = Math.sqrt(squares / freedom);
  const centre = first + meanT;
  return {
    slope,
    slopeSe: residualSd / Math.sqrt(stt),
    centre,
    level,
    levelSe: residualSd / Math.sqrt(total),
    intercept: level - slope * centre,
    interceptSe: residualSd * Math.sqrt(1 / total + (centre * centre) / stt),
    residualSd,
    freedom,
    rSquared: all > 0 ? 1 - squares / all : 1,
  };
}

/**
 * The line at a time: its value, the band that holds the line, and the interval that holds one more point of weight 1.
 * @param confidence share of such intervals that hold the truth, for normal residuals that are independent.
 */
export function predictLine(fit: LineFit, time: number, confidence = 0.95): { readonly value: number; readonly low: number; readonly high: number; readonly bandLow: number; readonly bandHigh: number } {
  if (!(confidence > 0 && confidence < 1)) throw new RangeError(`Cannot give an interval as confidence must be between 0 and 1: current value is ${confidence}`);
  const reach = time - fit.centre;
  const value = fit.level + fit.slope * reach;
  const quantile = studentQuantile(0.5 + confidence / 2, fit.freedom);
  const band = quantile * Math.hypot(fit.levelSe, fit.slopeSe * reach);
  const point = quantile * Math.hypot(fit.levelSe, fit.slopeSe * reach, fit.residualSd);
  return { value, low: value - point, high: value + point, bandLow: value - band, bandHigh: value + band };
}
