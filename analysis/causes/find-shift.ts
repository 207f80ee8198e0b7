import { type CusumState, retuneCusum, startCusum, stepCusum } from '../change/cusum.ts';
import { limitForRunLength } from '../change/cusum-run-length.ts';
import { normalQuantile } from '../change/normal.ts';
import { median } from '../change/robust.ts';
import { mannKendall } from '../change/trend.ts';
import { type Baseline, LearnedValues } from './baseline.ts';
import type { SeriesPoint, Watched } from './day-series.ts';

/** A series that left its baseline and has not come back. `effect` is the present level minus the baseline's middle. */
export type Shift = {
  readonly direction: 'up' | 'down';
  /** Where the excursion began, and where it became sure. */
  readonly onsetIndex: number;
  readonly signalIndex: number;
  readonly effect: number;
  readonly effectSe: number;
};

/**
 * Smallest change worth a finding, in the series' own unit; demand's and delivery's come from the settings.
 * Common practice, no source: 25 kPa is well below the least drop at which elements are changed (35 kPa) and above what ordinary dust brings in a year, 0.35 % nitrogen what cells agree within.
 */
export const SMALLEST_CHANGE: Readonly<Record<Watched, number>> = { demand: 0.08, delivery: 0.08, duty: 0.12, elementDrop: 25, nitrogen: 0.35, discharge: 15, feed: 15, feedRest: 6, feedFall: 0.12, compressorRun: 0.08, system: 10 };

/** Each watched series has an own share of the price: eight directions that matter, by days and by quarters. */
const STREAMS = 16;

/**
 * How values of a cadence are summed. Healthy demand wanders for days and weeks, so neighbours hang together, and a limit for
 * independent values would be crossed by every wander: slack is well above a scatter. One wild value counts for at most
 * `clipSd`, so that it can't open a finding alone; of quarters three are needed.
 */
export type Cadence = { readonly stepsPerYear: number; readonly leastSlackSd: number; readonly leastLimitSd: number; readonly clipSd: number; /** The mean of three values must be off by so many of its own standard deviations. */ readonly leastSd: number; /** It must have lasted for so many values. */ readonly leastValues: number };
export const BY_DAY: Cadence = { stepsPerYear: 365, leastSlackSd: 1.75, leastLimitSd: 5, clipSd: 6, leastSd: 4.2, leastValues: 2 };
export const BY_QUARTER: Cadence = { stepsPerYear: 1460, leastSlackSd: 2, leastLimitSd: 7.5, clipSd: 6, leastSd: 4.8, leastValues: 3 };

/** `watchFromMs`: values that begin before it are not told as a shift. `floor`: least scatter of the series. `learnDays`: the baseline goes on learning until it has so many values. */
export type ShiftRule = { readonly watchFromMs: number; readonly floor: number; readonly learnDays: number; /** Values between the baseline's first ones and `watchFromMs` are learned too, as far as they didn't stand off. */ readonly learnBefore: boolean; readonly cadence: Cadence; readonly smallest: number; readonly falseFindingsPerYear: number; /** It wanders for days, so that its baseline is worth few values: what rises must be surer (`fewValues`). */ readonly wanders: boolean; /** It hardly wanders, so that a baseline that moves this way by half the smallest change while it is learned, and surely, learns a fault. */ readonly creeps: 1 | -1 | 0 };

/** What noon and night draw differs, and cancels over the day: where a series wanders the stated error of a value is in the baseline's scatter already, up to so many times the usual one. Of delivery it isn't: three false in 50 years of tuning generators. */
const OWN_ERROR = 2;

/** It is worked out anew at every so many days learned. */
const LEARN_STEP = 5;

/** The shift, if there is one now, and the baseline as it was learned up to it. */
export type ShiftResult = { readonly shift: Shift | undefined; readonly baseline: Baseline };

/**
 * Watch a series against its baseline with a two-sided tabular CUSUM (Page 1954) tuned to the smallest change that matters.
 *
 * Slack is half that change, and more than a scatter, so wobbles below it never add up. The limit comes from the
 * average run length that the price allows: with `falseFindingsPerYear` 0.05 over 16 streams, one false signal of a stream
 * in about 320 years of independent normal values with known middle and scatter. Neither is known, so the baseline goes on
 * learning: values are taken into it once both sums are back at 0. The price paid is measured: see
 * analysis/README.md. At least two values are needed. A shift
 * must be as large as the smallest change, and surely more than a wander, to begin, and ends when three values in a row are within half of it or within a scatter. What is smaller than
 * the slack is told by two or four weeks (`slowShift`), and is over when the mean of two is back.
 */
