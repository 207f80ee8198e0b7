import type { CycleSource, DayRow, Estimate } from '../../shared/cycle.ts';
import { type Rate, rateOfSums, sum } from './blocks.ts';
import { deliveryOf } from './delivery.ts';
import { bandOf } from './normal.ts';
import type { PeriodSums } from './period-sums.ts';
import type { DescriptorSetup, DescriptorState } from './state.ts';
import { litresNPerKPa } from './tank-content.ts';
import { fromCounts, fromTimes, LEAST_STARTS } from './times-alone.ts';

/** Rests shorter than this never settle: demand and delivery carry this share more error (design, section 6). */
const SHORT_REST_S = 600;
const SHORT_REST_SHARE = 0.1;

type DemandAndDelivery = { readonly unit: DayRow['unit']; readonly demand: Estimate; readonly delivery: Estimate };

/** From the tank's pressure where it is sent, else from times alone. */
export function demandAndDelivery(sums: PeriodSums, source: CycleSource | null, state: DescriptorState, setup: DescriptorSetup): DemandAndDelivery {
  const litres = setup.registered.generator.tankLitres;
  const unit = litres === undefined ? 'kPa/min' : 'NL/min';
  const byPressure = fromPressure(sums, source, state, setup);
  const byCounts = fromCounts(sums, source, state, setup);
  if (byCounts !== null) return { unit, ...(fillsNothing(byCounts.demand, byPressure?.demand ?? null, litres) ? { demand: null, delivery: null } : byCounts) };
  if (byPressure === null) return runsOn(sums, source) ? { unit, demand: null, delivery: null } : { unit: 'relative', ...fromTimes(sums, source, state) };
  const believed = tankFollows(sums, source, state, setup) ? byPressure : { demand: null, delivery: null };
  const perKPa = litres === undefined ? 1 : litresNPerKPa(litres);
  const scaled = (rate: Rate): Estimate => (rate === null ? null : { value: rate.value * 60 * perKPa, se: rate.se * 60 * perKPa });
  return { unit, demand: scaled(believed.demand), delivery: scaled(believed.delivery) };
}

/** Rests of few reports show too little of a fall, and half of it at least. */
const FILLS_TIMES = 2;

/** Whether counted cycles drew so much more than the tank's falls show that they can't have filled the band: runs that are cut short. */
function fillsNothing(counted: Estimate, fall: Rate, litres: number | undefined): boolean {
  return counted !== null && fall !== null && counted.value > FILLS_TIMES * fall.value * 60 * (litres === undefined ? 1 : litresNPerKPa(litres));
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
  return { demand: widened, delivery: deliveryOf({ sums, source, demand: widened, short }, state, setup) };
}
