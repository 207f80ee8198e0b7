import { interquartileRange, quantile } from 'simple-statistics';
import type { CycleSource } from '../../shared/cycle.ts';
import { alternationOf } from './alternation.ts';
import { type Rate, rateOfSums, sum } from './blocks.ts';
import { edgeS } from './late-start.ts';
import { BAND_SHARE, bandOf, filledBand, fillingKPa, fillsOwnTank, fillsUnknown, OUTER, reportsRarely } from './normal.ts';
import type { PeriodSums, RunSums } from './period-sums.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { medianOf } from './thinned.ts';

/** The saw-tooth alone knows the length of a run to about this share of the time between samples, and errs alike in all runs. */
const SAW_EDGE_SHARE = 0.15;
/** What counts as demand that comes and goes: its error, as share of what is made. Common practice, no source. */
const UNEVEN_SHARE = 0.03;

/** What delivery is worked out from: a period's sums by the source of its runs, and what was drawn in its rests, kPa at 20 °C per second; `short`: share of error that rests which never settle add. */
export type DeliveryKnown = { readonly sums: PeriodSums; readonly source: CycleSource | null; readonly demand: NonNullable<Rate>; readonly short: number };

/** What was made while running, kPa at 20 °C per second, by whichever of three ways is the surest: the balance of whole cycles, counted fillings of the band, or all that was drawn over the counted run time. */
export function deliveryOf({ sums, source, demand, short }: DeliveryKnown, state: DescriptorState, setup: DescriptorSetup): Rate {
  const run = source === null ? null : (sums.by[source] ?? null);
  const balance = run !== null && isOneRun(run) ? null : balanced(sums, demand, short, state.tank.stepKPa, source === 'running' ? edgeS(state, setup) : 0);
  if (source === 'tank-pressure') return balance && sawEdges(balance, sums, state);
  if (run === null) return balance;
  const filled = filledDelivery(sums, run, demand, state, setup);
  if (source === 'running') {
    // Between rare samples a rest's fall is poorly known, and with it what its run made; how long runs were is told.
    if (fillsUnknown(state, setup)) return null;
    if (filled === null || !reportsRarely(state, setup)) return balance;
    // What the tank was seen to be filled with was made, whatever of its fall a few samples miss.
    const fillsSet = state.fillsSet === true;
    if (isApart(balance, filled)) return filled.value < balance!.value ? balance : fillsSet || bandIsWhole(sums, state, setup) ? unseen(filled) : null;
    // One or two rests say too little of bursts that no report falls into.
    if (fillsSet && filled.fills < MANY_FILLS) return filled;
    // Where demand comes and goes within the day, a run's own rest knows it better.
    return demand.se > UNEVEN_SHARE * filled.value ? surer(balance, filled, false) : filled;
  }
  // Samples that come fast tell the runs, and what each of them made; slower ones at least how many there were.
  const bySaw = source === 'duty' && balance !== null && sawEdgeShare(sums, state) < SAW_EDGE_SURE ? { ...sawEdges(balance, sums, state), fills: sums.by['tank-pressure']!.cycles } : filled;
  const counted = countedDelivery(sums, run, demand, state, setup);
  // Behind an air receiver the compressor's run isn't the time in which nitrogen is made: by the tank's own runs where its samples tell them well, else by all that was drawn over the compressor's run.
  return setup.registered.generator.layout === 'air-receiver' ? (bySaw ?? counted) : surer(counted, bySaw, fillsWhole(sums, state, setup));
}

const ONE_RUN_S = 6 * 3600;

/** Mostly one run: it vents, or the tank stands still, and the balance of its ends says nothing of what was made. */
function isOneRun(run: RunSums): boolean {
  return run.longestRunS > ONE_RUN_S && run.runS > 0.5 * (run.runS + run.restS);
}

/** Where the tank's samples tell a run's length to this, they are surer than a duty ratio with its span's edges. */
const SAW_EDGE_SURE = 0.04;

function sawEdgeShare(sums: PeriodSums, state: DescriptorState): number {
  const run = sums.by['tank-pressure'];
  return run === undefined || run.cycles === 0 ? Infinity : (SAW_EDGE_SHARE * state.saw.usualS * run.cycles) / run.cycleRunS;
}

/** A delivery whose runs the tank's samples alone tell, with the error of their edges. */
function sawEdges(delivery: NonNullable<Rate>, sums: PeriodSums, state: DescriptorState): NonNullable<Rate> {
  const share = sawEdgeShare(sums, state);
  return { value: delivery.value, se: Number.isFinite(share) ? Math.hypot(delivery.se, share * delivery.value) : delivery.se };
}

const LEAST_FILLS = 0.5;

/** A count of few fillings and the day's balance differ by a filling or so; by more, turns of the tank weren't seen. */
const APART_FEW = Math.log(3);
const APART = Math.log(1.5);
const MANY_FILLS = 3;