export function findShift(points: readonly SeriesPoint[], first: Baseline, rule: ShiftRule): ShiftResult {
  const learner = startLearner(points, first, rule);
  let baseline = first;
  let sums = startSums(baseline, rule);
  let shift: { direction: 'up' | 'down'; onsetIndex: number; signalIndex: number; slow?: true } | undefined;
  let back = 0;
  const sumBefore = new Float64Array(points.length + 1);
  let endedIndex = 0;
  // Where more may change by right, what stood off before isn't told well enough from what is usual.
  const learnFromMs = Math.min(rule.watchFromMs, rule.learnBefore ? first.toMs : Infinity);
  let watched = false;
  let stood: typeof shift;
  for (let index = 0; index < points.length; index += 1) {
    const point = points[index]!;
    sumBefore[index + 1] = sumBefore[index]! + point.value;
    if (point.startMs < learnFromMs) continue;
    // What was learned up to a visit stays learned; whether it stands off is asked anew.
    if (!watched && point.startMs >= rule.watchFromMs) {
      watched = true;
      stood = shift;
      shift = undefined;
      back = 0;
      endedIndex = index;
      sums = startSums(baseline, rule);
    }
    const away = point.value - baseline.centre;
    if (shift !== undefined) {
      const level = shift.slow === true ? meanAway(points, baseline, index, SLOW_BACK) : away;
      back = (shift.direction === 'up' ? level : -level) < Math.max(rule.smallest / 2, shift.slow === true ? 0 : baseline.scatter) ? back + 1 : 0;
      if (back < 3) continue;
      shift = undefined;
      back = 0;
      // The last three are back; what came before them is another shift's.
      endedIndex = index - 2;
      sums = startSums(baseline, rule);
    }
    // Not Math.hypot, which takes ten times as long.
    const z = away / Math.sqrt(baseline.scatter ** 2 + Math.max(0, point.se ** 2 - (rule.wanders && rule.cadence === BY_DAY ? OWN_ERROR * baseline.usualSe : 0) ** 2));
    sums = stepCusum(sums, Math.max(-rule.cadence.clipSd, Math.min(rule.cadence.clipSd, z)));
    if (sums.signal !== null) {
      const onsetIndex = index + 1 - (sums.signal === 'up' ? sums.upSteps : sums.downSteps);
      // Sure that it changed isn't enough: the change must matter.
      if (index + 1 - onsetIndex < rule.cadence.leastValues || !isSure(points, baseline, { onsetIndex, index, rises: sums.signal === 'up' }, rule)) continue;
      // What stood off when it was asked anew, and goes on, began when it did.
      shift = { direction: sums.signal, onsetIndex: stood?.direction === sums.signal && onsetIndex <= endedIndex + 1 ? stood.onsetIndex : onsetIndex, signalIndex: index };
      learner.drop();
    } else {
      let slow: ReturnType<typeof slowShift>;
      for (const span of SLOW_SPANS) if (index + 1 - span >= endedIndex) slow ??= slowShift(points, baseline, { index, span, mean: (sumBefore[index + 1]! - sumBefore[index + 1 - span]!) / span - baseline.centre }, rule);
      if (slow !== undefined) {
        shift = { ...slow, signalIndex: index, slow: true };
        learner.drop();
      } else if (learner.see(point)) {
        baseline = learner.baseline();
        if (isCreeping(first, learner, rule)) return findShift(points, first, { ...rule, learnDays: Math.floor(baseline.count / 2), creeps: 0 });
        sums = retuneCusum(sums, thresholds(baseline, rule));
      }
    }
  }
  if (!watched) shift = undefined;
  return { shift: shift && { direction: shift.direction, onsetIndex: shift.onsetIndex, signalIndex: shift.signalIndex, ...(shift.slow === true ? slowLevel(points, baseline) : presentLevel(points, baseline, shift.onsetIndex)) }, baseline };
}

