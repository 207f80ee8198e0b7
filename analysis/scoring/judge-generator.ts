import { type Sees } from '../../shared/distinguish.ts';
import { type Cause, familyOf, type Finding } from '../../shared/finding.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { type Fit, fitOf, inOneGroup } from './fit.ts';
import { type Said, type SaidInTime, saidOf } from './said.ts';
import { type StatedChange, statedAt } from './stated-changes.ts';
import type { TrueFault, TrueUpset } from './truth.ts';

/**
 * What became of a finding. `right` and `family`: it fits a fault that was there. `excused`: an upset may be spoken of so.
 * `late`: it fits a fault that had just been mended. The rest are false.
 */
export type FindingOutcome = 'right' | 'family' | 'excused' | 'late' | 'false';
export type JudgedFinding = {
  readonly finding: Finding;
  readonly said: SaidInTime;
  readonly outcome: FindingOutcome;
  /** The fault that it fits, by its place in the truth handed over; null for none. */
  readonly fault: number | null;
  /** How it fitted at opening and at the end, against the same fault. */
  readonly fitAtOpening: Fit | null;
  readonly fitAtEnd: Fit | null;
  /** False while something else was the matter, rather than with a generator in good order. */
  readonly duringFault: boolean;
};

/**
 * What became of a fault. `unknowable`: it never showed itself as its rule wants. `young`: not found yet, and there for less
 * than a week. `behind-another`: when it began, a finding of the same family for another fault was open already, and a
 * generator has one finding a family.
 */
export type FaultOutcome = 'found' | 'missed' | 'unknowable' | 'young' | 'behind-another';
export type JudgedFault = {
  readonly fault: TrueFault;
  readonly outcome: FaultOutcome;
  /** Found by a finding that named it, or by one that named its family. */
  readonly fit: Fit | null;
  /** From its onset (of the running, of elements, of a shut drain and of what came by itself: from when it could be known) to the first finding that fits, h. */
  readonly delayH: number | null;
  readonly foundMs: number | null;
  readonly finding: string | null;
};

/** An upset may be spoken of until a day after its end has closed and been judged; what goes by the clock is known in an hour. */
const UPSET_LINGERS_MS = 36 * HOUR_MS;
const CLOCK_LINGERS_MS = 2 * HOUR_MS;
/** A finding that opens so soon after a fault was mended is about the days before. */
const MENDED_LINGERS_MS = DAY_MS;
const YOUNG_MS = 7 * DAY_MS;

export type GeneratorTruth = { readonly faults: readonly TrueFault[]; readonly upsets: readonly TrueUpset[]; readonly sees: Sees; readonly untilMs: number; /** What it stated that it can show; empty where it isn't known. */ readonly stated?: readonly StatedChange[] };

/** `thereMs`: from when it was the matter; loading and wear begin long before that. */
type Span = { readonly fault: TrueFault; readonly index: number; readonly onsetMs: number; readonly thereMs: number; readonly countsMs: number | null; readonly endMs: number };

/** Nothing shows of them at first: elements until they are due, a shut drain until its bowl is full or frozen. */
const SHOW_LATE: readonly Cause[] = ['element-loading', 'drain-stuck-closed'];

function spanOf(fault: TrueFault, index: number): Span {
  const onsetMs = Date.parse(fault.onset);
  const knowableMs = fault.knowableAt === null ? null : Date.parse(fault.knowableAt);
  const late = familyOf(fault.cause) === 'running' || SHOW_LATE.includes(fault.cause) || fault.byItself === true;
  return { fault, index, onsetMs, thereMs: thereFromMs(fault), countsMs: late ? knowableMs : onsetMs, endMs: fault.end === null ? Infinity : Date.parse(fault.end) };
}

/** From when something was the matter: a fault that came by itself is ordinary use until it can be known. */
export function thereFromMs(fault: TrueFault): number {
  return Date.parse(fault.byItself === true ? (fault.knowableAt ?? fault.onset) : fault.onset);
}

/** Judge everything that was found of one generator against what really was (design, section 5, "Scoring rules"). */
export function judgeGenerator(truth: GeneratorTruth, findings: readonly Finding[]): { readonly findings: readonly JudgedFinding[]; readonly faults: readonly JudgedFault[] } {
  const spans = truth.faults.map(spanOf);
  const ordered = [...findings].sort((a, b) => (a.openedAt < b.openedAt ? -1 : a.openedAt > b.openedAt ? 1 : a.id < b.id ? -1 : 1));
  const judged = ordered.map((finding) => judgeFinding(finding, spans, truth));
  return { findings: judged, faults: spans.map((span) => judgeFault(span, judged, truth)) };
}