function isApart(balance: Rate, filled: NonNullable<Filled>): boolean {
  return balance !== null && Math.abs(Math.log(filled.value / balance.value)) > (filled.fills < MANY_FILLS ? APART_FEW : APART);
}

/** Edges that say what a period's own band was, and the share of the usual band that it must be. */
const LEAST_EDGES = 3;
const WHOLE_BAND = 0.8;
/** Share by which fillings may then say too little. Common practice, no source. */
const UNSEEN_SHARE = 0.3;

/** Counted starts of which the tank shows fewer are bounces of a contactor, or fillings that aren't whole. Common practice, no source. */
const SEEN_STARTS = 0.7;

/** Whether the tank was seen to be filled from start to stop, as often as was counted: then its fillings made no less, however little of what is drawn its samples show. */
function fillsWhole({ cutIn, cutOut, by }: PeriodSums, state: DescriptorState, setup: DescriptorSetup): boolean {
  return (by['tank-pressure']?.starts ?? 0) >= SEEN_STARTS * (by.counters?.starts ?? 0) && bandIsWhole({ cutIn, cutOut }, state, setup);
}

/** Whether the edges of a period's runs show most of the usual band: the outer fifths of them, as rare reports miss the ends of most. */
function bandIsWhole({ cutIn, cutOut }: Pick<PeriodSums, 'cutIn' | 'cutOut'>, state: DescriptorState, setup: DescriptorSetup): boolean {
  const band = bandOf(state, setup);
  return band !== null && Math.min(cutIn.values.length, cutOut.values.length) >= LEAST_EDGES && quantile(cutOut.values, 1 - OUTER) - quantile(cutIn.values, OUTER) > WHOLE_BAND * (band.highKPa - band.lowKPa);
}

/** The surer of the balance of a day and of counted fillings; null where the fillings say so much more that one of both must be wrong, and nothing says which. */
function surer(balance: Rate, filled: Filled, isWhole: boolean): Rate {
  if (balance === null || filled === null) return balance ?? filled;
  const saysMore = filled.value > balance.value && isApart(balance, filled);
  if (saysMore && !isWhole) return null;
  // What bursts take that no rest shows, they go on taking in runs.
  if (saysMore) return unseen(filled);
  return isApart(balance, filled) ? balance : joined(balance, filled);
}

/** What each way errs by alike on all days, as share. Common practice, no source. */
const OWN_SHARE = 0.03;

/** Two ways to the same, each weighted by its variance: the one that is surer today may be the other tomorrow, and what they differ by would look like a change. */
function joined(one: NonNullable<Rate>, other: NonNullable<Rate>): NonNullable<Rate> {
  const [weight, others] = [one, other].map(({ value, se }) => 1 / ((se / value) ** 2 + OWN_SHARE ** 2)) as [number, number];
  const share = weight / (weight + others);
  return { value: Math.exp(share * Math.log(one.value) + (1 - share) * Math.log(other.value)), se: Math.hypot(share * one.se, (1 - share) * other.se) };
}

/** Fillings where what is drawn is seen too little. */
function unseen(filled: NonNullable<Filled>): NonNullable<Rate> {
  return { value: filled.value, se: Math.hypot(filled.se, UNSEEN_SHARE * filled.value) };
}

type Filled = (NonNullable<Rate> & { readonly fills: number }) | null;

/**
 * Where starts are counted, by the controller or on the tank, and the band is known: each run fills the tank from start to stop and
 * makes what is drawn meanwhile. However few the runs of a day are, one more or less changes nothing; only one that the edges of
 * what was counted cut does. `null` where a start isn't a filling of this tank, or none was counted.
 */
function filledDelivery(sums: PeriodSums, run: RunSums, demand: NonNullable<Rate>, state: DescriptorState, setup: DescriptorSetup): Filled {
  const band = filledBand(state, setup);
  const alternates = alternationOf(state);
  const byMeter = sums.by.counters === run;
  const whole = sums.by.running === run;
  const fills = (whole ? run.cycles : byMeter ? run.fills : sums.by['tank-pressure']?.starts) ?? 0;
  const { holdRunS, holdRestS } = run;
  // Read by the clock a run seems one report long or two: the middle one says nothing of all.
  const lateS = whole ? edgeS(state, setup) : 0;
  const runS = !whole ? holdRunS : lateS > 0 ? run.cycleRunS : run.cycles * usualRunS(sums, alternates);
  // Behind an air receiver the compressor fills another vessel.
  const ownFilling = setup.registered.generator.layout === 'direct' || (whole && fillsOwnTank(state, setup));
  if (band === null || !ownFilling || fills < LEAST_FILLS || runS < LEAST_RUN_S) return null;
  const perRun = (fills * fillingKPa(state, band)) / runS;
  // Counted on the tank, starts aren't shared out over the edge of a period as the duty ratio of the span across it is.
  const cut = whole ? 0 : holdRunS / (holdRunS + holdRestS) + (byMeter ? 0 : fills / Math.max(1, sums.heard.duty ?? 0));
  // An odd number of runs has one more of one compressor than of the other.
  const turn = alternates === null ? 0 : (alternates - 1) / (alternates + 1) / fills;
  // Where runs are unlike each other, as where they are cut short, the middle one doesn't stand for all by so much.
  const unlike = whole && run.cycleRunS > 0 ? Math.max(0, Math.abs(Math.log(runS / run.cycleRunS)) - LOST_SHARE) : 0;
  const twoSorts = lateS > 0 ? lateS * Math.sqrt(fills / 6) / runS : whole && alternates === null ? errorOfMiddle(sums, state) : 0;
  return { value: perRun + demand.value, se: Math.hypot(perRun * Math.hypot(Math.sqrt((2 / 3) * Math.min(1, cut)) / fills, BAND_SHARE / Math.sqrt(fills), turn, unlike, twoSorts), demand.se), fills };
}