/** Values learned last that are held against the first ones, and how surely they must stand off, in standard deviations. Common practice, no source. */
const CREEPS_VALUES = 10;
const CREEPS_SD = 3;

/** Weeks of them, and by how many standard deviations their order must speak for a trend (Mann 1945). Common practice, no source. */
const WEEK = 7;
const LEAST_WEEKS = 6;
const TREND_SD = 2.5;

/** What grows slowly while a baseline learns would be learned for usual: its newest values stand off the first ones, or week after week stands lower than the one before. */
function isCreeping(first: Baseline, learner: Learner, { creeps, smallest }: ShiftRule): boolean {
  if (creeps === 0) return false;
  const newest = learner.newest(CREEPS_VALUES);
  if (newest.length < CREEPS_VALUES) return false;
  const off = creeps * (median(newest)! - first.centre);
  if (off <= smallest / 2) return false;
  if (off > CREEPS_SD * Math.hypot(sdOfMean(first.scatter, first.correlation, CREEPS_VALUES), sdOfCentre(first, first.correlation))) return true;
  const all = learner.newest(Infinity);
  const weeks = Array.from({ length: Math.floor(all.length / WEEK) }, (_, index) => median(all.slice(index * WEEK, (index + 1) * WEEK))!);
  return weeks.length >= LEAST_WEEKS && creeps * (mannKendall(weeks)?.z ?? 0) > TREND_SD;
}

/** Longer spans of values whose mean is held against its own error: a change that is too small to be sure of in three days is so in a month. */
const SPANS = [7, 14, 28] as const;
/** Fewer values know too little of how a series wanders for weeks. */
const LEAST_LEARNED = 28;

/** Whether the last values since the onset, over one of the spans, are off by what matters and by more than their mean may wander. */
function isSure(points: readonly SeriesPoint[], baseline: Baseline, { onsetIndex, index, rises }: { readonly onsetIndex: number; readonly index: number; readonly rises: boolean }, rule: ShiftRule): boolean {
  const recent = leastOfLast(points, baseline, onsetIndex, index);
  if (recent < rule.smallest) return false;
  const limitSd = rule.cadence.leastSd * strictness(rule);
  if (recent >= limitSd * (rule.wanders && rises ? fewValues(baseline) : 1) * Math.hypot(sdOfThree(baseline), sdOfCentre(baseline, baseline.correlation))) return true;
  if (rule.cadence !== BY_DAY || baseline.count < LEAST_LEARNED) return false;
  const r = unbiased(baseline);
  return SPANS.some((span) => {
    if (index + 1 - onsetIndex < span) return false;
    const away = points.slice(index + 1 - span, index + 1).map((point) => point.value - baseline.centre);
    const least = Math.min(Math.abs(away.reduce((sum, one) => sum + one, 0) / span), Math.abs(median(away)!));
    return least >= Math.max(rule.smallest, limitSd * Math.hypot(sdOfMean(baseline.scatter, r, span), sdOfCentre(baseline, r)));
  });
}

/** Days of a change within the scatter of a day, and of its end; and how much neighbours may hang together where such a change can't be wander. */
const SLOW_SPANS = [14, 28] as const;
const SLOW_BACK = 14;
const MOST_TOGETHER = 0.3;

/**
 * A change within the slack, 1.75 scatters of a day, never adds up, however long it lasts: starts that are counted in whole
 * numbers scatter by a fifth. Where neighbours hardly hang together, two or four weeks' mean and middle say it by their own error.
 */
function slowShift(points: readonly SeriesPoint[], baseline: Baseline, { index, span, mean }: { readonly index: number; readonly span: number; /** Of the last span, as difference from the baseline. */ readonly mean: number }, rule: ShiftRule): { readonly direction: 'up' | 'down'; readonly onsetIndex: number } | undefined {
  const from = index + 1 - span;
  if (Math.abs(mean) < rule.smallest || rule.cadence !== BY_DAY || baseline.count < LEAST_LEARNED || from < 0 || points[from]!.startMs < Math.max(rule.watchFromMs, baseline.toMs) || baseline.scatter * rule.cadence.leastSlackSd < rule.smallest) return undefined;
  const r = unbiased(baseline);
  if (r > MOST_TOGETHER) return undefined;
  const rises = mean > 0;
  const least = Math.max(rule.smallest, rule.cadence.leastSd * strictness(rule) * (rule.wanders && rises ? fewValues(baseline) : 1) * Math.hypot(sdOfMean(baseline.spread, r, span), sdOfCentre({ scatter: baseline.spread, count: baseline.count }, r)));
  if (Math.abs(mean) < least) return undefined;
  const middle = median(points.slice(from, index + 1).map((point) => point.value - baseline.centre))!;
  return Math.sign(middle) === Math.sign(mean) && Math.abs(middle) >= least ? { direction: rises ? 'up' : 'down', onsetIndex: from } : undefined;
}

