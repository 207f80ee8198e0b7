import { type Sees } from '../../shared/distinguish.ts';
import { type Cause, familyOf, type Finding } from '../../shared/finding.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { type Fit, fitOf, inOneGroup } from './fit.ts';
import { type Said, type SaidInTime, saidOf } from './said.ts';
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
  /** From its onset (a fault of the running: from when it could be known) to the first finding that fits, h. */
  readonly delayH: number | null;
  readonly foundMs: number | null;
  readonly finding: string | null;
};

/** An upset may be spoken of until a day after its end has closed and been judged. */
const UPSET_LINGERS_MS = 36 * HOUR_MS;
/** A finding that opens so soon after a fault was mended is about the days before. */
const MENDED_LINGERS_MS = DAY_MS;
const YOUNG_MS = 7 * DAY_MS;

export type GeneratorTruth = { readonly faults: readonly TrueFault[]; readonly upsets: readonly TrueUpset[]; readonly sees: Sees; readonly untilMs: number };

type Span = { readonly fault: TrueFault; readonly index: number; readonly onsetMs: number; readonly countsMs: number | null; readonly endMs: number };

function spanOf(fault: TrueFault, index: number): Span {
  const onsetMs = Date.parse(fault.onset);
  const knowableMs = fault.knowableAt === null ? null : Date.parse(fault.knowableAt);
  return { fault, index, onsetMs, countsMs: familyOf(fault.cause) === 'running' ? knowableMs : onsetMs, endMs: fault.end === null ? Infinity : Date.parse(fault.end) };
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
  const base = { finding, said, fault: best?.span.index ?? null, fitAtOpening: fits(said.atOpening), fitAtEnd: fits(said.atEnd), duringFault: there.some((span) => openedMs <= span.endMs) };
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
  const may = (one: Said, causes: readonly Cause[]): boolean => causes.includes(one.cause) || (one.among ?? []).some((cause) => causes.includes(cause));
  return upsets.some((upset) => openedMs >= Date.parse(upset.from) && openedMs <= Date.parse(upset.to) + UPSET_LINGERS_MS && (may(said.atOpening, upset.maySay) || may(said.judged, upset.maySay)));
}

function judgeFault(span: Span, judged: readonly JudgedFinding[], { untilMs, sees }: GeneratorTruth): JudgedFault {
  const none = { fault: span.fault, fit: null, delayH: null, foundMs: null, finding: null };
  if (span.countsMs === null) return { ...none, outcome: 'unknowable' };
  const first = judged.find((one) => one.fault === span.index && (one.outcome === 'right' || one.outcome === 'family'));
  if (first !== undefined) {
    const foundMs = Date.parse(first.finding.openedAt);
    return { fault: span.fault, outcome: 'found', fit: first.outcome === 'right' ? 'right' : 'family', delayH: Math.max(0, foundMs - span.countsMs) / HOUR_MS, foundMs, finding: first.finding.id };
  }
  const hidden = judged.some((one) => one.fault !== null && one.fault !== span.index && one.outcome !== 'late' && coversOnset(one.finding, span.onsetMs) && hides(one.said.judged, span.fault.cause, sees));
  if (hidden) return { ...none, outcome: 'behind-another' };
  return { ...none, outcome: Math.min(untilMs, span.endMs) - span.countsMs < YOUNG_MS && span.endMs >= untilMs ? 'young' : 'missed' };
}

function coversOnset(finding: Finding, onsetMs: number): boolean {
  return Date.parse(finding.openedAt) <= onsetMs && (finding.closedAt === null || Date.parse(finding.closedAt) > onsetMs);
}

function hides(said: Said, cause: Cause, sees: Sees): boolean {
  return familyOf(said.cause) === familyOf(cause) || inOneGroup(said.cause, cause, sees) || (said.among ?? []).includes(cause);
}