function judgeFinding(finding: Finding, spans: readonly Span[], truth: GeneratorTruth): JudgedFinding {
  const said = saidOf(finding);
  const openedMs = Date.parse(finding.openedAt);
  const there = spans.filter((span) => openedMs >= span.onsetMs && openedMs <= span.endMs + MENDED_LINGERS_MS);
  const best = bestFit(said.judged, there, openedMs, truth.sees);
  const fits = (one: Said): Fit | null => (best === undefined ? null : fitOf(one, best.span.fault.cause, truth.sees));
  const base = { finding, said, fault: best?.span.index ?? null, fitAtOpening: fits(said.atOpening), fitAtEnd: fits(said.atEnd), duringFault: there.some((span) => openedMs >= span.thereMs && openedMs <= span.endMs) };
  // What an upset explains to the letter is no find of another cause of the family.
  const excused = isExcused(said, openedMs, truth.upsets);
  if (best !== undefined && !(excused && best.fit === 'family')) return { ...base, outcome: openedMs > best.span.endMs ? 'late' : best.fit };
  return { ...base, fault: null, fitAtOpening: null, fitAtEnd: null, outcome: excused ? 'excused' : 'false' };
}

/** The fault that a finding speaks of: named before family, one still there before one just mended, the newest before older ones. */
function bestFit(said: Said, there: readonly Span[], openedMs: number, sees: Sees): { readonly span: Span; readonly fit: 'right' | 'family' } | undefined {
  const fitting = there.flatMap((span) => {
    const fit = fitOf(said, span.fault.cause, sees);
    return fit === 'wrong' ? [] : [{ span, fit, place: (fit === 'right' ? 2 : 0) + (openedMs <= span.endMs ? 4 : 0) }];
  });
  return fitting.sort((a, b) => b.place - a.place || b.span.onsetMs - a.span.onsetMs)[0];
}

/** Said at opening or when judged what an upset may be taken for. */
function isExcused(said: SaidInTime, openedMs: number, upsets: readonly TrueUpset[]): boolean {
  return upsets.some(({ from, to, maySay }) => {
    const sinceMs = openedMs - Date.parse(to);
    const causes = openedMs < Date.parse(from) ? [] : maySay.filter((cause) => sinceMs <= (familyOf(cause) === 'running' ? CLOCK_LINGERS_MS : UPSET_LINGERS_MS));
    const may = (one: Said): boolean => causes.includes(one.cause) || (one.among ?? []).some((cause) => causes.includes(cause));
    return may(said.atOpening) || may(said.judged);
  });
}

function judgeFault(span: Span, judged: readonly JudgedFinding[], truth: GeneratorTruth): JudgedFault {
  const { untilMs, sees } = truth;
  const none = { fault: span.fault, fit: null, delayH: null, foundMs: null, finding: null };
  const runs = familyOf(span.fault.cause) === 'running';
  if (runs && span.countsMs === null) return { ...none, outcome: 'unknowable' };
  const first = judged.find((one) => one.fault === span.index && (one.outcome === 'right' || one.outcome === 'family'));
  if (first !== undefined) {
    const foundMs = Date.parse(first.finding.openedAt);
    return { fault: span.fault, outcome: 'found', fit: first.outcome === 'right' ? 'right' : 'family', delayH: Math.max(0, foundMs - (span.countsMs ?? span.onsetMs)) / HOUR_MS, foundMs, finding: first.finding.id };
  }
  if (span.countsMs === null || hidesInScatter(span, truth)) return { ...none, outcome: 'unknowable' };
  const beginsMs = span.countsMs;
  const hidden = judged.some((one) => one.fault !== null && one.fault !== span.index && one.outcome !== 'late' && coversOnset(one.finding, beginsMs) && hides(one.said.judged, span.fault.cause, sees));
  if (hidden) return { ...none, outcome: 'behind-another' };
  return { ...none, outcome: Math.min(untilMs, span.endMs) - span.countsMs < YOUNG_MS && span.endMs >= untilMs ? 'young' : 'missed' };
}

/**
 * What came by itself shows only in delivery, or in the drop over the elements where that is sent: a loss that is smaller than
 * the change which this generator stated that it can show can't be asked for. Where it stated none, nothing was promised.
 */
function hidesInScatter({ fault, countsMs, onsetMs }: Span, { sees, stated = [] }: GeneratorTruth): boolean {
  if (fault.byItself !== true || (fault.cause === 'element-loading' && sees.elementPressures)) return false;
  const smallest = statedAt(stated, countsMs ?? onsetMs)?.delivery ?? Infinity;
  return -Math.log(Math.max(1e-9, 1 - (fault.deliveryLoss ?? 0))) < smallest;
}

function coversOnset(finding: Finding, onsetMs: number): boolean {
  return Date.parse(finding.openedAt) <= onsetMs && (finding.closedAt === null || Date.parse(finding.closedAt) > onsetMs);
}

function hides(said: Said, cause: Cause, sees: Sees): boolean {
  return familyOf(said.cause) === familyOf(cause) || inOneGroup(said.cause, cause, sees) || (said.among ?? []).includes(cause);
}