/** How far the last two weeks are off: three days of such a series say nothing. */
function slowLevel(points: readonly SeriesPoint[], baseline: Baseline): { readonly effect: number; readonly effectSe: number } {
  const r = unbiased(baseline);
  return { effect: meanAway(points, baseline, points.length - 1, SLOW_BACK), effectSe: Math.hypot(sdOfMean(baseline.spread, r, SLOW_BACK), sdOfCentre({ scatter: baseline.spread, count: baseline.count }, r)) };
}

/** Mean of the last so many values up to one, as difference from the baseline. */
function meanAway(points: readonly SeriesPoint[], { centre }: Baseline, index: number, span: number): number {
  const from = Math.max(0, index + 1 - span);
  let sum = 0;
  for (let at = from; at <= index; at += 1) sum += points[at]!.value - centre;
  return sum / (index + 1 - from);
}

/** How far the last three values since the onset are off: the smaller of their mean and their middle one, so that two wild ones don't make a shift. */
function leastOfLast(points: readonly SeriesPoint[], baseline: Baseline, onsetIndex: number, index: number): number {
  const from = Math.max(onsetIndex, index - 2);
  const [one, two, three] = [points[from]!.value, points[Math.min(from + 1, index)]!.value, points[index]!.value];
  const middle = index - from === 1 ? (one + three) / 2 : Math.max(Math.min(one, two), Math.min(Math.max(one, two), three));
  return Math.min(Math.abs(presentLevel(points, baseline, onsetIndex, index + 1).effect), Math.abs(middle - baseline.centre));
}

/** A correlation of few values comes out too small by about (1 + 3r)/n (Kendall 1954, Biometrika 41, 403; from memory). */
function unbiased({ correlation: r, count }: Baseline): number {
  return Math.min(0.95, r + (1 + 3 * r) / count);
}

/** How much a limit of few independent values stands above one of many. */
const FEW = 1;

/**
 * A scatter of few values may be too small by chance, so a limit in scatters must be wider, as Student's t is than the normal
 * law. Sixty days of demand that hang together by 0.6 are worth about a dozen. At a chance of 1 in 80,000 t of 12 degrees stands
 * 1.6 times as far out as the normal law; the scatter being the widest of three, 1.1 is what pays: on nine tuning campaigns (450
 * years) six of 17 false rises went, and three of 103 true ones that hardly showed; 1.3 takes one more of each and days longer.
 */
function fewValues(baseline: Baseline): number {
  const r = unbiased(baseline);
  return 1 + FEW / Math.max(2, (baseline.count * (1 - r)) / (1 + r) - 1);
}

/** Standard deviation of the mean of so many neighbours of a first-order autoregression. */
function sdOfMean(scatter: number, r: number, count: number): number {
  let sum = count;
  for (let lag = 1; lag < count; lag += 1) sum += 2 * (count - lag) * r ** lag;
  return (scatter * Math.sqrt(sum)) / count;
}

/** Standard deviation of the mean of three neighbours, which hang together by the baseline's correlation. */
function sdOfThree({ scatter, correlation }: Baseline): number {
  return sdOfMean(scatter, correlation, 3);
}

/** The price at which the cadences' least figures were chosen. */
const USUAL_PRICE = 0.05;

/** How much stricter than at the usual price, in normal quantiles of a false value among all that are looked at in a year. */
function strictness({ cadence, falseFindingsPerYear }: ShiftRule): number {
  const quantile = (price: number): number => normalQuantile(1 - Math.min(0.4, price / (STREAMS * cadence.stepsPerYear)));
  return quantile(falseFindingsPerYear) / quantile(USUAL_PRICE);
}

