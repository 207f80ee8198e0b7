import type { CycleSource, DayRow, Estimate } from '../../shared/cycle.ts';
import { type Rate, rateOfSums, sum } from './blocks.ts';
import { bandOf, reportEveryS, SHORT_REST_TOP_S } from './normal.ts';
import { bestSource } from './periods.ts';
import type { Mean, PeriodSums, RunSums } from './period-sums.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { medianOf, robustScatter, type Thinned } from './thinned.ts';
import { litresNPerKPa } from './tank-content.ts';

/** Rests shorter than this never settle: demand and delivery carry this share more error (design, section 6). */
const SHORT_REST_S = 600;
const SHORT_REST_SHARE = 0.1;
/** Bowls fill before the check valve opens, 0.2 to 2 min: from times alone this much of a run delivers nothing. */
const DEAD_TIME_S = 30;
const DEAD_TIME_MOST_SHARE = 0.1;
/** The saw-tooth alone knows the length of a run to about this share of the time between samples, and errs alike in all runs. */
const SAW_EDGE_SHARE = 0.15;
/** A mean of readings that follow each other closely is worth no more than this many free ones a day. */
const FREE_PER_DAY = 24;

/** The row of a period from its sums. */
export function rowOf(sums: PeriodSums, name: string, provisional: boolean, state: DescriptorState, setup: DescriptorSetup): DayRow {
  const source = bestSource(sums);
  const run = source === null ? null : (sums.by[source] ?? null);
  const coveredS = run === null ? 0 : run.runS + run.restS;
  const heldS = run === null ? 0 : run.holdRunS + run.holdRestS;
  const { unit, demand, delivery } = demandAndDelivery(sums, source, state, setup);
  const coarse = isCoarse(sums, source, state, setup);
  return {
    generator: setup.registered.key,
    day: name,
    startMs: sums.startMs,
    endMs: sums.endMs,
    provisional,
    source,
    coveredS,
    runS: run?.runS ?? 0,
    restS: run?.restS ?? 0,
    starts: run?.starts ?? 0,
    dutyRatio: run === null || heldS === 0 ? null : run.holdRunS / heldS,
    unit,
    demand,
    delivery,
    longestRunS: run?.longestRunS ?? 0,
    longestRestS: run?.longestRestS ?? 0,
    cutInKPa: coarse ? (sums.tankSpan?.[0] ?? null) : medianOf(sums.cutIn.values),
    cutOutKPa: coarse ? (sums.tankSpan?.[1] ?? null) : medianOf(sums.cutOut.values),
    nitrogen: middle(sums.nitrogen, 2e-4),
    dischargeKPa: middle(sums.discharge, 0.05),
    feedKPa: middle(sums.feed, 0.05),
    elementDropKPa: middle(sums.drop, 0.05),
    systemKPa: meanOf(sums.system),
    roomC: sums.room.n === 0 ? null : sums.room.sum / sums.room.n,
    pipeC: sums.pipe.n === 0 ? null : sums.pipe.sum / sums.pipe.n,
    humidityPercent: sums.humidity.n === 0 ? null : sums.humidity.sum / sums.humidity.n,
    holdingRatio: coveredS === 0 ? 1 : Math.max(0, Math.min(1, heldS / coveredS)),
    heard: { ...sums.heard },
  };
}

type DemandAndDelivery = { readonly unit: DayRow['unit']; readonly demand: Estimate; readonly delivery: Estimate };

