import type { Cause } from '../../shared/finding.ts';
import type { Departures } from '../plant/departures.ts';
import type { FaultScenario } from '../scenario.ts';
import { bleedLeftOpen } from './bleed-left-open.ts';
import { checkValveLeaking } from './check-valve-leaking.ts';
import { compressorSide } from './compressor-side.ts';
import { dataGap } from './data-gap.ts';
import { drainStuckClosed } from './drain-stuck-closed.ts';
import { drainStuckOpen } from './drain-stuck-open.ts';
import { elementLoading } from './element-loading.ts';
import { elementMissing } from './element-missing.ts';
import type { FaultKind, FaultVariant } from './fault.ts';
import { growthShare } from './growth.ts';
import { leak } from './leak.ts';
import { membraneDecline } from './membrane-decline.ts';
import { noPower } from './no-power.ts';
import { notStarting } from './not-starting.ts';
import { runsWithoutEnd } from './runs-without-end.ts';
import { sensorFault } from './sensor-fault.ts';
import { setPointChanged } from './set-point-changed.ts';
import { stopsShort } from './stops-short.ts';
import { supplyBypassed } from './supply-bypassed.ts';
import { valveLeftShut } from './valve-left-shut.ts';

/** Every fault that the simulator can make. */
export const FAULTS: readonly FaultKind[] = [leak, bleedLeftOpen, supplyBypassed, valveLeftShut, checkValveLeaking, elementLoading, elementMissing, drainStuckOpen, drainStuckClosed, compressorSide, membraneDecline, notStarting, stopsShort, runsWithoutEnd, sensorFault, setPointChanged, noPower, dataGap];

const byCause = new Map<Cause, FaultKind>(FAULTS.map((kind) => [kind.cause, kind]));

/** Names of a fault's variants; none if no fault has this cause. */
export function faultVariants(cause: Cause): string[] {
  return Object.keys(byCause.get(cause)?.variants ?? {});
}

/** Those that random worlds draw from. */
export function drawnVariants(cause: Cause): string[] {
  return faultVariants(cause).filter((name) => byCause.get(cause)!.variants[name]!.drawn !== false);
}

/** @throws {RangeError} if no fault has this cause, or it has no such variant. */
export function faultVariant(cause: Cause, variant?: string): FaultVariant {
  const kind = byCause.get(cause);
  if (kind === undefined) throw new RangeError(`Cannot simulate fault as its cause must be one of ${[...byCause.keys()].join(', ')}: current value is ${cause}`);
  const name = variant ?? Object.keys(kind.variants)[0]!;
  const found = kind.variants[name];
  if (found === undefined) throw new RangeError(`Cannot simulate ${cause} as its variant must be one of ${Object.keys(kind.variants).join(', ')}: current value is ${name}`);
  return found;
}

/** Share of its full size that a fault has now, 0..1. A fault that comes and goes is there in about half of the spells of 7 h. */
export function faultShare(fault: FaultScenario, day: number): number {
  if (day < fault.fromDay || (fault.toDay !== undefined && day >= fault.toDay)) return 0;
  const sinceDay = day - fault.fromDay;
  const left = fault.badlyMended !== undefined && day >= fault.badlyMended.fromDay ? fault.badlyMended.share : 1;
  if (fault.shape === 'ramp') return left * growthShare(fault.growth ?? 'even', sinceDay / (fault.growDays ?? 30));
  if (fault.shape === 'step') return left;
  const spell = Math.floor((sinceDay * 24) / 7);
  return ((Math.imul(spell + 17, 0x9e3779b1) ^ Math.imul(Math.floor(fault.fromDay * 97) + 3, 0x85ebca6b)) >>> 16) % 100 < 55 ? left : 0;
}

/** Lay a fault over what departs from good order. Areas go with the square of a diameter, so a ramp of holes grows by its area. */
export function applyFault(dep: Departures, fault: FaultScenario, day: number): void {
  const share = faultShare(fault, day);
  if (share === 0) return;
  const variant = faultVariant(fault.cause, fault.variant);
  const full = variant.severities[fault.severity].size;
  const byArea = variant.measure.includes('mm') ? Math.sqrt(share) : share;
  variant.apply(dep, full * byArea, fault);
}
