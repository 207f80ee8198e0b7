import type { Cause } from '../shared/finding.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import { DAY_MS, isoFromMs } from '../shared/time.ts';
import type { Branch } from './branches.ts';
import { UPSETS } from './faults/upsets.ts';
import type { FaultScenario, Severity } from './scenario.ts';
import { dayMs } from './story-times.ts';
import type { World } from './world.ts';

/** What really was, in the shape of `truth.json`. Nothing that analyses readings may read it. */
export type Truth = {
  readonly faults: readonly { readonly site: string; readonly generator: string; readonly cause: Cause; readonly onset: string; readonly knowableAt: string | null; readonly end: string | null; readonly endedBy: string | null; readonly severity: Severity; readonly shape: FaultScenario['shape'] }[];
  readonly upsets: readonly { readonly site: string; readonly generator: string; readonly kind: string; readonly from: string; readonly to: string; readonly maySay: readonly Cause[] }[];
  /** Worlds branched off with no visit (`branchWorld`), for the scoring of forecasts and ranking. */
  readonly branches: readonly Branch[];
};

/** The truth of a world up to its present: what lies ahead isn't told, but by the branches that are handed in. */
export function worldTruth(world: World, branches: readonly Branch[] = []): Truth {
  const at = (day: number): number => dayMs(world.startMs, day);
  const faults = world.scenario.generators.flatMap((generator, index) =>
    generator.faults.flatMap((fault, place) => {
      if (at(fault.fromDay) > world.nowMs) return [];
      const endMs = fault.toDay === undefined ? undefined : at(fault.toDay);
      const ended = endMs !== undefined && endMs <= world.nowMs;
      const knowableMs = world.generators[index]!.knowableMs[place] ?? null;
      return [{ ...splitGeneratorKey(generator.key), cause: fault.cause, onset: isoFromMs(at(fault.fromDay)), knowableAt: knowableMs === null || knowableMs > world.nowMs ? null : isoFromMs(knowableMs), end: ended ? isoFromMs(endMs) : null, endedBy: ended ? (fault.endedBy ?? null) : null, severity: fault.severity, shape: fault.shape }];
    }),
  );
  const upsets = world.scenario.generators.flatMap((generator) =>
    generator.upsets.flatMap((upset) => {
      if (at(upset.fromDay) > world.nowMs) return [];
      return [{ ...splitGeneratorKey(generator.key), kind: upset.kind, from: isoFromMs(at(upset.fromDay)), to: isoFromMs(Math.min(world.nowMs, at(upset.fromDay) + (upset.hours / 24) * DAY_MS)), maySay: UPSETS[upset.kind].maySay }];
    }),
  );
  return { faults, upsets: [...upsets, ...visitsAsUpsets(world)], branches };
}

/** Who works at a machine has locked it out, and tells it only afterwards: till then it looks like one that doesn't start. */
function visitsAsUpsets(world: World): Truth['upsets'] {
  const at = (day: number): number => dayMs(world.startMs, day);
  return world.scenario.generators.flatMap((generator) =>
    generator.visits.flatMap((visit) => {
      if (at(visit.atDay) > world.nowMs) return [];
      return [{ ...splitGeneratorKey(generator.key), kind: 'visit', from: isoFromMs(at(visit.atDay)), to: isoFromMs(Math.min(world.nowMs, at(visit.atDay + visit.hours / 24))), maySay: ['not-starting'] satisfies Cause[] }];
    }),
  );
}
