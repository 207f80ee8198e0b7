import type { Cycle, DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { Finding } from '../../shared/finding.ts';
import type { GeneratorKey } from '../../shared/ids.ts';
import type { BeforeAfter, Verdict, Verification } from '../../shared/review.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import { studentQuantile } from '../change/student.ts';
import { changeFigure, figure, minutesFigure } from './figures.ts';
import { atSameHours, dutyOf, mean, spanOfCycles, spanOfDays, sum } from './matched.ts';

/** Days looked at on each side, and how many of them are the least that can be compared. */
const WINDOW_DAYS = 14;
const LEAST_DAYS = 3;
/** Of the early looks: fewer whole cycles since the visit than this are chance. */
const LEAST_CYCLES = 3;
/** A change of run time below a tenth is within what weather does; our choice. */
const WORTH_SAYING = 0.1;
/** Other figures that a visit may be for: a drop over the elements, kPa, and nitrogen, share. Common practice, no source. */
const DROP_WORTH_KPA = 5;
const NITROGEN_WORTH = 0.002;
/** Days are alike when their temperatures differ by no more than this, K. */
const ALIKE_K = 6;
/** What was let out at the visit is filled first. */
const SETTLES_MS = HOUR_MS;

export type VisitKnown = { readonly generator: GeneratorKey; readonly visit: Entry; readonly findings: readonly Finding[]; readonly atMs: number };

const finishedMs = (entry: Entry): number => Date.parse(entry.finishedAt ?? entry.startedAt);

/**
 * From when on the days before a visit show what it came for: the newest onset among findings that were open then; 0 without
 * one. Days in good order before that would make a mended machine look as it always did.
 */
function foundSinceMs({ findings, visit }: Pick<VisitKnown, 'findings' | 'visit'>): number {
  const startMs = Date.parse(visit.startedAt);
  const open = findings.filter((one) => Date.parse(one.openedAt) <= startMs && (one.closedAt === null || Date.parse(one.closedAt) > startMs));
  return Math.max(0, ...open.map((one) => Date.parse(one.onset.likely ?? one.openedAt)));
}

/** Those from a time on, if they are enough; else all. */
function fromOn<T>(all: readonly T[], startMs: (one: T) => number, fromMs: number, least: number): readonly T[] {
  const since = all.filter((one) => startMs(one) >= fromMs);
  return since.length >= least ? since : all;
}

/** The look 4 h or 24 h after a visit: whole cycles since then against those of earlier days at the same hours, since what it came for began. */
export function earlyLook(known: VisitKnown & { readonly look: '4 h' | '24 h'; readonly cycles: readonly Cycle[] }): Verification {
  const { visit } = known;
  const fromMs = finishedMs(visit) + SETTLES_MS;
  const whole = known.cycles.filter((cycle) => !cycle.cut && cycle.restS > 0);
  const after = whole.filter((cycle) => cycle.startMs >= fromMs && cycle.startMs + (cycle.runS + cycle.restS) * 1000 <= known.atMs);
  const all = atSameHours(whole.filter((cycle) => cycle.startMs + (cycle.runS + cycle.restS) * 1000 <= Date.parse(visit.startedAt)), fromMs, Math.max(fromMs + 2 * HOUR_MS, known.atMs), WINDOW_DAYS + 1);
  const days = fromOn(all, (one) => one[0]!.startMs, foundSinceMs(known), LEAST_DAYS);
  const before = days.flat();
  const sides = { before: spanOfCycles(before, days.length), after: spanOfCycles(after, after.length === 0 ? 0 : 1) };
  const base = { ...shared(known), look: known.look, ...sameUnit(sides) };
  const says: string[] = [];
  if (after.length < LEAST_CYCLES || days.length < LEAST_DAYS) {
    const usual = sides.before.meanRunMin === null || sides.before.meanRestMin === null ? '' : ` A usual cycle before the visit took ${minutesFigure(sides.before.meanRunMin + sides.before.meanRestMin)}.`;
    says.push(`${after.length} whole cycle${after.length === 1 ? '' : 's'} since the visit, and ${days.length} earlier day${days.length === 1 ? '' : 's'} at these hours: ${LEAST_CYCLES} of each are the least that can be compared.${usual}`);
    return { ...base, verdict: 'not enough data yet', says };
  }
  const dayDuties = days.map((one) => Math.log(spanOfCycles(one, 1).dutyRatio!));
  const verdict = verdictOfOne(dayDuties, Math.log(sides.after.dutyRatio!));
  says.push(...figuresIn(base.before, base.after), `Compared at the same hours of ${days.length} earlier days. Temperature isn’t matched in so short a time.`);
  return { ...base, verdict, says };
}

/** One new value against earlier days: beyond their scatter (97.5 %), and by more than a tenth. */
function verdictOfOne(before: readonly number[], after: number): Verdict {
  const n = before.length;
  const centre = sum(before) / n;
  const sd = Math.sqrt(sum(before.map((value) => (value - centre) ** 2)) / (n - 1));
  const difference = after - centre;
  const sure = Math.abs(difference) > studentQuantile(0.975, n - 1) * sd * Math.sqrt(1 + 1 / n);
  if (!sure || Math.abs(Math.expm1(difference)) <= WORTH_SAYING) return 'not improved';
  return difference < 0 ? 'improved' : 'worse';
}

/**
 * The look whenever a day closes: whole days after the visit against those before it that were about as warm. The visit's own
 * day is left out, and so are days that were mostly filling, purging or under test, and those before what the visit came for began.
 *
 * The verdict compares run time (Σ run ÷ Σ covered) and asks that the difference is larger than a tenth and than twice its
 * standard error from day to day. Where run time is the same, a smaller drop over the elements or better nitrogen is an
 * improvement too. It says nothing about a part that was changed in good time.
 */
export function lookByDays(known: VisitKnown & { readonly days: readonly DayRow[] }): Verification {
  const { visit } = known;
  const startMs = Date.parse(visit.startedAt);
  const usable = known.days.filter((day) => day.dutyRatio !== null && day.coveredS > 0 && day.holdingRatio >= 0.5 && !day.provisional);
  const after = usable.filter((day) => day.startMs >= finishedMs(visit)).slice(0, WINDOW_DAYS);
  const all = usable.filter((day) => day.endMs <= startMs && day.endMs > startMs - WINDOW_DAYS * DAY_MS - 1).slice(-WINDOW_DAYS);
  const { days: before, says: warmth } = aboutAsWarm(fromOn(all, (day) => day.startMs, foundSinceMs(known), LEAST_DAYS), after);
  const unit = after.at(-1)?.unit ?? before.at(-1)?.unit ?? 'relative';
  const sides = { before: spanOfDays(before, unit), after: spanOfDays(after, unit) };
  const enough = before.length >= LEAST_DAYS && after.length >= LEAST_DAYS;
  const says = enough ? [...figuresIn(sides.before, sides.after), `Compared over ${before.length} days before and ${after.length} after. ${warmth}`] : [`${after.length} whole days since the visit and ${before.length} before it: ${LEAST_DAYS} of each are the least that can be compared.`];
  return { ...shared(known), look: 'days', ...sides, verdict: enough ? verdictOfDays(before, after) : 'not enough data yet', says };
}

function verdictOfDays(before: readonly DayRow[], after: readonly DayRow[]): Verdict {
  const [was, is] = [dutyOf(before) ?? 0, dutyOf(after) ?? 0];
  const duty = moved(before.map((day) => day.dutyRatio!), after.map((day) => day.dutyRatio!), is - was, WORTH_SAYING * was);
  if (duty !== 0) return duty < 0 ? 'improved' : 'worse';
  const drop = movedOf(before, after, (day) => day.elementDropKPa?.value, DROP_WORTH_KPA);
  const nitrogen = movedOf(before, after, (day) => day.nitrogen?.value, NITROGEN_WORTH);
  if (drop > 0 || nitrogen < 0) return 'worse';
  return drop < 0 || nitrogen > 0 ? 'improved' : 'not improved';
}

function movedOf(before: readonly DayRow[], after: readonly DayRow[], value: (day: DayRow) => number | undefined, worth: number): number {
  const [was, is] = [before, after].map((days) => days.flatMap((day) => value(day) ?? [])) as [number[], number[]];
  return was.length < LEAST_DAYS || is.length < LEAST_DAYS ? 0 : moved(was, is, mean(is)! - mean(was)!, worth);
}

/** −1, 0 or 1: whether and which way it moved by more than `worth` and than twice its standard error. */
function moved(before: readonly number[], after: readonly number[], difference: number, worth: number): number {
  const error = Math.sqrt(varianceOfMean(before) + varianceOfMean(after));
  return Math.abs(difference) <= 2 * error || Math.abs(difference) <= worth ? 0 : Math.sign(difference);
}

function varianceOfMean(values: readonly number[]): number {
  const middle = sum(values) / values.length;
  return sum(values.map((value) => (value - middle) ** 2)) / (values.length - 1) / values.length;
}

/** The days before that were about as warm as those after; all of them where too few were, which is said. */
function aboutAsWarm(before: readonly DayRow[], after: readonly DayRow[]): { readonly days: readonly DayRow[]; readonly says: string } {
  const warmth = (day: DayRow): number | null => day.pipeC ?? day.roomC;
  const now = mean(after.flatMap((day) => warmth(day) ?? []));
  if (now === null || before.every((day) => warmth(day) === null)) return { days: before, says: 'Temperature isn’t sent, so it isn’t matched.' };
  const alike = before.filter((day) => Math.abs((warmth(day) ?? Infinity) - now) <= ALIKE_K);
  if (alike.length >= LEAST_DAYS) return { days: alike, says: `The days are within ${ALIKE_K} K of each other.` };
  const was = mean(before.flatMap((day) => warmth(day) ?? []))!;
  return { days: before, says: `It was ${figure(Math.abs(now - was))} K ${now < was ? 'colder' : 'warmer'} after the visit, and no days alike were found before it.` };
}

function shared({ generator, visit, findings, atMs }: VisitKnown): Pick<Verification, 'generator' | 'visit' | 'visitedAtMs' | 'atMs' | 'recurrence'> {
  return { generator, visit: visit.id, visitedAtMs: finishedMs(visit), atMs, recurrence: recurrenceOf(findings, finishedMs(visit), atMs) };
}

/** Demand and delivery are shown side by side in one unit only. */
function sameUnit(sides: { readonly before: BeforeAfter; readonly after: BeforeAfter }): { readonly before: BeforeAfter; readonly after: BeforeAfter } {
  return sides.before.unit === sides.after.unit ? sides : { before: { ...sides.before, demand: null, delivery: null }, after: sides.after };
}

function figuresIn(before: BeforeAfter, after: BeforeAfter): string[] {
  const says: string[] = [];
  if (before.dutyRatio !== null && after.dutyRatio !== null) says.push(`Run time ${figure(before.dutyRatio * 100)} % before, ${figure(after.dutyRatio * 100)} % after${before.dutyRatio > 0 ? ` (${changeFigure(after.dutyRatio / before.dutyRatio - 1)})` : ''}.`);
  if (before.demand !== null && after.demand !== null && before.delivery !== null && after.delivery !== null) says.push(`Demand ${changeFigure(after.demand / before.demand - 1)}, delivery ${changeFigure(after.delivery / before.delivery - 1)}.`);
  if (before.elementDropKPa !== null && after.elementDropKPa !== null) says.push(`Drop over the elements ${figure(before.elementDropKPa)} kPa before, ${figure(after.elementDropKPa)} kPa after.`);
  if (before.nitrogen !== null && after.nitrogen !== null) says.push(`Nitrogen ${(before.nitrogen * 100).toFixed(1)} % before, ${(after.nitrogen * 100).toFixed(1)} % after.`);
  return says;
}

/** A finding that opened after the visit with the cause of one that was there before it. */
export function recurrenceOf(findings: readonly Finding[], visitedMs: number, atMs: number): readonly [earlier: string, again: string] | null {
  const causesOf = (finding: Finding): readonly string[] => finding.among ?? [finding.cause];
  const before = findings.filter((one) => Date.parse(one.openedAt) <= visitedMs).sort((a, b) => Date.parse(b.openedAt) - Date.parse(a.openedAt));
  const after = findings.filter((one) => Date.parse(one.openedAt) > visitedMs && Date.parse(one.openedAt) <= atMs).sort((a, b) => Date.parse(a.openedAt) - Date.parse(b.openedAt));
  for (const again of after) {
    const earlier = before.find((one) => causesOf(one).some((cause) => causesOf(again).includes(cause)));
    if (earlier !== undefined) return [earlier.id, again.id];
  }
  return null;
}
