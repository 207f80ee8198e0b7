import type { DayRow } from '../../shared/cycle.ts';
import type { Entry } from '../../shared/entry.ts';
import type { Cause, Evidence } from '../../shared/finding.ts';
import type { ELEMENTS } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import type { Condition } from './condition.ts';
import { dayWords } from './evidence.ts';
import { MOST_DROP_KPA } from './gauge-faults.ts';
import { ELEMENTS_IN_DROP, ELEMENTS_WITH_DROP } from './mends.ts';

/** Days before and after a visit that are compared, and how long after it the comparison stands. */
const BEFORE_DAYS = 7;
const AFTER_DAYS = 7;
const LEAST_AFTER = 2;
/** A day whose drop is worse known than this, or one that can't be, tells nothing: its two gauges were read at different moments, or one of them is wrong. */
const KNOWN_SE_KPA = 3;
/** Elements that air goes through hold back more: less was read in a rest. Common practice, no source. */
const LEAST_DROP_KPA = 0.5;
/** A drop that had grown by so much over clean must fall back by most of that when the elements are new, kPa. Common practice, no source. */
const LOADED_KPA = 8;
const RESET_SHARE = 0.35;
/** Clean ones hold back less than this; where all were changed and as much stays as was before, within this share, the old ones are in place, though nobody saw them clean here. Common practice, no source. */
const NEVER_CLEAN_KPA = 30;
const STAYED_SHARE = 0.85;
/** A drop below this share of the clean one, and lower by so much, lacks an element. Common practice, no source. */
const LACKS_SHARE = 0.7;
const LACKS_KPA = 2.5;
/** What comes through a bowl without its element makes the membrane let more through, poorer: since the visit so much more is made (ln), and nitrogen is lower by so much (share), over the last so many days. Common practice, no source. */
const FOULED_DAYS = 5;
const FOULED_MORE = 0.05;
const FOULED_NITROGEN = 0.003;
/** New elements that hold back more than the old ones and than clean ones ever did, by this share and so much, pass more air. Common practice, no source. */
const MORE_SHARE = 1.3;
const MORE_KPA = 2.5;

/**
 * Whether a visit that says it changed elements did: the drop over them falls back to that of clean ones. One that stays says
 * that the old ones are still in place; one that falls below every clean value seen here says that a bowl was closed without
 * its element (design, section 6, `element-missing`), unless the visit left one of them in; one that rises though no more is made says that air leaves behind them.
 * Needs the pressures before and after the elements.
 */
export function elementsAtVisit(rows: readonly DayRow[], entries: readonly Entry[], timeZone: string): Condition | undefined {
  const visits = entries.filter((entry) => entry.kind === 'service' && entry.replaced.some((part) => ELEMENTS_WITH_DROP.has(part)));
  const visit = visits.at(-1);
  if (visit === undefined) return undefined;
  const endMs = Date.parse(visit.finishedAt ?? visit.startedAt);
  const drops = rows.flatMap((row) => (row.elementDropKPa === null || row.elementDropKPa.se > KNOWN_SE_KPA || row.elementDropKPa.value < LEAST_DROP_KPA || row.elementDropKPa.value > MOST_DROP_KPA ? [] : [{ startMs: row.startMs, endMs: row.endMs, kPa: row.elementDropKPa.value }]));
  const before = drops.filter((day) => day.endMs <= Date.parse(visit.startedAt)).slice(-BEFORE_DAYS);
  const after = drops.filter((day) => day.startMs >= endMs).slice(0, AFTER_DAYS);
  const oldest = visits.length > 1 ? Date.parse(visits.at(-2)!.finishedAt ?? visits.at(-2)!.startedAt) : -Infinity;
  const first = drops.filter((day) => day.startMs >= oldest && day.endMs <= Date.parse(visit.startedAt)).slice(0, AFTER_DAYS);
  if (before.length < 3 || after.length < LEAST_AFTER || first.length < 3) return undefined;
  const [wasKPa, nowKPa, sinceLastKPa, everKPa] = [before, after, first, drops.slice(0, AFTER_DAYS)].map((days) => median(days.map((day) => day.kPa))!) as [number, number, number, number];
  const cleanKPa = Math.min(sinceLastKPa, everKPa);
  const grownKPa = wasKPa - cleanKPa;
  const at = dayWords(visit.startedAt, timeZone);
  if (grownKPa > LOADED_KPA && nowKPa > wasKPa - RESET_SHARE * grownKPa) {
    const stayed = `and the pressure drop over them stayed at ${Math.round(nowKPa)} kPa (${Math.round(wasKPa)} kPa before; ${Math.round(cleanKPa)} kPa when it was first seen here)`;
    // A spent carbon element shows nothing (design, section 6).
    const left = ELEMENTS_IN_DROP.filter((part) => part !== 'carbon-element' && !visit.replaced.includes(part));
    if (left.length > 0) return atVisit([['element-loading', 0.85], ['element-missing', 0.15]], endMs, `The visit of ${at} changed the ${elementWords(ELEMENTS_IN_DROP.filter((part) => visit.replaced.includes(part)))}, ${stayed}: the ${elementWords(left)} ${left.length > 1 ? 'were left in and hold' : 'was left in and holds'} back the air.`);
    return atVisit(MISSING, endMs, `The visit of ${at} says that elements were changed, ${stayed}: the old ones seem to be in place.`);
  }
  if (nowKPa - restDropKPa(rows, endMs) > NEVER_CLEAN_KPA && nowKPa > STAYED_SHARE * wasKPa && ELEMENTS_IN_DROP.every((part) => part === 'carbon-element' || visit.replaced.includes(part))) return atVisit(MISSING, endMs, `The visit of ${at} says that the elements were changed, and the pressure drop over them stayed at ${Math.round(nowKPa)} kPa (${Math.round(wasKPa)} kPa before): no clean ones hold back so much, and the old ones seem to be in place.`);
  // Where no change of as many was seen before, nobody knows what clean ones hold back: those first seen may be years old, and on a generator that hardly runs they don't show it by loading.
  const sameSeen = visits.slice(0, -1).some((earlier) => visit.replaced.every((part) => !ELEMENTS_WITH_DROP.has(part) || earlier.replaced.includes(part)));
  if (sameSeen && nowKPa < LACKS_SHARE * cleanKPa && cleanKPa - nowKPa > LACKS_KPA) return atVisit(MISSING, endMs, `Since the visit of ${at} the pressure drop over the elements is ${nowKPa.toFixed(1)} kPa, well below the ${cleanKPa.toFixed(1)} kPa of clean ones here: a bowl may have been closed without its element.`);
  // What a later visit mended is made again: that is no membrane that lets more through.
  const mended = entries.some((entry) => entry.kind === 'service' && Date.parse(entry.startedAt) > endMs);
  const fouled = !mended && nowKPa < LACKS_SHARE * cleanKPa && cleanKPa - nowKPa > LACKS_KPA ? fouledSince(rows, visit, endMs) : undefined;
  if (fouled !== undefined) return atVisit([['element-missing', 0.75], ['membrane-decline', 0.25]], endMs, `Since the visit of ${at} the pressure drop over the elements is ${nowKPa.toFixed(1)} kPa (${cleanKPa.toFixed(1)} kPa of clean ones before), and ${fouled}: a bowl may have been closed without its element, so that water and oil reach the membrane.`);
  const made = (some: readonly { readonly startMs: number }[]): number | undefined => median(rows.filter((row) => some.some((day) => day.startMs === row.startMs)).flatMap((row) => row.delivery?.value ?? []));
  const [madeBefore, madeAfter] = [made(before), made(after)];
  // What was missing since the visit before and is back again holds back more by right.
  const mostKPa = Math.max(wasKPa, cleanKPa, wasKPa < LACKS_SHARE * everKPa ? everKPa : 0);
  const passesMore = nowKPa > MORE_SHARE * mostKPa && nowKPa - mostKPa > MORE_KPA;
  if (passesMore && madeBefore !== undefined && madeAfter !== undefined && madeAfter < madeBefore) return atVisit([['bleed-left-open', 0.75], ['drain-stuck-open', 0.15], ['sensor-fault', 0.1]], endMs, `Since the visit of ${at} the new elements hold back ${nowKPa.toFixed(1)} kPa (${wasKPa.toFixed(1)} kPa before), and no more is made: more air goes through them than comes to the tank. A bleed behind them may stand open.`);
  return undefined;
}

