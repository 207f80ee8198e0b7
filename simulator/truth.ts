import type { Cause } from '../shared/finding.ts';
import { splitGeneratorKey } from '../shared/ids.ts';
import { generatorsOf, generatorSchema } from '../shared/registry.ts';
import { isoFromMs } from '../shared/time.ts';
import { type AgeingFrame, agedFaults, halfWayAged, loadingWithin } from './ageing.ts';
import type { Branch } from './branches.ts';
import type { FaultScenario, Severity } from './scenario.ts';
import { dayMs } from './story-times.ts';
import { type UpsetTruth, upsetsOf } from './upset-truth.ts';
import type { World } from './world.ts';

type Place = { readonly site: string; readonly generator: string };
type FaultTruth = Place & {
  readonly cause: Cause; readonly onset: string; readonly knowableAt: string | null; readonly end: string | null; readonly endedBy: string | null; readonly severity: Severity; readonly shape: FaultScenario['shape'];
  /** It came about by wear and loading alone; no fault was drawn. And the largest share of delivery that it took. */
  readonly byItself?: true;
  readonly deliveryLoss?: number;
  /** Of what a visit left shut or open: by when it is to be known; null where its time never came. */
  readonly dueAt?: string | null;
};

/** What really was, in the shape of `truth.json`. Nothing that analyses readings may read it. */
export type Truth = {
  readonly faults: readonly FaultTruth[];
  readonly upsets: readonly UpsetTruth[];
  /** Worlds branched off with no visit (`branchWorld`), for the scoring of forecasts and ranking. */
  readonly branches: readonly Branch[];
};

/** The truth of a world up to its present: what lies ahead isn't told, but by the branches that are handed in. */
export function worldTruth(world: World, branches: readonly Branch[] = []): Truth {
  const records = new Map(generatorsOf(world.scenario.registry).map((one) => [one.key as string, one.generator]));
  const frames = world.scenario.generators.map((generator, index): AgeingFrame => {
    const record = records.get(generator.key) ?? generatorSchema.parse({ id: 'gen-1' });
    return { looks: world.generators[index]!.own ?? [], generator, limits: { deliveryShare: record.limits.deliveryShare, nitrogen: record.nitrogenLimit }, startMs: world.startMs, dayMs: (day) => dayMs(world.startMs, day) };
  });
  const faults = world.scenario.generators.flatMap((generator, index) => {
    const place = splitGeneratorKey(generator.key);
    const frame = frames[index]!;
    return [...drawnFaults(world, index, frame).map((one) => ({ ...place, ...one })), ...agedOf(frame, world.nowMs).map((one) => ({ ...place, ...one }))];
  });
  return { faults, upsets: world.scenario.generators.flatMap((generator, index) => upsetsOf(world, generator, index, halfWayAged(frames[index]!))), branches };
}

type Told = Omit<FaultTruth, 'site' | 'generator'>;

/** The faults of the story that have begun. */
function drawnFaults(world: World, index: number, frame: AgeingFrame): Told[] {
  const { generator, dayMs: at } = frame;
  return generator.faults.flatMap((fault, place): Told[] => {
    const onsetMs = at(fault.fromDay);
    if (onsetMs > world.nowMs) return [];
    // Elements that load fast can be seen once they are due, and are in order when they are changed.
    const loading = fault.cause === 'element-loading' ? loadingWithin(frame, onsetMs, fault.toDay === undefined ? Infinity : at(fault.toDay)) : undefined;
    const endMs = loading?.change?.atMs ?? (fault.toDay === undefined ? undefined : at(fault.toDay));
    const endedBy = loading?.change?.visit ?? fault.endedBy ?? null;
    const ended = endMs !== undefined && endMs <= world.nowMs;
    const knowableMs = loading === undefined ? (world.generators[index]!.knowableMs[place] ?? null) : loading.knowableMs;
    return [{ cause: fault.cause, onset: isoFromMs(onsetMs), knowableAt: knowableMs === null || knowableMs > world.nowMs ? null : isoFromMs(knowableMs), end: ended ? isoFromMs(endMs) : null, endedBy: ended ? endedBy : null, severity: fault.severity, shape: fault.shape, ...dueOf(world, index, place) }];
  });
}

function dueOf(world: World, index: number, place: number): Pick<FaultTruth, 'dueAt'> {
  const due = world.generators[index]!.due?.[place];
  if (due === undefined || due === null) return {};
  return { dueAt: due.atMs === null || due.atMs > world.nowMs ? null : isoFromMs(due.atMs) };
}

/** What came about by itself and can be known by now. */
function agedOf(frame: AgeingFrame, nowMs: number): Told[] {
  return agedFaults(frame).flatMap((one): Told[] => {
    if (one.knowableMs > nowMs) return [];
    const ended = one.endMs !== null && one.endMs <= nowMs;
    return [{ cause: one.cause, onset: isoFromMs(one.onsetMs), knowableAt: isoFromMs(one.knowableMs), end: ended ? isoFromMs(one.endMs) : null, endedBy: ended ? one.endedBy : null, severity: one.severity, shape: 'ramp', byItself: true, deliveryLoss: one.deliveryLoss }];
  });
}
