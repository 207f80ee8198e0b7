import type { Cause, Finding } from '../../shared/finding.ts';
import { DAY_MS } from '../../shared/time.ts';

/** What a finding said at a time: the cause, with `undetermined` the causes it could be, and how sure. */
export type Said = { readonly cause: Cause; readonly among: readonly Cause[] | null; readonly probability: number };

/** What it said when it opened, when it is judged, and when it closed or the world ended. */
export type SaidInTime = { readonly atOpening: Said; readonly judged: Said; readonly atEnd: Said };

/**
 * What a finding said at a time, from its history: its newest line at or before `atMs`, or its oldest one where the history
 * doesn't reach back so far.
 */
function saidAt(finding: Finding, atMs: number): Said {
  const line = finding.history.findLast((one) => Date.parse(one.at) <= atMs) ?? finding.history[0];
  if (line === undefined) return saidNow(finding);
  const newest = line === finding.history.at(-1);
  return { cause: line.cause, among: line.among ?? (newest ? finding.among : null), probability: line.probability };
}

function saidNow(finding: Finding): Said {
  const named = finding.among ?? [finding.cause];
  return { cause: finding.cause, among: finding.among, probability: finding.causes.filter((one) => named.includes(one.cause)).reduce((sum, one) => sum + one.probability, 0) };
}

/** A finding is judged by what it says 24 h after it opened, or at its closing if that is earlier (design, section 5). */
export function saidOf(finding: Finding): SaidInTime {
  const openedMs = Date.parse(finding.openedAt);
  const closedMs = finding.closedAt === null ? Infinity : Date.parse(finding.closedAt);
  return { atOpening: saidAt(finding, openedMs), judged: saidAt(finding, Math.min(openedMs + DAY_MS, closedMs)), atEnd: saidAt(finding, Infinity) };
}
