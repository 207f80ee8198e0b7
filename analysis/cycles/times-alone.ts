import type { CycleSource, Estimate } from '../../shared/cycle.ts';
import { BAND_SHARE, fillingKPa, reportEveryS, setBand, SHORT_REST_TOP_S } from './normal.ts';
import type { PeriodSums, RunSums } from './period-sums.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { litresNPerKPa } from './tank-content.ts';
import { medianOf } from './thinned.ts';

/** Bowls fill before the check valve opens, 0.2 to 2 min: from times alone this much of a run delivers nothing. */
const DEAD_TIME_S = 30;
const DEAD_TIME_MOST_SHARE = 0.1;
const LEAST_SPAN_SHARE = 0.5;
/** Fewer counted starts say nothing of how a tank moves with them. */
export const LEAST_STARTS = 3;
/** Rests with fewer reports than this show no slope of their own, and the ends of runs are seen by chance. */
export const REPORTS_IN_REST = 3;
/** Where cycles are counted, rests up to an hour with up to so many reports are told better by the count: what is drawn in bursts is missed between reports. */
const REPORTS_SURE = 12;
/** Rests of which so many are remembered are judged by their middle: a day of one start more must not be told by another method than its neighbours. */
const RESTS_KNOWN = 4;

/** Cycles are counted, and come nearly as fast as reports of the tank. */
export function isCoarse(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): boolean {
  // Behind an air receiver the counters are the compressor's, and it isn't the nitrogen tank that it fills.
  const run = source === 'counters' && setup.registered.generator.layout === 'direct' ? sums.by.counters : undefined;
  if (run === undefined || run.starts < LEAST_STARTS || (sums.heard['tank-pressure'] ?? 0) === 0) return false;
  const reportS = reportEveryS(state, setup);
  const restS = run.holdRestS / run.starts;
  const short = state.recentRestS.length < RESTS_KNOWN ? restS <= SHORT_REST_TOP_S : state.shortRests === true;
  return restS <= REPORTS_IN_REST * reportS || (short && restS <= REPORTS_SURE * reportS);
}

/** Where the tank's slopes can't be seen, each counted cycle moved the band. `null` where the pressure says more, or the band isn't known. */
export function fromCounts(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): { demand: Estimate; delivery: Estimate } | null {
  if (!isCoarse(sums, source, state, setup)) return null;
  const { tankLitres } = setup.registered.generator;
  const band = setBand(state, setup) ?? state.band;
  if (band === null) return null;
  // A tank that was never seen in more than half of the band isn't filled by these cycles.
  if (sums.tankSpan !== undefined && sums.tankSpan[1] - sums.tankSpan[0] < LEAST_SPAN_SHARE * (band.highKPa - band.lowKPa)) return { demand: null, delivery: null };
  const perCycle = fillingKPa(state, band) * (tankLitres === undefined ? 1 : litresNPerKPa(tankLitres));
  const { demand, delivery } = fromTimes(sums, source, state, 0);
  const scaled = (one: Estimate): Estimate => (one === null ? null : { value: one.value * perCycle, se: Math.hypot(one.se, BAND_SHARE * one.value) * perCycle });
  return { demand: scaled(demand), delivery: scaled(delivery) };
}

/** With fewer complete cycles than this in a period, the ones before it help out and the error is wide. */
const FEW_CYCLES = 3;

/** demand ∝ N/Σrest, delivery ∝ N/Σrun + N/Σrest, in cycles a minute: with a band that stays, a cycle is a fixed amount of gas. Where the tank is sent a run is taken whole, as the tank's own balance does. */
export function fromTimes(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, deadTimeS = DEAD_TIME_S): { demand: Estimate; delivery: Estimate } {
  const run = source === null || source === 'duty' ? undefined : sums.by[source];
  if (run === undefined) return { demand: null, delivery: null };
  const { cycles, restS, runS, restShare, runShare } = source === 'counters' ? countedCycles(run) : run.cycles < FEW_CYCLES ? withEarlier(run, state) : ownCycles(run);
  if (cycles === 0 || restS <= 0) return { demand: null, delivery: null };
  const demand = (60 * cycles) / restS;
  const deadS = Math.min(deadTimeS * cycles, DEAD_TIME_MOST_SHARE * runS);
  const perRun = (60 * cycles) / (runS - deadS);
  const demandSe = demand * restShare;
  return { demand: { value: demand, se: demandSe }, delivery: runS <= deadS ? null : { value: perRun + demand, se: Math.hypot(perRun * runShare, demandSe) } };
}

/** What few whole cycles that are counted err by: the reports at their ends, and each other. Common practice, no source. */
const FEW_COUNTED_SHARE = 0.1;

/** Whole cycles between reports before starts; where none ended, the starts of a period over its whole time, wrong by up to one cycle at the edges. */
function countedCycles(run: RunSums): CycleTimes {
  if (run.cycles >= FEW_CYCLES) return ownCycles(run);
  if (run.cycles > 0) return { cycles: run.cycles, restS: run.cycleRestS, runS: run.cycleRunS, restShare: FEW_COUNTED_SHARE / Math.sqrt(run.cycles), runShare: FEW_COUNTED_SHARE / Math.sqrt(run.cycles) };
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