/** Standard deviation of the baseline's own middle. */
function sdOfCentre({ scatter, count }: Pick<Baseline, 'scatter' | 'count'>, r: number): number {
  return scatter * Math.sqrt((1 + r) / (1 - r) / count);
}

function startSums(baseline: Baseline, rule: ShiftRule): CusumState {
  return startCusum(thresholds(baseline, rule));
}

function thresholds(baseline: Baseline, rule: ShiftRule): { readonly slackSd: number; readonly limitSd: number } {
  const { cadence, smallest, falseFindingsPerYear } = rule;
  const slackSd = Math.max(cadence.leastSlackSd, smallest / 2 / baseline.scatter);
  const limitSd = Math.max(limitFor(slackSd, (cadence.stepsPerYear * STREAMS) / falseFindingsPerYear), cadence.leastLimitSd * strictness(rule), cadence.clipSd - slackSd + 0.5);
  return { slackSd, limitSd };
}

type Learner = { see(point: SeriesPoint): boolean; drop(): void; baseline(): Baseline; newest(count: number): readonly number[] };

/** The newest values may be a fault's already that isn't sure yet: so many wait before they are learned. */
const LEARN_LAG = 7;

/**
 * Every value is learned once it is old enough, whether it fits or not: demand wanders for days, and a baseline that only
 * took what is near its middle would stay where 14 days happened to begin.
 */
function startLearner(points: readonly SeriesPoint[], first: Baseline, { floor, learnDays }: ShiftRule): Learner {
  const learned = new LearnedValues(points.filter((point) => point.startMs >= first.fromMs && point.endMs <= first.toMs));
  let waiting: SeriesPoint[] = [];
  let since = 0;
  return {
    see(point) {
      if (learned.count >= learnDays || learned.count === 0) return false;
      waiting.push(point);
      if (waiting.length <= LEARN_LAG) return false;
      learned.add(waiting.shift()!);
      since += 1;
      if (since < LEARN_STEP) return false;
      since = 0;
      return true;
    },
    drop() {
      waiting = [];
    },
    baseline: () => learned.baseline(floor),
    newest: (count) => learned.newest(count),
  };
}

/** Mean of the last three values since `fromIndex` and before `endIndex`, as difference from the baseline, with its standard error; neighbours hang together. */
export function presentLevel(points: readonly SeriesPoint[], baseline: Baseline, fromIndex: number, endIndex = points.length): { readonly effect: number; readonly effectSe: number } {
  const recent = points.slice(Math.max(fromIndex, endIndex - 3), endIndex);
  let weights = 0;
  let sum = 0;
  let errors = 0;
  for (const point of recent) {
    const weight = 1 / (baseline.scatter ** 2 + point.se ** 2);
    weights += weight;
    sum += weight * (point.value - baseline.centre);
    errors += point.se ** 2;
  }
  const recentSd = recent.length >= 3 ? sdOfThree(baseline) : baseline.scatter;
  return { effect: sum / weights, effectSe: Math.hypot(recentSd, sdOfCentre(baseline, baseline.correlation), Math.sqrt(errors) / recent.length) };
}

/** Mean of all values since `fromIndex`, as difference from the baseline, with its standard error; of at least one value. */
export function meanLevel(points: readonly SeriesPoint[], baseline: Baseline, fromIndex: number): { readonly effect: number; readonly effectSe: number } {
  const since = points.slice(fromIndex);
  const r = unbiased(baseline);
  return { effect: since.reduce((sum, point) => sum + point.value, 0) / since.length - baseline.centre, effectSe: Math.hypot(sdOfMean(baseline.scatter, r, since.length), sdOfCentre(baseline, r)) };
}

const limits = new Map<string, number>();

/** Limits are asked for with few different slacks; each takes milliseconds to compute, so slack is rounded up to 0.1 and remembered. */
function limitFor(slack: number, runLength: number): number {
  const slackSd = Math.min(4, Math.ceil(slack * 10) / 10);
  const key = `${slackSd}/${runLength}`;
  let limit = limits.get(key);
  if (limit === undefined) {
    limit = limitForRunLength({ slackSd, runLength, sides: 1 });
    limits.set(key, limit);
  }
  return limit;
}