/** From the tank's pressure where it is sent, else from times alone. */
function demandAndDelivery(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): DemandAndDelivery {
  const litres = setup.registered.generator.tankLitres;
  const unit = litres === undefined ? 'kPa/min' : 'NL/min';
  const byCounts = fromCounts(sums, source, state, setup);
  if (byCounts !== null) return { unit, ...byCounts };
  const byPressure = fromPressure(sums, source, state, setup);
  if (byPressure === null) return runsOn(sums, source) ? { unit, demand: null, delivery: null } : { unit: 'relative', ...fromTimes(sums, source, state) };
  const believed = tankFollows(sums, source, state, setup) ? byPressure : { demand: null, delivery: null };
  const perKPa = litres === undefined ? 1 : litresNPerKPa(litres);
  const scaled = (rate: Rate): Estimate => (rate === null ? null : { value: rate.value * 60 * perKPa, se: rate.se * 60 * perKPa });
  return { unit, demand: scaled(believed.demand), delivery: scaled(believed.delivery) };
}

const ONE_RUN_S = 6 * 3600;

/** Mostly one run: it vents, or the tank stands still, and the balance of its ends says nothing of what was made. */
function isOneRun(run: RunSums): boolean {
  return run.longestRunS > ONE_RUN_S && run.runS > 0.5 * (run.runS + run.restS);
}

/** With hardly a rest the tank says nothing of demand, though it is sent: that is no reason to go by times. */
function runsOn(sums: PeriodSums, source: CycleSource | null): boolean {
  const run = source === null ? undefined : sums.by[source];
  return run !== undefined && (sums.heard['tank-pressure'] ?? 0) > 0 && run.runS > 9 * run.restS;
}

/** Rests of which so little is seen settled say nothing of demand: at full run time, or with cycles shorter than the reports. */
const LEAST_SEEN_SHARE = 0.05;
/** A tank that is filled from start to stop each cycle falls by most of that; one that shows less than this share of it is read wrong. */
const LEAST_MOVED_SHARE = 0.2;
const LEAST_STARTS = 3;

/** Whether what the tank's gauge shows can be the tank of these runs and rests: it was seen in the rests, and it moved with the cycles. */
function tankFollows(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): boolean {
  const run = source === null || source === 'tank-pressure' ? undefined : sums.by[source];
  if (run === undefined || run.starts < LEAST_STARTS) return run === undefined || run.runS < run.restS || (run.restS > 0 && sum(sums.falls.restS) >= LEAST_SEEN_SHARE * run.restS);
  const seenShare = sum(sums.falls.restS) / Math.max(1, run.restS);
  if (seenShare < LEAST_SEEN_SHARE) return false;
  const band = bandOf(state, setup);
  if (band === null || run.holdRestS < run.holdRunS) return true;
  const fallOfAll = sum(sums.falls.fall) / seenShare;
  return fallOfAll > LEAST_MOVED_SHARE * run.starts * (band.highKPa - band.lowKPa);
}

/**
 * Demand = Σ fall ÷ Σ settled rest. Delivery by the balance over whole cycles: (drawn + rise of content) ÷ Σ run,
 * where warm gas and the bend of delivery with pressure cancel between the ends. kPa at 20 °C per second.
 */
function fromPressure(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): { demand: Rate; delivery: Rate } | null {
  const fall = rateOfSums(sums.falls.fall, sums.falls.restS, state.tank.stepKPa);
  if (fall === null) return null;
  // A tank that seems to rise in rests is tight, or its gas warms.
  const demand = { value: Math.max(0, fall.value), se: fall.se };
  const run = source === null ? null : (sums.by[source] ?? null);
  const meanRestS = run === null || run.cycles === 0 ? Infinity : run.cycleRestS / run.cycles;
  const short = meanRestS < SHORT_REST_S ? SHORT_REST_SHARE : 0;
  const widened = { value: demand.value, se: Math.hypot(demand.se, short * demand.value) };
  const delivery = run !== null && isOneRun(run) ? null : deliveryOf(sums, widened, short, state.tank.stepKPa);
  if (source === 'tank-pressure') return { demand: widened, delivery: delivery && sawEdges(delivery, sums, state) };
  if (run === null) return { demand: widened, delivery };
  const filled = filledDelivery(sums, run, widened, state, setup);
  // Between rare samples a rest's fall is poorly known, and with it what its run made; how long runs were is told.
  if (source === 'running') return { demand: widened, delivery: reportEveryS(state, setup) >= SPARSE_S && filled !== null && !isApart(delivery, filled) ? filled : delivery };
  // Samples that come fast tell the runs, and what each of them made; slower ones at least how many there were.
  const bySaw = source === 'duty' && delivery !== null && sawEdgeShare(sums, state) < SAW_EDGE_SURE ? { ...sawEdges(delivery, sums, state)!, fills: sums.by['tank-pressure']!.cycles } : filled;
  return { demand: widened, delivery: surer(countedDelivery(sums, run, widened, state, setup), bySaw) };
}

