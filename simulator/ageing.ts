import { ELEMENTS } from '../shared/registry.ts';
import type { OwnLook } from './own-state.ts';
import type { GeneratorScenario, Severity, VisitScenario } from './scenario.ts';

/** What comes about without any fault of a story: elements that load, a compressor that wears. */
export type AgedFault = { readonly cause: 'element-loading' | 'compressor-side'; readonly onsetMs: number; readonly knowableMs: number; readonly endMs: number | null; readonly endedBy: string | null; readonly severity: Severity; /** The largest share of delivery that it took, 0..1. */ readonly deliveryLoss: number };
type Cause = AgedFault['cause'];

/** So far over clean the elements are due: the lower end of common practice. */
export const DUE_KPA = 35;
/** Or so much delivery is lost since it was last seen to: a tenth more run time. */
export const LOST_RATIO = 0.1;
/** What has begun ends when this share of the bar is left. */
const LET_GO = 0.7;
/** From this share of the bar on it is no fault, but true: elements that hold 17 kPa back, a twentieth of delivery that is lost. */
const HALF_WAY = 0.5;
/** Where a limit of delivery is passed, a cause counts that takes half as much as the one that takes most. */
const SHARE_OF_MOST = 0.5;

const PARTS: Readonly<Record<Cause, readonly string[]>> = { 'element-loading': ELEMENTS.filter((part) => part !== 'intake-element'), 'compressor-side': ['compressor', 'intake-element'] };

export type AgeingFrame = {
  readonly looks: readonly OwnLook[];
  readonly generator: GeneratorScenario;
  /** As registered: delivery as a share of the rated, purity of the product. */
  readonly limits: { readonly deliveryShare: number; readonly nitrogen: number };
  readonly startMs: number;
  readonly dayMs: (day: number) => number;
};

/**
 * The causes that stand in no story but in the machine: from when they could be known, and until which visit. Elements that a
 * story loads fast are that story's.
 */
export function agedFaults(frame: AgeingFrame): AgedFault[] {
  return agedPast(1, frame);
}

/** From when to when a part was half-way to its bar and more: nobody is asked to find it, and who says it says what is. */
export function halfWayAged(frame: AgeingFrame): { readonly cause: Cause; readonly fromMs: number; readonly toMs: number }[] {
  return agedPast(HALF_WAY, frame).map(({ cause, knowableMs, endMs }) => ({ cause, fromMs: knowableMs, toMs: endMs ?? Infinity }));
}

function agedPast(bar: number, frame: AgeingFrame): AgedFault[] {
  return (['element-loading', 'compressor-side'] as const).flatMap((cause) => agedBy(cause, bar, frame)).sort((a, b) => a.knowableMs - b.knowableMs);
}

function agedBy(cause: Cause, bar: number, frame: AgeingFrame): AgedFault[] {
  const found: AgedFault[] = [];
  const changes = changesOf(cause, frame);
  let sinceMs = frame.startMs;
  let base: number | undefined;
  let going: AgedFault | undefined;
  for (const look of frame.looks) {
    const change = changes.findLast((one) => one.atMs <= look.atMs);
    if (change !== undefined && change.atMs > sinceMs) {
      sinceMs = change.atMs;
      base = undefined;
    }
    const lost = cause === 'element-loading' ? look.byElements : look.byCompressor;
    base = base === undefined ? lost : Math.min(base, lost);
    const size = sizeOf(cause, look, lost - base, frame.limits, going !== undefined);
    if (going !== undefined && size < LET_GO * bar) {
      found.push({ ...going, endMs: change?.atMs ?? look.atMs, endedBy: change?.visit ?? null });
      going = undefined;
    } else if (going !== undefined) going = { ...going, deliveryLoss: Math.max(going.deliveryLoss, lost), severity: harsher(going.severity, severityOf(size)) };
    else if (size >= bar && !toldBy(cause, frame, look.atMs)) going = { cause, onsetMs: sinceMs, knowableMs: look.atMs, endMs: null, endedBy: null, severity: severityOf(size), deliveryLoss: lost };
  }
  return going === undefined ? found : [...found, going];
}

/** How far past its bar, 1 = just there. */
function sizeOf(cause: Cause, look: OwnLook, lostSince: number, limits: AgeingFrame['limits'], going: boolean): number {
  const elements = cause === 'element-loading';
  const share = past(1 - look.deliveryShare, 1 - limits.deliveryShare, elements ? look.byElements : look.byCompressor, Math.max(look.byElements, look.byCompressor), going);
  const purity = past(1 - look.nitrogen, 1 - limits.nitrogen, elements ? look.purityByElements : look.purityByCompressor, Math.max(look.purityByElements, look.purityByCompressor), going);
  return Math.max(elements ? look.overCleanKPa / DUE_KPA : 0, lostSince / LOST_RATIO, share, purity);
}

/** How far a limit is passed, 1 = just so, where this cause has a good part in it; else 0. */
function past(loss: number, limit: number, own: number, most: number, going: boolean): number {
  const counts = own > 0 && (going || own >= SHARE_OF_MOST * most);
  return counts && loss > limit ? loss / limit : 0;
}

const ORDER: readonly Severity[] = ['barely', 'plain', 'marked', 'urgent'];
/** Twice the bar, a drop of 70 kPa or a fifth of delivery, can't wait. */
function severityOf(size: number): Severity {
  return size >= 2 ? 'urgent' : size >= 1.5 ? 'marked' : 'plain';
}
function harsher(a: Severity, b: Severity): Severity {
  return ORDER.indexOf(a) > ORDER.indexOf(b) ? a : b;
}

type Change = { readonly atMs: number; readonly visit: string };
/** Visits that really changed one of its parts. */
function changesOf(cause: Cause, { generator, dayMs }: AgeingFrame): Change[] {
  const really = (visit: VisitScenario): boolean => visit.replaced.some((part) => PARTS[cause].includes(part) && !(visit.notReally ?? []).includes(part));
  return generator.visits.filter(really).map((visit) => ({ atMs: dayMs(visit.atDay + visit.hours / 24), visit: visit.id }));
}

/** A fault of the story says it already; one of elements as far as the visit that changed them. */
function toldBy(cause: Cause, frame: AgeingFrame, atMs: number): boolean {
  return frame.generator.faults.some((fault) => {
    const fromMs = frame.dayMs(fault.fromDay);
    const toMs = fault.toDay === undefined ? Infinity : frame.dayMs(fault.toDay);
    const endMs = cause === 'element-loading' ? (loadingWithin(frame, fromMs, toMs).change?.atMs ?? toMs) : toMs;
    return fault.cause === cause && atMs >= fromMs && atMs < endMs;
  });
}

/** When the elements were first so loaded that they are due in a span, and the first visit in it that really changed them. */
export function loadingWithin(frame: AgeingFrame, fromMs: number, toMs: number): { readonly knowableMs: number | null; readonly change: Change | undefined } {
  const change = changesOf('element-loading', frame).find((one) => one.atMs > fromMs && one.atMs <= toMs);
  // The look before the span says how it began.
  const before = frame.looks.findLast((look) => look.atMs <= fromMs);
  const first = [...(before === undefined ? [] : [{ ...before, atMs: fromMs }]), ...frame.looks.filter((look) => look.atMs > fromMs)].find((look) => look.overCleanKPa >= DUE_KPA && look.atMs < Math.min(toMs, change?.atMs ?? Infinity));
  return { knowableMs: first?.atMs ?? null, change };
}
