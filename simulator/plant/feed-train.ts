import { compressorNLPerMin, type CompressorSpec } from './compressor.ts';
import type { Departures } from './departures.ts';
import { elementDropKPa, elementFlowFactor } from './elements.ts';
import { orificeNLPerMin, valveNLPerMin } from './gas.ts';
import { AIR_OXYGEN, crossFlow, type Permeated, permeanceAt } from './membrane.ts';
import { sieveProduct, type SieveSpec } from './sieve.ts';

/** Compressor, bowls with elements, membrane and the way into the tank. */
export type FeedSpec = {
  readonly compressor: CompressorSpec;
  /** N2 permeance × area at 40 °C, NL/(min kPa). */
  readonly membraneNLPerMinKPa: number;
  /** Sonic conductance between membrane and tank, dm³/(s bar): small = restricted, large = the membrane floats on the tank. */
  readonly productLPerSBar: number;
  /** Flow through the elements for which their clean drops are given, NL/min. */
  readonly nominalFeedNLPerMin: number;
  /** Absolute pressure in the elements at that flow, kPa. */
  readonly nominalFeedAbsKPa: number;
  /** Sieve beds in place of the membrane. */
  readonly sieve?: SieveSpec;
  /** A drain that opens for seconds every so many minutes, as a hole that is always open, mm². */
  readonly timedDrainMm2?: number;
};

/** What of the train changes slowly. */
export type FeedState = { readonly condition: number; readonly loading: readonly [number, number, number, number]; /** Water over the bowl's brim, ml. */ readonly overflowMl: number; /** With an air receiver: the pressure that its regulator holds before the elements, kPa absolute. */ readonly sourceAbsKPa?: number };

export type FeedPoint = { readonly tankAbsKPa: number; readonly intakeNL: number; readonly productNL: number; readonly oxygen: number; readonly dischargeAbsKPa: number; readonly feedAbsKPa: number };

/** Each ml of water that can't leave the bowl soaks the coalescing element; this many double its drop. */
const SOAK_ML = 60;

type Fibre = ReturnType<typeof permeanceAt>;

/** Of what goes through torn fibres, the share that reaches the product as plain air; the rest is lost with the permeate. Assumed: no source. */
const TORN_PASSES = 0.15;
/** The regulator behind a receiver gives the nominal flow at so much under its set point. */
const REGULATOR_DROOP_KPA = 12;

function trial(spec: FeedSpec, state: FeedState, dep: Departures, roomC: number, atmKPa: number, tankAbsKPa: number, fibre: Fibre, dischargeAbsKPa: number): { residual: number; point: FeedPoint } {
  const roomK = roomC + 273.15;
  const [intakeLoad, particulate, coalescing, carbon] = state.loading;
  const intakeDropKPa = dep.intakeMissing ? 0 : elementDropKPa('intake-element', intakeLoad, 1);
  const { sourceAbsKPa } = state;
  const intakeNL = sourceAbsKPa === undefined ? compressorNLPerMin(spec.compressor, { roomK, atmKPa, intakeDropKPa }, dischargeAbsKPa, state.condition * (1 - dep.flowLoss)) : (spec.nominalFeedNLPerMin * (sourceAbsKPa - dischargeAbsKPa)) / REGULATOR_DROOP_KPA;
  // What a drain of a receiver loses is the receiver's loss.
  const afterBowls = sourceAbsKPa === undefined ? intakeNL - orificeNLPerMin(dep.drainMm2 + (spec.timedDrainMm2 ?? 0), dischargeAbsKPa, atmKPa, roomK + 10) : intakeNL;
  const flowRatio = Math.max(0, afterBowls) / spec.nominalFeedNLPerMin;
  const flow = elementFlowFactor(flowRatio, dischargeAbsKPa / spec.nominalFeedAbsKPa);
  const soak = 1 + state.overflowMl / SOAK_ML;
  const drop = (dep.elementMissing ? 0 : elementDropKPa('coalescing-element', coalescing, flow) * soak) + elementDropKPa('particulate-element', particulate, flow) + elementDropKPa('carbon-element', carbon, flow);
  const feedAbsKPa = Math.max(atmKPa, dischargeAbsKPa - drop);
  const tornNL = orificeNLPerMin(dep.tornMm2, feedAbsKPa, atmKPa, roomK + 8);
  const feedNL = afterBowls - orificeNLPerMin(dep.feedBleedMm2, feedAbsKPa, atmKPa, roomK + 8) - tornNL;
  if (feedNL <= 0) return { residual: feedNL - 1e-6, point: { tankAbsKPa, intakeNL, productNL: 0, oxygen: AIR_OXYGEN, dischargeAbsKPa, feedAbsKPa } };
  const out = separated(spec, dep, fibre, feedNL, feedAbsKPa, atmKPa);
  const wayNL = valveNLPerMin(spec.productLPerSBar, feedAbsKPa, tankAbsKPa, roomK);
  const passedNL = TORN_PASSES * tornNL;
  const cleanNL = out.product * feedNL;
  const productNL = cleanNL + passedNL;
  const oxygen = (out.oxygen * cleanNL + AIR_OXYGEN * passedNL) / Math.max(1e-9, productNL);
  const residual = out.idleArea > 0 ? -out.idleArea * feedNL - wayNL : productNL - wayNL;
  return { residual, point: { tankAbsKPa, intakeNL, productNL: Math.max(0, Math.min(productNL, wayNL)), oxygen, dischargeAbsKPa, feedAbsKPa } };
}