const SPARSE_S = 600;

/** Where the tank's samples tell a run's length to this, they are surer than a duty ratio with its span's edges. */
const SAW_EDGE_SURE = 0.04;

function sawEdgeShare(sums: PeriodSums, state: DescriptorState): number {
  const run = sums.by['tank-pressure'];
  return run === undefined || run.cycles === 0 ? Infinity : (SAW_EDGE_SHARE * state.saw.usualS * run.cycles) / run.cycleRunS;
}

/** A delivery whose runs the tank's samples alone tell, with the error of their edges. */
function sawEdges(delivery: NonNullable<Rate>, sums: PeriodSums, state: DescriptorState): Rate {
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

/** The surer of the balance of a day and of counted fillings. */
function surer(balance: Rate, filled: Filled): Rate {
  if (balance === null || filled === null) return balance ?? filled;
  return isApart(balance, filled) || balance.se / balance.value < filled.se / filled.value ? balance : filled;
}

type Filled = (NonNullable<Rate> & { readonly fills: number }) | null;

/**
 * Where starts are counted, by the controller or on the tank, and the band is known: each run fills the tank from start to stop and
 * makes what is drawn meanwhile. However few the runs of a day are, one more or less changes nothing; only one that the edges of
 * what was counted cut does. `null` where a start isn't a filling of this tank, or none was counted.
 */
function filledDelivery(sums: PeriodSums, run: RunSums, demand: NonNullable<Rate>, state: DescriptorState, setup: DescriptorSetup): Filled {
  const band = bandOf(state, setup);
  const byMeter = sums.by.counters === run;
  const whole = sums.by.running === run;
  const fills = (whole ? run.cycles : byMeter ? run.fills : sums.by['tank-pressure']?.starts) ?? 0;
  const { holdRunS, holdRestS } = run;
  // The message of one stop that got lost makes one run of two, so the middle run stands for all.
  const runS = whole ? run.cycles * (medianOf(sums.runLengths?.values ?? []) ?? 0) : holdRunS;
  // Behind an air receiver the compressor fills another vessel.
  const ownFilling = setup.registered.generator.layout === 'direct' || (whole && state.run.channel === 'producing');
  if (band === null || !ownFilling || fills < LEAST_FILLS || runS < LEAST_RUN_S) return null;
  const perRun = (fills * (band.highKPa - band.lowKPa)) / runS;
  // Counted on the tank, starts aren't shared out over the edge of a period as the duty ratio of the span across it is.
  const cut = whole ? 0 : holdRunS / (holdRunS + holdRestS) + (byMeter ? 0 : fills / Math.max(1, sums.heard.duty ?? 0));
  return { value: perRun + demand.value, se: Math.hypot(perRun * Math.hypot(Math.sqrt((2 / 3) * Math.min(1, cut)) / fills, BAND_SHARE / Math.sqrt(fills)), demand.se), fills };
}

/** Where the run time is counted: all that was drawn over the period was made in its runs; the content may differ by a band between the ends. */
function countedDelivery(sums: PeriodSums, run: RunSums, demand: NonNullable<Rate>, state: DescriptorState, setup: DescriptorSetup): Rate {
  if (run.holdRunS < LEAST_RUN_S || demand.value === 0) return null;
  const heldS = run.holdRunS + run.holdRestS;
  const value = (demand.value * heldS) / run.holdRunS;
  const band = bandOf(state, setup);
  const bands = band === null ? Math.max(1, run.starts, sums.by['tank-pressure']?.starts ?? 0) : (demand.value * heldS) / (band.highKPa - band.lowKPa);
  return { value, se: value * Math.hypot(demand.se / demand.value, 0.4 / bands, 0.01) };
}

/** A refill shows in the balance as the cycle that it begins in and the one that it ends. */
const REFILL_BLOCKS = 2;
/** A share of a run says little: with less running than this there is no delivery to speak of. */
const LEAST_RUN_S = 120;

function deliveryOf(sums: PeriodSums, demand: NonNullable<Rate>, short: number, stepKPa: number): Rate {
  const { made, openS, runS } = sums.balance;
  const rate = rateOfSums(made.map((one, index) => one + demand.value * openS[index]!), runS, stepKPa, REFILL_BLOCKS);
  if (rate === null || sum(runS) < LEAST_RUN_S) return null;
  return { value: rate.value, se: Math.hypot(rate.se, short * rate.value, (demand.se * sum(openS)) / sum(runS)) };
}

/** Rests with fewer reports than this show no slope of their own, and the ends of runs are seen by chance. */
export const REPORTS_IN_REST = 3;
/** Where cycles are counted, rests up to an hour with up to so many reports are told better by the count: what is drawn in bursts is missed between reports. */
const REPORTS_SURE = 12;
/** Rests of which so many are remembered are judged by their middle: a day of one start more must not be told by another method than its neighbours. */
const RESTS_KNOWN = 4;
/** What a cycle moves is the band, but for the switch's wander and the gas's warmth. */
const BAND_SHARE = 0.03;

/** Cycles are counted, and come nearly as fast as reports of the tank. */
function isCoarse(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): boolean {
  // Behind an air receiver the counters are the compressor's, and it isn't the nitrogen tank that it fills.
  const run = source === 'counters' && setup.registered.generator.layout === 'direct' ? sums.by.counters : undefined;
  if (run === undefined || run.starts < LEAST_STARTS || (sums.heard['tank-pressure'] ?? 0) === 0) return false;
  const reportS = reportEveryS(state, setup);
  const restS = run.holdRestS / run.starts;
  const short = state.recentRestS.length < RESTS_KNOWN ? restS <= SHORT_REST_TOP_S : state.shortRests === true;
  return restS <= REPORTS_IN_REST * reportS || (short && restS <= REPORTS_SURE * reportS);
}

/** Where the tank's slopes can't be seen, each counted cycle moved the band. `null` where the pressure says more, or the band isn't known. */
function fromCounts(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): { demand: Estimate; delivery: Estimate } | null {
  if (!isCoarse(sums, source, state, setup)) return null;
  const { cutInKPa = state.band?.lowKPa, cutOutKPa = state.band?.highKPa, tankLitres } = setup.registered.generator;
  if (cutInKPa === undefined || cutOutKPa === undefined || cutOutKPa <= cutInKPa) return null;
  const perCycle = (cutOutKPa - cutInKPa) * (tankLitres === undefined ? 1 : litresNPerKPa(tankLitres));
  const { demand, delivery } = fromTimes(sums, source, state);
  const scaled = (one: Estimate): Estimate => (one === null ? null : { value: one.value * perCycle, se: Math.hypot(one.se, BAND_SHARE * one.value) * perCycle });
  return { demand: scaled(demand), delivery: scaled(delivery) };
}

/** With fewer complete cycles than this in a period, the ones before it help out and the error is wide. */
const FEW_CYCLES = 3;

/** demand ∝ N/Σrest, delivery ∝ N/Σrun + N/Σrest, in cycles a minute: with a band that stays, a cycle is a fixed amount of gas. */
function fromTimes(sums: PeriodSums, source: CycleSource | null, state: DescriptorState): { demand: Estimate; delivery: Estimate } {
  const run = source === null || source === 'duty' ? undefined : sums.by[source];
  if (run === undefined) return { demand: null, delivery: null };
  const { cycles, restS, runS, restShare, runShare } = source === 'counters' ? countedCycles(run) : run.cycles < FEW_CYCLES ? withEarlier(run, state) : ownCycles(run);
  if (cycles === 0 || restS <= 0) return { demand: null, delivery: null };
  const demand = (60 * cycles) / restS;
  const deadS = Math.min(DEAD_TIME_S * cycles, DEAD_TIME_MOST_SHARE * runS);
  const perRun = (60 * cycles) / (runS - deadS);
  const demandSe = demand * restShare;
  return { demand: { value: demand, se: demandSe }, delivery: runS <= deadS ? null : { value: perRun + demand, se: Math.hypot(perRun * runShare, demandSe) } };
}

/** Counters give no single cycle: the whole starts of a period over its whole time, wrong by up to one cycle at the edges. */
function countedCycles(run: RunSums): CycleTimes {
  const share = 0.4 / Math.max(1, run.starts);
  return { cycles: run.starts, restS: run.holdRestS, runS: run.holdRunS, restShare: Math.hypot(share, 0.01), runShare: Math.hypot(share, 0.01) };
}

type CycleTimes = { cycles: number; restS: number; runS: number; restShare: number; runShare: number };

function ownCycles(run: RunSums): CycleTimes {
  const share = (total: number, squares: number): number => {
    const mean = total / run.cycles;
    const variance = Math.max(0, squares / run.cycles - mean * mean) * (run.cycles / Math.max(1, run.cycles - 1));
    return mean === 0 ? 1 : Math.hypot(Math.sqrt(variance / run.cycles) / mean, 0.005);
  };
  return { cycles: run.cycles, restS: run.cycleRestS, runS: run.cycleRunS, restShare: share(run.cycleRestS, run.cycleRestSquared), runShare: share(run.cycleRunS, run.cycleRunSquared) };
}

/** Few cycles: the open rest counts once it is longer than usual, and a cycle more or less is the error. */
function withEarlier(run: RunSums, state: DescriptorState): CycleTimes {
  const usualRestS = medianOf(state.recentRestS);
  if (run.cycles === 0 && usualRestS === null) return { cycles: 0, restS: 0, runS: 0, restShare: 1, runShare: 1 };
  const waitingS = usualRestS !== null && run.longestRestS > usualRestS ? Math.max(0, run.longestRestS - usualRestS) : 0;
  const cycles = run.cycles === 0 ? 1 : run.cycles;
  const restS = run.cycles === 0 ? Math.max(usualRestS ?? 0, run.longestRestS) : run.cycleRestS + (run.cycles < 2 ? waitingS : 0);
  return { cycles, restS, runS: run.cycleRunS, restShare: 0.3 / Math.sqrt(cycles), runShare: 0.1 / Math.sqrt(cycles) };
}

/** Median with the error of its scatter: 1.25 × scatter ÷ √n; `least` is what one such sensor resolves. */
function middle(list: Thinned, least: number): Estimate {
  const value = medianOf(list.values);
  if (value === null) return null;
  const count = list.values.length;
  const scatter = count >= 3 ? (1.25 * robustScatter(list.values, value)) / Math.sqrt(count) : 0.02 * Math.abs(value) * (least < 0.01 ? 0.1 : 1);
  return { value, se: Math.hypot(scatter, least) };
}

function meanOf(mean: Mean): Estimate {
  if (mean.n === 0) return null;
  const value = mean.sum / mean.n;
  const variance = Math.max(0, mean.squares / mean.n - value * value);
  return { value, se: Math.hypot(Math.sqrt(variance / Math.min(mean.n, FREE_PER_DAY)), 0.05) };
}