/** Share of the whole cycles' running that lost messages make more of by right. Common practice, no source. */
const LOST_SHARE = 0.08;

/** The message of one stop that got lost makes one run of two, so the middle run stands for all; of two compressors that take turns, the middle runs of each do. */
function usualRunS({ runLengths }: PeriodSums, alternates: number | null): number {
  const values = runLengths?.values ?? [];
  const middle = medianOf(values) ?? 0;
  if (alternates === null || values.length < 2) return middle;
  const between = (Math.min(...values) + Math.max(...values)) / 2;
  const ofGroup = (group: readonly number[]): number => medianOf(group) ?? middle;
  return (ofGroup(values.filter((value) => value <= between)) + ofGroup(values.filter((value) => value > between))) / 2;
}

/** From the lower to the upper quarter of a normal distribution, in its sd, and the error of a middle against that of a mean. */
const NORMAL_QUARTERS = 1.349;
const MIDDLE_TIMES = 1.253;

/** With fewer runs than this a day doesn't show how unlike they are; the last ones do. */
const LEAST_RUNS = 4;

/** Share of error of the middle run: where runs that a burst begins are shorter or longer than others, it is now one of these and now of those. One wild run counts for nothing. */
function errorOfMiddle({ runLengths }: PeriodSums, { recentRunS }: DescriptorState): number {
  const own = runLengths?.values ?? [];
  const logs = (own.length < LEAST_RUNS ? recentRunS : own).map((value) => Math.log(value));
  if (logs.length < 2) return 0;
  return (MIDDLE_TIMES * interquartileRange(logs)) / (NORMAL_QUARTERS * Math.sqrt(Math.max(1, own.length)));
}

/** The content is known for so much of the time that is spoken for; and a gauge and the warmth of the gas err by so much at each end, kPa. Common practice, no source. */
const RISE_KNOWN_SHARE = 0.97;
const END_KPA = 2;

/**
 * Where the run time is counted: all that was drawn over the period, and what the tank's content rose by, was made in its runs.
 * Seen rests drew what they lost, the rest of the time the demand of the period. Where the content at the ends isn't known it may differ by a band.
 */
function countedDelivery(sums: PeriodSums, run: RunSums, demand: NonNullable<Rate>, state: DescriptorState, setup: DescriptorSetup): Rate {
  if (run.holdRunS < LEAST_RUN_S || demand.value === 0) return null;
  const heldS = run.holdRunS + run.holdRestS;
  if (run.riseKPa !== undefined && run.riseS! >= RISE_KNOWN_SHARE * heldS) {
    const restS = sum(sums.falls.restS);
    const drawnKPa = (heldS * (sum(sums.falls.fall) + demand.value * Math.max(0, heldS - restS))) / Math.max(heldS, restS);
    const madeKPa = drawnKPa + run.riseKPa;
    return madeKPa <= 0 ? null : { value: madeKPa / run.holdRunS, se: Math.hypot(demand.se * heldS, Math.SQRT2 * END_KPA, 0.01 * madeKPa) / run.holdRunS };
  }
  const value = (demand.value * heldS) / run.holdRunS;
  const band = bandOf(state, setup);
  const bands = band === null ? Math.max(1, run.starts, sums.by['tank-pressure']?.starts ?? 0) : (demand.value * heldS) / (band.highKPa - band.lowKPa);
  return { value, se: value * Math.hypot(demand.se / demand.value, 0.4 / bands, 0.01) };
}

/** A refill shows in the balance as the cycle that it begins in and the one that it ends. */
const REFILL_BLOCKS = 2;
/** A share of a run says little: with less running than this there is no delivery to speak of. */
const LEAST_RUN_S = 120;

function balanced(sums: PeriodSums, demand: NonNullable<Rate>, short: number, stepKPa: number, lateS: number): Rate {
  const { made, openS, runS } = sums.balance;
  const rate = rateOfSums(made.map((one, index) => one + demand.value * openS[index]!), runS, stepKPa, REFILL_BLOCKS, lateS);
  if (rate === null || sum(runS) < LEAST_RUN_S) return null;
  return { value: rate.value, se: Math.hypot(rate.se, short * rate.value, (demand.se * sum(openS)) / sum(runS)) };
}
