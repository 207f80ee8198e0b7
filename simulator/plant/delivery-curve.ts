import type { Departures } from './departures.ts';
import { type FeedSpec, type FeedState, settleFeed } from './feed-train.ts';

/** What the train does at three tank pressures, and by a parabola between: valid while what changes slowly stays. */
export type DeliveryCurve = { lowAbsKPa: number; stepKPa: number; product: number[]; intake: number[]; oxygen: number[]; discharge: number[]; feed: number[] };

/** Settle the train at the pressure now, at the top and between; a run then reads the curve instead of settling each minute. */
export function deliveryCurve(spec: FeedSpec, state: FeedState, dep: Departures, roomC: number, atmKPa: number, lowAbsKPa: number, highAbsKPa: number, guessAbsKPa?: number): DeliveryCurve {
  const stepKPa = Math.max(20, highAbsKPa - lowAbsKPa) / 2;
  const first = settleFeed(spec, state, dep, roomC, atmKPa, lowAbsKPa, guessAbsKPa);
  const second = settleFeed(spec, state, dep, roomC, atmKPa, lowAbsKPa + stepKPa, first.dischargeAbsKPa + 0.62 * stepKPa);
  const points = [first, second, settleFeed(spec, state, dep, roomC, atmKPa, lowAbsKPa + 2 * stepKPa, 2 * second.dischargeAbsKPa - first.dischargeAbsKPa)];
  return { lowAbsKPa, stepKPa, product: points.map((p) => p.productNL), intake: points.map((p) => p.intakeNL), oxygen: points.map((p) => p.oxygen), discharge: points.map((p) => p.dischargeAbsKPa), feed: points.map((p) => p.feedAbsKPa) };
}

/** Whether the curve still stands for this pressure. */
export function curveCovers(curve: DeliveryCurve, tankAbsKPa: number): boolean {
  return tankAbsKPa > curve.lowAbsKPa - 25 && tankAbsKPa < curve.lowAbsKPa + 2 * curve.stepKPa + 25;
}

/** A column of the curve at a tank pressure. */
export function onCurve(curve: DeliveryCurve, column: readonly number[], tankAbsKPa: number): number {
  const u = (tankAbsKPa - curve.lowAbsKPa) / curve.stepKPa;
  return column[0]! * 0.5 * (u - 1) * (u - 2) - column[1]! * u * (u - 2) + column[2]! * 0.5 * u * (u - 1);
}
