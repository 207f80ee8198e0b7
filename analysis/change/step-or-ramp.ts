import { quantilesOf } from './onset-range.ts';
import { calmOutliers } from './outliers.ts';
import { median } from './robust.ts';
import { twoLevels } from './two-levels.ts';

export const CHANGE_SHAPES = ['nothing', 'step', 'ramp', 'comes-and-goes'] as const;
export type ChangeShape = (typeof CHANGE_SHAPES)[number];

/** What happened to a series since it was normal. Times are in the unit that was given, values too. */
export type StepOrRamp = {
  readonly shape: ChangeShape;
  /** Log likelihood ratio of each shape against `nothing`, less its price in free numbers; the best one's is the highest. */
  readonly support: Readonly<Record<ChangeShape, number>>;
  /** The same as shares that add up to 1, each shape being as likely as another beforehand. */
  readonly probability: Readonly<Record<ChangeShape, number>>;
  /** Of the best shape: 10, 50 and 90 % of where it can have begun; null with `nothing`. */
  readonly onset: { readonly earliest: number; readonly likely: number; readonly latest: number } | null;
  /** The level before. */
  readonly before: number;
  /** What has been added at the last value: the step, the ramp's rise so far, the other level of what comes and goes (even if it is away just now). */
  readonly effect: number;
  readonly effectSe: number;
  /** Of a ramp, per unit of time. */
  readonly slope: number | null;
  /** Where what comes and goes came and went: times at which the level changes. */
  readonly switches: readonly number[];
  /** Scatter of one value of median error around the best shape, and the correlation between neighbours that was allowed for. */
  readonly scatter: number;
  readonly correlation: number;
  readonly count: number;
};

/** Best place of one shape and all places' log weights. */
type Scan = { readonly index: number; readonly squares: number; readonly spread: number; readonly slope: number; readonly logs: Float64Array };
type Series = { readonly t: readonly number[]; readonly y: readonly number[]; readonly w: readonly number[]; readonly total: number; readonly mean: number; readonly squares: number };

/**
 * Say which of four shapes a series has: nothing happened, one step, a ramp that still goes on, or a second level that
 * comes and goes; with the range of its onset and its size.
 *
 * Weighted least squares at every place of onset, the scatter being unknown; lone wild values are drawn in first. What the
 * residuals of the best fit still share with their neighbours counts as fewer values. A change costs ½ log n for
 * its size and log n for each place. Price: of unchanged series 1 % show a shape at 60 to 120 values, 4 % at 15; with a
 * correlation of 0.4 between neighbours 2 to 5 %, 15 % at 15 (simulated). So it is for a series in which a detector of stated price has
 * already signalled. A step of 1.5 sd with 20 values after it is called a step in 85 of 100 and a ramp in 8; a ramp that has risen by
 * 2 sd is called either as often as the other, one of 5 sd a ramp in 98. A ramp whose rise quickens is dated too late.
 * A ramp that has ended, or a step upon a ramp, is given as the nearer of the shapes.
 *
 * @param errors standard error of each value, ≥ 0; the scatter beyond them is found from neighbours.
 * @returns `undefined` below 8 values.
 * @throws {RangeError} if the lists differ in length, times don't rise, or a number isn't finite.
 * @see Quandt 1958 (profile over the place); Schwarz 1978 (price of a free number); Zhang & Siegmund 2007 (of a place).
 */
export function stepOrRamp(times: readonly number[], values: readonly number[], errors: readonly number[]): StepOrRamp | undefined {
  refuse(times, values, errors);
  const n = times.length;
  if (n < 8) return undefined;
  const y = calmOutliers(values);
  const series = seriesOf(times, y, weightsOf(y, errors));
  if (!(series.squares > 0)) return nothing(series, 0, 0);

  const step = scan(series, stepBasis);
  const ramp = scan(series, rampBasis);
  const least = Math.min(step.squares, ramp.squares);
  const levels = twoLevels(y, series.w, 2 * Math.log(n) * Math.min(least / n, neighbourVariance(series)));
  const fits: Record<Exclude<ChangeShape, 'nothing'>, { squares: number; places: number } | undefined> = {
    step: { squares: step.squares, places: 1 },
    ramp: { squares: ramp.squares, places: 1 },
    'comes-and-goes': levels && levels.switches.length >= 2 ? { squares: levels.squares, places: levels.switches.length } : undefined,
  };
  const correlation = neighbourCorrelation(series, step, ramp, levels?.squares === undefined || levels.squares >= least ? undefined : levels);
  const worth = (1 - correlation) / (1 + correlation);
  const support = { nothing: 0, step: -Infinity, ramp: -Infinity, 'comes-and-goes': -Infinity };
  for (const shape of ['step', 'ramp', 'comes-and-goes'] as const) {
    const fit = fits[shape];
    if (fit !== undefined) support[shape] = ((worth * (n - 2)) / 2) * Math.log(series.squares / Math.max(1e-12 * series.squares, fit.squares)) - (0.5 + fit.places) * Math.log(n);
  }
  const shape = CHANGE_SHAPES.reduce((best, one) => (support[one] > support[best] ? one : best));
  if (shape === 'nothing') return nothing(series, correlation, worth, support);
  const common = { shape, support, probability: probabilities(support), correlation, count: n };
  if (shape === 'comes-and-goes' && levels !== undefined) return { ...common, ...describeLevels(series, levels, worth) };
  return { ...common, ...describeScan(series, shape === 'step' ? step : ramp, shape === 'step', worth) };
}

