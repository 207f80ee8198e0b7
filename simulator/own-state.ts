import { noDepartures } from './plant/departures.ts';
import { settleFeed, type FeedPoint } from './plant/feed-train.ts';
import { compressorNLPerMin } from './plant/compressor.ts';
import { elementDropKPa } from './plant/elements.ts';
import { atmosphereKPa } from './plant/gas.ts';
import type { PlantSpec, PlantState } from './plant/plant-state.ts';

/**
 * What has loaded and worn by itself at a moment: how the plant would do at the middle of its band and in a room of 20 °C,
 * with every fault, visit and upset thought away. Losses are shares of what it would deliver without them, 0..1.
 */
export type OwnLook = {
  readonly atMs: number;
  /** Drop over the elements above that of clean ones at the same tank pressure, kPa. */
  readonly overCleanKPa: number;
  /** Of what it delivered when new. */
  readonly deliveryShare: number;
  readonly byElements: number;
  /** By rings, valves and the intake element; behind an air receiver of the compressor's own flow. */
  readonly byCompressor: number;
  /** Purity of the product, and what elements and compressor have taken of it. */
  readonly nitrogen: number;
  readonly purityByElements: number;
  readonly purityByCompressor: number;
};

const ROOM_C = 20;
type Loading = PlantState['loading'];

/** Settle a plant in good order with so much wear and loading. */
function settled(spec: PlantSpec, wear: number, loading: Loading): FeedPoint {
  const atmKPa = atmosphereKPa(spec.elevationM);
  const tankAbsKPa = (spec.cutInKPa + spec.cutOutKPa) / 2 + atmKPa;
  const source = spec.receiver === undefined ? {} : { sourceAbsKPa: spec.receiver.feedSetKPa + atmKPa };
  return settleFeed(spec.feed, { condition: 1 - wear, loading, overflowMl: 0, ...source }, noDepartures(spec.risers.length), ROOM_C, atmKPa, tankAbsKPa);
}

/** Look at a plant as it would stand alone; about 50 µs. */
export function lookAtItself(state: PlantState, spec: PlantSpec): OwnLook {
  const { wear, loading } = state;
  const [intake, particulate, coalescing, carbon] = loading;
  const now = settled(spec, wear, loading);
  const clean = settled(spec, wear, [intake, 0, 0, 0]);
  const fresh = settled(spec, 0, [0, particulate, coalescing, carbon]);
  const asNew = settled(spec, 0, [0, 0, 0, 0]);
  const lost = (less: number, whole: number): number => Math.max(0, 1 - less / Math.max(1e-9, whole));
  return {
    atMs: Math.round(state.atMs),
    overCleanKPa: tenths(now.dischargeAbsKPa - now.feedAbsKPa - (clean.dischargeAbsKPa - clean.feedAbsKPa)),
    deliveryShare: thousandths(now.productNL / asNew.productNL),
    byElements: thousandths(lost(now.productNL, clean.productNL)),
    byCompressor: thousandths(spec.receiver === undefined ? lost(now.productNL, fresh.productNL) : compressorLoss(spec, wear, intake)),
    nitrogen: tenThousandths(1 - now.oxygen),
    purityByElements: tenThousandths(now.oxygen - clean.oxygen),
    purityByCompressor: tenThousandths(now.oxygen - fresh.oxygen),
  };
}

/** Behind a receiver the membrane doesn't notice a weak compressor: it runs longer. */
function compressorLoss(spec: PlantSpec, wear: number, intakeLoading: number): number {
  const atmKPa = atmosphereKPa(spec.elevationM);
  const { cutInKPa, cutOutKPa } = spec.receiver!;
  const flow = (condition: number, loading: number): number => compressorNLPerMin(spec.feed.compressor, { roomK: ROOM_C + 273.15, atmKPa, intakeDropKPa: elementDropKPa('intake-element', loading, 1) }, (cutInKPa + cutOutKPa) / 2 + atmKPa, condition);
  return Math.max(0, 1 - flow(1 - wear, intakeLoading) / flow(1, 0));
}

const tenths = (value: number): number => Math.round(value * 10) / 10;
const thousandths = (value: number): number => Math.round(value * 1000) / 1000;

const tenThousandths = (value: number): number => Math.round(value * 10_000) / 10_000;

/** Whether a look says something that the last one didn't: what is kept of a year are some dozens. */
export function saysMore(look: OwnLook, last: OwnLook | undefined): boolean {
  if (last === undefined) return true;
  return Math.abs(look.overCleanKPa - last.overCleanKPa) >= 0.2 || Math.abs(look.deliveryShare - last.deliveryShare) >= 0.005 || Math.abs(look.byElements - last.byElements) >= 0.005 || Math.abs(look.byCompressor - last.byCompressor) >= 0.005 || Math.abs(look.nitrogen - last.nitrogen) >= 0.0005;
}