/** What membrane or beds leave over of the feed, as shares of it. */
function separated(spec: FeedSpec, dep: Departures, fibre: Fibre, feedNL: number, feedAbsKPa: number, atmKPa: number): Permeated {
  if (spec.sieve === undefined) return crossFlow((spec.membraneNLPerMinKPa * dep.permeance * fibre.nitrogen * feedAbsKPa) / feedNL, atmKPa / feedAbsKPa, AIR_OXYGEN, fibre.alpha);
  const { productNL, oxygen } = sieveProduct(spec.sieve, dep.permeance, feedNL, feedAbsKPa, atmKPa);
  return productNL > 0 ? { product: productNL / feedNL, oxygen, idleArea: 0 } : { product: 0, oxygen: 0, idleArea: Math.max(1e-9, -productNL / feedNL) };
}

/** Settled to this much of the flow, NL/min: 4e-5 of a small generator's product. */
const SETTLED_NL = 1e-3;

/**
 * Where the train settles against a tank pressure: the discharge pressure at which what the membrane leaves over is what
 * the way into the tank takes. The residual falls as pressure rises (the compressor gives less, the holes, the membrane and
 * the way take more), so a bracketed secant (Illinois) finds it; settled in seconds, which is why it may stand for a run.
 * `guessAbsKPa` saves rounds and changes nothing beyond the tolerance.
 */
export function settleFeed(spec: FeedSpec, state: FeedState, dep: Departures, roomC: number, atmKPa: number, tankAbsKPa: number, guessAbsKPa = tankAbsKPa + 60): FeedPoint {
  // The membrane stands in a heated box: the room moves it by a twentieth.
  const fibre = permeanceAt(313.15 + 0.05 * (roomC - 20));
  const at = (dischargeAbsKPa: number) => trial(spec, state, dep, roomC, atmKPa, tankAbsKPa, fibre, dischargeAbsKPa);
  const floor = atmKPa + 0.5;
  let low = Math.max(floor, guessAbsKPa);
  let best = at(low);
  if (Math.abs(best.residual) < SETTLED_NL) return best.point;
  let high = low;
  let atLow = best.residual;
  let atHigh = best.residual;
  for (let reach = 6; best.residual > 0 && high < 5000; reach *= 4) {
    low = high;
    atLow = best.residual;
    high += reach;
    best = at(high);
    atHigh = best.residual;
  }
  for (let reach = 6; atLow < 0 && low > floor; reach *= 4) {
    high = low;
    atHigh = atLow;
    low = Math.max(floor, low - reach);
    best = at(low);
    atLow = best.residual;
  }
  if (atLow <= 0 || atHigh > 0) return best.point;
  let side = 0;
  for (let round = 0; round < 40 && high - low > 0.001 && Math.abs(best.residual) > SETTLED_NL; round += 1) {
    const guess = round % 8 === 7 ? (low + high) / 2 : (low * atHigh - high * atLow) / (atHigh - atLow);
    best = at(guess);
    if (best.residual > 0) {
      low = guess;
      atLow = best.residual;
      if (side === 1) atHigh /= 2;
      side = 1;
    } else {
      high = guess;
      atHigh = best.residual;
      if (side === -1) atLow /= 2;
      side = -1;
    }
  }
  return best.point;
}