function refuse(times: readonly number[], values: readonly number[], errors: readonly number[]): void {
  const n = times.length;
  if (values.length !== n || errors.length !== n) throw new RangeError(`Cannot compare shapes as times, values and errors must be as many: current counts are ${n}, ${values.length} and ${errors.length}`);
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(times[i]) || !Number.isFinite(values[i]) || !((errors[i] as number) >= 0 && Number.isFinite(errors[i]))) throw new RangeError(`Cannot compare shapes as each number must be finite and each error 0 or more: current values are ${times[i]}, ${values[i]}, ${errors[i]}`);
    if (i > 0 && (times[i] as number) <= (times[i - 1] as number)) throw new RangeError(`Cannot compare shapes as times must rise: current value is ${times[i]} after ${times[i - 1]}`);
  }
}

/** 1/(error² + scatter²), over its median; the scatter is what the distances between neighbours show beyond the errors. */
function weightsOf(y: readonly number[], errors: readonly number[]): number[] {
  const steps = y.slice(1).map((value, i) => (value - (y[i] as number)) ** 2);
  // The median of a squared normal is 0.4549 of its mean, and two values differ by twice the variance.
  const seen = (median(steps) as number) / 0.4549 / 2;
  const own = median(errors.map((error) => error * error)) as number;
  const beyond = Math.max(0.01 * own, seen - own, 1e-9 * (steps.reduce((a, b) => a + b, 0) / steps.length));
  const raw = errors.map((error) => 1 / (error * error + beyond));
  if (!raw.every(Number.isFinite)) return errors.map(() => 1);
  const middle = median(raw) as number;
  return raw.map((weight) => weight / middle);
}

/** Variance of one value of weight 1, from the distances between neighbours: what comes and goes hardly touches it. */
function neighbourVariance({ y, w }: Series): number {
  return (median(y.slice(1).map((value, i) => (value - (y[i] as number)) ** 2 / (1 / (w[i] as number) + 1 / (w[i + 1] as number)))) as number) / 0.4549;
}

function seriesOf(t: readonly number[], y: readonly number[], w: readonly number[]): Series {
  const total = w.reduce((a, b) => a + b, 0);
  const mean = y.reduce((sum, value, i) => sum + (w[i] as number) * value, 0) / total;
  return { t, y, w, total, mean, squares: y.reduce((sum, value, i) => sum + (w[i] as number) * (value - mean) ** 2, 0) };
}

/** Running sums from the end: weight, weighted value, and the same times the time since the place. */
type Tail = { weight: number; value: number; time: number; timeSquared: number; timeValue: number };
/** Of the shape that begins at a place: its sum, its sum of squares, and its product with the values. */
type Basis = (tail: Tail) => readonly [sum: number, squares: number, product: number];
const stepBasis: Basis = (tail) => [tail.weight, tail.weight, tail.value];
const rampBasis: Basis = (tail) => [tail.time, tail.timeSquared, tail.timeValue];

/** Fit a level and one shape for every place that leaves 2 values on each side (a ramp's first value is still 0). */
function scan(series: Series, basis: Basis): Scan {
  const { t, y, w, total, mean } = series;
  const n = t.length;
  const logs = new Float64Array(n).fill(-Infinity);
  let best: Omit<Scan, 'logs'> = { index: 0, squares: Infinity, spread: 1, slope: 0 };
  const tail: Tail = { weight: 0, value: 0, time: 0, timeSquared: 0, timeValue: 0 };
  for (let k = n - 1; k >= 1; k--) {
    // Move the origin of the tail's times back to t[k], then take in value k, whose own time is 0.
    const gap = k === n - 1 ? 0 : (t[k + 1] as number) - (t[k] as number);
    tail.timeSquared += 2 * gap * tail.time + gap * gap * tail.weight;
    tail.time += gap * tail.weight;
    tail.timeValue += gap * tail.value;
    tail.weight += w[k] as number;
    tail.value += (w[k] as number) * ((y[k] as number) - mean);
    if (k > n - 2 || k < 2) continue;
    const [sum, squared, product] = basis(tail);
    const spread = squared - (sum * sum) / total;
    if (!(spread > 1e-12 * squared)) continue;
    const squares = Math.max(1e-12 * series.squares, series.squares - (product * product) / spread);
    // The size is integrated out, and measured at the last value: a ramp's slope times its length.
    const length = basis === rampBasis ? (t[n - 1] as number) - (t[k] as number) : 1;
    logs[k] = -((n - 3) / 2) * Math.log(squares) - 0.5 * Math.log(spread) + Math.log(length);
    if (squares < best.squares) best = { index: k, squares, spread, slope: product / spread };
  }
  return { ...best, logs };
}

