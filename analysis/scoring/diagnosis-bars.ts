import { familyOf } from '../../shared/finding.ts';
import { CHANNEL_CLASSES, type ChannelClass } from './channel-class.ts';
import { quantileOf } from './quantile.ts';
import { type Rate, rateOf } from './rate.ts';
import type { FaultRow, WorldScore } from './score-world.ts';

/** So many of so many; the share is null of none. */
export type Part = { readonly of: number; readonly part: number; readonly share: number | null };
type Spread = { readonly p10: number; readonly p50: number; readonly p90: number };

/** The figures that diagnosis is held to, added up over worlds. */
export type DiagnosisBars = {
  /** Of generators for which nothing was the matter in the whole world, upsets included. */
  readonly falseInGoodOrder: Rate;
  /** Of the faults of demand and delivery that exceed the generator's own smallest change: those found. */
  readonly foundOfExceeding: Part;
  /** Steps of six cycle scatters and more: found, of these within the later of 12 h and five cycles; delay, h. */
  readonly abruptFound: Part;
  readonly abruptWithin: Part;
  readonly abruptMedianH: number | null;
  readonly abrupt90H: number | null;
  /** Growing faults when found: effect, |ln|, and of these no larger than 8 % or two day scatters. */
  readonly growingEffect: number | null;
  readonly growingBar: number | null;
  readonly growingWithin: Part;
  readonly rightFirst: readonly (Part & { readonly sends: ChannelClass })[];
  /** A valve left shut, a bleed left open: known by its time. */
  readonly leftInTime: Part;
  /** Not starting, stopping short, never stopping: known within 1 h. */
  readonly runningWithinHour: Part;
  /** How days of generators in good order really scatter about their middle, |ln|: over the generators. */
  readonly demandScatter: Spread | null;
  readonly deliveryScatter: Spread | null;
};

export function diagnosisBars(worlds: readonly WorldScore[]): DiagnosisBars {
  const faults = worlds.flatMap((world) => world.faults);
  const good = worlds.flatMap((world) => world.goodOrder);
  const judged = faults.filter((fault) => fault.outcome === 'found' || fault.outcome === 'missed');
  const found = faults.filter((fault) => fault.outcome === 'found');
  const abrupt = judged.filter((fault) => fault.bars.abruptWithinH !== null);
  const abruptFound = abrupt.filter((fault) => fault.outcome === 'found');
  const delays = abruptFound.flatMap((fault) => fault.delayH ?? []);
  const growing = found.filter((fault) => fault.bars.effectWhenFound !== null);
  const growingOf = (value: (fault: FaultRow) => number | null): number | null => quantileOf(growing.flatMap((fault) => value(fault) ?? []), 0.5) ?? null;
  return {
    falseInGoodOrder: rateOf(good.reduce((sum, one) => sum + one.falseFindings, 0), good.reduce((sum, one) => sum + one.years, 0)),
    foundOfExceeding: partOf(judged.filter((fault) => fault.bars.exceeds === true), (fault) => fault.outcome === 'found'),
    abruptFound: partOf(abrupt, (fault) => fault.outcome === 'found'),
    abruptWithin: partOf(abruptFound, (fault) => (fault.delayH ?? Infinity) <= fault.bars.abruptWithinH!),
    abruptMedianH: quantileOf(delays, 0.5) ?? null,
    abrupt90H: quantileOf(delays, 0.9) ?? null,
    growingEffect: growingOf((fault) => fault.bars.effectWhenFound),
    growingBar: growingOf((fault) => fault.bars.effectBar),
    growingWithin: partOf(growing, (fault) => fault.bars.effectWhenFound! <= fault.bars.effectBar!),
    rightFirst: CHANNEL_CLASSES.map((sends) => ({ sends, ...partOf(found.filter((fault) => fault.sends === sends), (fault) => fault.fit === 'right') })),
    leftInTime: partOf(judged.filter((fault) => fault.bars.dueWithinH !== null), (fault) => fault.outcome === 'found' && (fault.delayH ?? Infinity) <= fault.bars.dueWithinH!),
    runningWithinHour: partOf(judged.filter((fault) => familyOf(fault.cause) === 'running'), (fault) => fault.outcome === 'found' && (fault.delayH ?? Infinity) <= 1),
    demandScatter: spreadOf(good.flatMap((one) => one.demandScatter ?? [])),
    deliveryScatter: spreadOf(good.flatMap((one) => one.deliveryScatter ?? [])),
  };
}

function partOf<T>(all: readonly T[], holds: (one: T) => boolean): Part {
  const part = all.filter(holds).length;
  return { of: all.length, part, share: all.length === 0 ? null : part / all.length };
}

function spreadOf(values: readonly number[]): Spread | null {
  if (values.length === 0) return null;
  const at = (share: number): number => quantileOf(values, share)!;
  return { p10: at(0.1), p50: at(0.5), p90: at(0.9) };
}
