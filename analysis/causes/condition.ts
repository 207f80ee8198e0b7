import type { Cause, CauseProbability, Evidence } from '../../shared/finding.ts';
import type { CycleWeek } from './recent-cycles.ts';

/**
 * What a condition is about. At most one condition holds in a slot at a time, so a finding stays the same
 * finding while its likely cause is revised; two slots at once are two causes at once.
 */
export const SLOTS = ['demand', 'delivery', 'duty', 'running', 'supply', 'power', 'data', 'counters', 'sensor', 'set-point'] as const;
export type Slot = (typeof SLOTS)[number];

/** What days with a run without end seem to say is its doing, until it is over. */
export const SPOILT_BY_ENDLESS: readonly Slot[] = ['demand', 'delivery', 'duty', 'set-point'];

/** Gauges from which neither demand nor delivery is read. */
export type LyingGauge = 'elements' | 'nitrogen' | 'piping';

export type OnsetMs = { readonly earliestMs: number | null; readonly likelyMs: number | null; readonly latestMs: number | null };

/** What analysis believes about a generator at a tick, before it is made a finding. */
export type Condition = {
  readonly slot: Slot;
  readonly cause: Cause;
  /** Sums to 1, most likely first; last, as `undetermined`, what is left for something else or nothing at all. */
  readonly causes: readonly CauseProbability[];
  readonly among: readonly Cause[] | null;
  readonly missingChannels: readonly string[];
  readonly onset: OnsetMs;
  readonly evidence: readonly Evidence[];
  /** Wants somebody now: a valve, a compressor, the mains. */
  readonly urgent: boolean;
  /** How large, in scatters or shares; a finding closed by a person comes back only when this has grown by half. */
  readonly size: number;
  /** About a sensor that neither demand nor delivery is read from: what else seems to have changed is none of its doing. */
  readonly aside?: boolean;
  /** Its tank is held above its stop, and its relief valve lets off what is made: neither demand nor delivery can be told. */
  readonly letsOff?: boolean;
  /** Which gauges it says are wrong, where none of them is the tank's: what they show is of no account, and all else is. */
  readonly lying?: readonly LyingGauge[];
  /** The tank's gauge is wrong: what it shows of starts and stops is none of the compressor's. */
  readonly ofTank?: boolean;
  /** About the visit itself: told whatever was told before it. */
  readonly ofVisit?: boolean;
  /** What it explains beside what its slot does, for as long as its finding is open. */
  readonly hides?: readonly Slot[];
  /** The weeks that it was found against, which its finding goes on being held against: later ones are its own. */
  readonly against?: readonly CycleWeek[];
};

/** Two conditions that say the same to a person. */
export function sameWords(a: Condition, b: Condition): boolean {
  return a.cause === b.cause && Math.abs((a.causes[0]?.probability ?? 0) - (b.causes[0]?.probability ?? 0)) < 0.05 && JSON.stringify(a.among) === JSON.stringify(b.among);
}

/** A condition about which there is one cause to name. */
export function certainCondition(slot: Slot, cause: Cause, probability: number, sinceMs: number | null, says: string, urgent: boolean): Condition {
  const rest = Math.round((1 - probability) * 1000) / 1000;
  return {
    slot,
    cause,
    causes: rest > 0 ? [{ cause, probability }, { cause: 'undetermined', probability: rest }] : [{ cause, probability: 1 }],
    among: null,
    missingChannels: [],
    onset: { earliestMs: sinceMs, likelyMs: sinceMs, latestMs: sinceMs },
    evidence: [{ says, for: cause, weight: Math.round(Math.log(probability / Math.max(1 - probability, 0.01)) * 10) / 10 }],
    urgent,
    size: 1,
  };
}

/** A condition that may have one of several causes, the likeliest first, which wants somebody now. */
export function mixedCondition(slot: Slot, causes: readonly (readonly [Cause, number])[], sinceMs: number | null, evidence: readonly Evidence[]): Condition {
  const named: CauseProbability[] = causes.map(([cause, probability]) => ({ cause, probability }));
  return { slot, cause: named[0]!.cause, causes: named, among: null, missingChannels: [], onset: { earliestMs: sinceMs, likelyMs: sinceMs, latestMs: sinceMs }, evidence, urgent: true, size: 1 };
}