/** Correlation of neighbours in what the best of the fits leaves, from 0 to 0.9. */
function neighbourCorrelation(series: Series, step: Scan, ramp: Scan, levels: ReturnType<typeof twoLevels>): number {
  const { t, y, w, mean } = series;
  const useStep = step.squares <= ramp.squares;
  const scan = useStep ? step : ramp;
  const origin = t[scan.index] as number;
  let at = 0;
  const rests = y.map((value, i) => {
    if (levels !== undefined) {
      if (i === levels.switches[at]) at++;
      return Math.sqrt(w[i] as number) * (value - (at % 2 === 0 ? levels.first : levels.other));
    }
    const shape = i < scan.index ? 0 : useStep ? 1 : (t[i] as number) - origin;
    return Math.sqrt(w[i] as number) * (value - mean - scan.slope * shape);
  });
  const centre = levels === undefined ? rests.reduce((a, b) => a + b, 0) / rests.length : 0;
  let [lagged, squares] = [0, 0];
  for (let i = 0; i < rests.length; i++) {
    squares += ((rests[i] as number) - centre) ** 2;
    if (i > 0) lagged += ((rests[i] as number) - centre) * ((rests[i - 1] as number) - centre);
  }
  const n = rests.length;
  // A fit takes about 3/n off the correlation of what it leaves.
  return squares > 0 ? Math.min(0.9, Math.max(0, lagged / squares + 3 / n)) : 0;
}

function describeScan(series: Series, scan: Scan, isStep: boolean, worth: number) {
  const { t, total, mean } = series;
  const n = t.length;
  const last = t[n - 1] as number;
  const length = isStep ? 1 : last - (t[scan.index] as number);
  const effect = scan.slope * length;
  const scatter = Math.sqrt(scan.squares / (n - 3));
  const sum = basisSum(series, scan.index, isStep);
  const [earliest, likely, latest] = placesOf(series, scan.logs, worth, isStep) as [number, number, number];
  return { onset: { earliest, likely, latest }, before: mean - (scan.slope * sum) / total, effect, effectSe: (scatter * length) / Math.sqrt(scan.spread * worth), slope: isStep ? null : scan.slope, switches: [], scatter };
}

function basisSum({ t, w }: Series, index: number, isStep: boolean): number {
  let sum = 0;
  for (let i = index; i < t.length; i++) sum += (w[i] as number) * (isStep ? 1 : (t[i] as number) - (t[index] as number));
  return sum;
}

/** 10, 50 and 90 % of the places, as times. A step lies between two values: half-way. */
function placesOf({ t }: Series, logs: Float64Array, worth: number, between: boolean): number[] {
  return quantilesOf(logs.map((log) => log * worth), [0.1, 0.5, 0.9]).map((k) => (between ? ((t[k - 1] ?? t[k]) as number) / 2 + (t[k] as number) / 2 : (t[k] as number)));
}

function describeLevels(series: Series, levels: NonNullable<ReturnType<typeof twoLevels>>, worth: number) {
  const { t, y, w } = series;
  const n = t.length;
  const until = levels.switches[1] as number;
  // Where it came first: a step among the values before it first went.
  const head = scan(seriesOf(t.slice(0, until), y.slice(0, until), w.slice(0, until)), stepBasis);
  const first = levels.switches[0] as number;
  const half = (k: number): number => ((t[k - 1] as number) + (t[k] as number)) / 2;
  const known = head.logs.some((log) => log > -Infinity);
  const [earliest, likely, latest] = (known ? placesOf(series, head.logs, worth, true) : [half(first), half(first), half(first)]) as [number, number, number];
  const scatter = Math.sqrt(levels.squares / Math.max(1, n - 2 - levels.switches.length));
  const on = y.reduce((sum, _, i) => sum + (levels.switches.filter((at) => at <= i).length % 2) * (w[i] as number), 0);
  return { onset: { earliest, likely, latest }, before: levels.first, effect: levels.other - levels.first, effectSe: (scatter * Math.sqrt(1 / on + 1 / (series.total - on))) / Math.sqrt(worth), slope: null, switches: levels.switches.map(half), scatter };
}

function nothing(series: Series, correlation: number, worth: number, support: StepOrRamp['support'] = { nothing: 0, step: -Infinity, ramp: -Infinity, 'comes-and-goes': -Infinity }): StepOrRamp {
  const n = series.t.length;
  const scatter = Math.sqrt(series.squares / (n - 1));
  return { shape: 'nothing', support, probability: probabilities(support), onset: null, before: series.mean, effect: 0, effectSe: worth > 0 ? scatter / Math.sqrt(series.total * worth) : 0, slope: null, switches: [], scatter, correlation, count: n };
}

function probabilities(support: StepOrRamp['support']): Record<ChangeShape, number> {
  const top = Math.max(...CHANGE_SHAPES.map((shape) => support[shape]));
  const total = CHANGE_SHAPES.reduce((sum, shape) => sum + Math.exp(support[shape] - top), 0);
  const share = (shape: ChangeShape): number => Math.exp(support[shape] - top) / total;
  return { nothing: share('nothing'), step: share('step'), ramp: share('ramp'), 'comes-and-goes': share('comes-and-goes') };
}