/** What the two gauges differ by at rest, when nothing flows, kPa: their own error, and no drop. */
function restDropKPa(rows: readonly DayRow[], sinceMs: number): number {
  return median(rows.filter((row) => row.startMs >= sinceMs).slice(0, AFTER_DAYS).flatMap(({ dischargeRestKPa, feedRestKPa }) => (typeof dischargeRestKPa === 'number' && typeof feedRestKPa === 'number' ? [dischargeRestKPa - feedRestKPa] : []))) ?? 0;
}

/** How the membrane has changed since elements were changed, as one does that gets dirt; `undefined` if it hasn't. */
function fouledSince(rows: readonly DayRow[], visit: Entry, endMs: number): string | undefined {
  const middleOf = (some: readonly DayRow[], value: (row: DayRow) => number | undefined): number | undefined => {
    const values = some.flatMap((row) => value(row) ?? []);
    return values.length < 2 ? undefined : median(values);
  };
  const since = rows.filter((row) => row.startMs >= endMs);
  if (since.length < 2 * FOULED_DAYS) return undefined;
  const [madeFirst, madeNow] = [since.slice(0, FOULED_DAYS), since.slice(-FOULED_DAYS)].map((some) => middleOf(some, (row) => row.delivery?.value));
  const before = rows.filter((row) => row.endMs <= Date.parse(visit.startedAt)).slice(-BEFORE_DAYS);
  const [purityBefore, purityNow] = [before, since.slice(-FOULED_DAYS)].map((some) => middleOf(some, (row) => row.nitrogen?.value));
  if (madeFirst === undefined || madeNow === undefined || purityBefore === undefined || purityNow === undefined) return undefined;
  if (Math.log(madeNow / madeFirst) < FOULED_MORE || purityBefore - purityNow < FOULED_NITROGEN) return undefined;
  return `since then ${Math.round(100 * (madeNow / madeFirst - 1))} % more is made at less nitrogen, ${(100 * purityNow).toFixed(2)} % instead of ${(100 * purityBefore).toFixed(2)} %`;
}

const MISSING = [['element-missing', 0.85], ['sensor-fault', 0.15]] as const;

/** "particulate element and carbon element". */
function elementWords(parts: readonly (typeof ELEMENTS)[number][]): string {
  return parts.map((part) => part.replace('-', ' ')).join(' and ');
}

function atVisit(causes: readonly (readonly [Cause, number])[], sinceMs: number, says: string): Condition {
  const evidence: Evidence[] = [{ says, for: causes[0]![0], weight: 2.5 }];
  return { slot: 'delivery', cause: causes[0]![0], causes: causes.map(([cause, probability]) => ({ cause, probability })), among: null, missingChannels: [], onset: { earliestMs: sinceMs - DAY_MS / 4, likelyMs: sinceMs, latestMs: sinceMs }, evidence, urgent: false, size: 1, ofVisit: true };
}
