import type { DayRow, Estimate } from '../../shared/cycle.ts';
import { alternationOf } from './alternation.ts';
import { demandAndDelivery } from './flows.ts';
import { bestSource } from './periods.ts';
import type { Mean, PeriodSums, RunSums } from './period-sums.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { medianOf, robustScatter } from './thinned.ts';
import { isCoarse } from './times-alone.ts';

/** A mean of readings that follow each other closely is worth no more than this many free ones a day. */
const FREE_PER_DAY = 24;
/** A tank that lost less says nothing of how it was drawn. Common practice, no source. */
const LEAST_SLOPE_KPA = 50;

/** Less production says nothing of what it takes. */
const LEAST_PRODUCING_S = 600;
const KNOWN_SHARE = 0.9;
/** A compressor that runs for more of a day doesn't stop, which the clock tells. Common practice, no source. */
const MOST_RUN_SHARE = 0.5;
/** An hour meter that is read each hour knows a day's run to less than this. */
const METER_SHARE = 0.1;

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
    nitrogen: middle(sums.nitrogen.values, 2e-4),
    nitrogenDip: middle(sums.dips ?? [], 2e-4),
    dischargeKPa: middle(sums.discharge.values, 0.05),
    feedKPa: middle(sums.feed.values, 0.05),
    elementDropKPa: middle(sums.drop.values, 0.05),
    feedFallS: middle(sums.feedFalls ?? [], 2),
    dischargeRestKPa: medianOf(sums.dischargeLeast ?? []),
    feedRestKPa: medianOf(sums.feedLeast ?? []),
    compressorRatio: compressorRatioOf(sums, run, state),
    fullRunKPaPerHour: sums.fullRun === undefined ? null : (sums.fullRun.riseKPa * 3600) / sums.fullRun.runS,
    bend: sums.bends === undefined || sums.bends.n === 0 ? null : sums.bends.sum / sums.bends.n,
    runsAlternate: source === 'running' ? alternationOf(state) : null,
    burstShare: (sums.slopeKPa ?? 0) > LEAST_SLOPE_KPA ? Math.min(1, (sums.burstKPa ?? 0) / sums.slopeKPa!) : null,
    systemKPa: meanOf(sums.system),
    roomC: sums.room.n === 0 ? null : sums.room.sum / sums.room.n,
    pipeC: sums.pipe.n === 0 ? null : sums.pipe.sum / sums.pipe.n,
    humidityPercent: sums.humidity.n === 0 ? null : sums.humidity.sum / sums.humidity.n,
    holdingRatio: coveredS === 0 ? 1 : Math.max(0, Math.min(1, heldS / coveredS)),
    heard: { ...sums.heard },
  };
}

/** Median with the error of its scatter: 1.25 × scatter ÷ √n; `least` is what one such sensor resolves. */
function middle(values: readonly number[], least: number): Estimate {
  const value = medianOf(values);
  if (value === null) return null;
  const count = values.length;
  const scatter = count >= 3 ? (1.25 * robustScatter(values, value)) / Math.sqrt(count) : 0.02 * Math.abs(value) * (least < 0.01 ? 0.1 : 1);
  return { value, se: Math.hypot(scatter, least) };
}

/** Compressor run for each second of production: by its state, or by its hour meter where that says so much else that messages of the state got lost; known for most of the time in which production is. */
function compressorRatioOf(sums: PeriodSums, run: RunSums | null, state: DescriptorState): number | null {
  if (state.run.channel !== 'producing' || run !== sums.by.running || run === undefined || run.runS < LEAST_PRODUCING_S) return null;
  const producingS = run.runS + run.restS;
  const isKnown = (knownS: number): boolean => Math.min(producingS, knownS) >= KNOWN_SHARE * Math.max(producingS, knownS);
  const meter = sums.by.counters;
  const byMeter = meter !== undefined && isKnown(meter.runS + meter.restS) ? meter.runS : undefined;
  const byState = sums.compressor !== undefined && isKnown(sums.compressor.knownS) ? sums.compressor.runS : undefined;
  const runS = byState === undefined || (byMeter !== undefined && Math.abs(byMeter - byState) > METER_SHARE * byMeter) ? byMeter : byState;
  return runS === undefined || runS > MOST_RUN_SHARE * producingS ? null : runS / run.runS;
}

function meanOf(mean: Mean): Estimate {
  if (mean.n === 0) return null;
  const value = mean.sum / mean.n;
  const variance = Math.max(0, mean.squares / mean.n - value * value);
  return { value, se: Math.hypot(Math.sqrt(variance / Math.min(mean.n, FREE_PER_DAY)), 0.05) };
}
