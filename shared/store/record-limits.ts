import { QUARANTINE_KEEP_DAYS, QUARANTINE_MAX_BYTES } from '../quarantine.ts';
import { LOOKS, type Verification } from '../review.ts';
import { DAY_MS, tickAfter } from '../time.ts';

/** Checkpoints of one generator: as far back as late readings still change what was folded. */
export const CHECKPOINTS_KEPT = 35;
/** How many quarantined items or lines a query gives unless it says otherwise. */
export const DEFAULT_LIMIT = 200;

/** How much quarantine is kept. */
export type QuarantineRoom = { readonly keepMs: number; readonly maxBytes: number };
export const QUARANTINE_ROOM: QuarantineRoom = { keepMs: QUARANTINE_KEEP_DAYS * DAY_MS, maxBytes: QUARANTINE_MAX_BYTES };

/**
 * A dirty mark: readings received from `receivedMs` on, and before `throughMs`, may not be folded yet.
 * `throughMs` is the tick that will see them, so that one write covers all readings of a generator until then,
 * and clearing up to a tick never takes away a mark that a younger reading relies on.
 */
export type DirtyMark = { readonly receivedMs: number; readonly throughMs: number };

/** The mark after one more reading; the same object if nothing changes, which is nearly always. */
export function marked(mark: DirtyMark | undefined, receivedMs: number): DirtyMark {
  if (mark === undefined) return { receivedMs, throughMs: tickAfter(receivedMs) };
  if (receivedMs >= mark.receivedMs && receivedMs < mark.throughMs) return mark;
  return { receivedMs: Math.min(mark.receivedMs, receivedMs), throughMs: Math.max(mark.throughMs, tickAfter(receivedMs)) };
}

/** The mark once everything received before `beforeMs` is folded; `undefined` if nothing is left. */
export function cleared(mark: DirtyMark, beforeMs: number): DirtyMark | undefined {
  if (mark.throughMs <= beforeMs) return undefined;
  return mark.receivedMs >= beforeMs ? mark : { receivedMs: beforeMs, throughMs: mark.throughMs };
}

/** Looks back at visits in the order in which stores give them: by visit, then by look. */
export function inOrderOfVisits(a: Verification, b: Verification): number {
  return a.visitedAtMs - b.visitedAtMs || (a.visit < b.visit ? -1 : a.visit > b.visit ? 1 : LOOKS.indexOf(a.look) - LOOKS.indexOf(b.look));
}
