import type { DayRow } from '../../shared/cycle.ts';
import type { Sees } from '../../shared/distinguish.ts';
import type { Cause, CauseProbability } from '../../shared/finding.ts';
import type { GeneratorRecord, RegisteredGenerator } from '../../shared/registry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median, quantile } from '../change/robust.ts';
import type { Condition, Slot } from './condition.ts';
import { type Fill, isUsableDay, lastRows } from './day-series.ts';
import { nameCause } from './name-cause.ts';

/** What is just at a limit must not come and go, and a rating is for another room and another pressure: 6 % of the rated delivery and 0.1 % nitrogen are what meters agree within. Common practice, no source. */
const DELIVERY_MARGIN = 0.06;
const NITROGEN_MARGIN = 0.001;
/** A day's delivery counts by the upper end of its error: where the tank is read more rarely than it is filled, it seems too low each day alike. */
const SURE_SE = 1.64;
/** The product is poor in the first ten minutes of a run (design, section 6): shorter runs say nothing against a limit. */
const SETTLED_RUN_S = 600;
/** Where the middle run is too short to be judged, the few that aren't are no measure, s. */
const JUDGED_RUN_S = 450;

/** Whether a day's nitrogen may be held against a limit: its runs were long enough, or it isn't measured in runs. */
export function nitrogenSettled(row: DayRow, nitrogenAt: GeneratorRecord['nitrogenAt']): boolean {
  return nitrogenAt !== 'product' || (row.longestRunS >= SETTLED_RUN_S && row.runS >= JUDGED_RUN_S * row.starts);
}

/** Share of the band. Common practice, no source. */
const REFILL_SHARE = 0.5;

/** Days of which the middle one must be past a limit: three at least, and up to seven, so that what is near a limit doesn't come and go. */
const LEAST_DAYS = 3;
const DAYS = 7;
const AFTER_SERVICE_MS = 2 * DAY_MS;
/** Where the weeks before were past the limit of delivery, it must be above it by so much of the rating to be over. Common practice, no source. */
const LATELY_DAYS = 28;
const HOLDS_MARGIN = 0.05;
/** Days that say what it was like when it was first heard, if none older were dropped. */
const FIRST_DAYS = 14;
const MOST_ROWS = 400;

/**
 * Limits that hold whatever the baseline is, so that a generator which is bad when it is connected is found:
 * duty ratio, drop over the elements, nitrogen, share of the rated delivery (design, section 5). Days before `sinceMs`, the
 * last service, say nothing about now, nor do those of a filling.
 */
export function absoluteLimits(rows: readonly DayRow[], registered: RegisteredGenerator, sees: Sees, sinceMs: number, fills: readonly Fill[]): Condition[] {
  const last = lastRows(rows, DAYS, (row) => row.startMs >= sinceMs && isUsableDay(row) && !fills.some(([fromMs, toMs]) => row.startMs < toMs && row.endMs > fromMs));
  if (last.length < LEAST_DAYS) return [];
  const { limits, nitrogenLimit, nitrogenAt, ratedNLPerMin, layout } = registered.generator;
  // With an air receiver the compressor's own run says little of what the membrane makes: `producing` must be sent.
  const runCounts = layout === 'direct' || last.some((row) => row.heard.producing !== undefined);
  const middle = (pick: (row: DayRow) => number | null | undefined, least = 2): number | undefined => {
    const values = last.flatMap((row) => pick(row) ?? []);
    return values.length < least ? undefined : median(values);
  };
  // Of days since a service none was good: it may have left something open.
  const justServed = sinceMs > 0 && last[0]!.startMs - sinceMs < AFTER_SERVICE_MS;
  const conditions: Condition[] = [];
  const add = (slot: Slot, causes: readonly CauseProbability[], says: string, size: number): void => {
    conditions.push(beyond(slot, causes, says, size, sees));
  };
  const drop = middle((row) => row.elementDropKPa?.value);
  if (drop !== undefined && drop > limits.elementDropKPa) add('delivery', shares({ 'element-loading': 9, 'drain-stuck-closed': 1 }), `The elements' pressure drop is ${Math.round(drop)} kPa; the limit is ${limits.elementDropKPa} kPa.`, drop / limits.elementDropKPa);
  const { cutInKPa = -Infinity, cutOutKPa = cutInKPa } = registered.generator;
  // Runs that begin far below the start fill more than a band, and counted fillings would say too little of them; and they follow rests in which air came in.
  const refills = (row: DayRow): boolean => row.cutInKPa !== null && row.cutInKPa < cutInKPa - REFILL_SHARE * (cutOutKPa - cutInKPa);
  const delivers = (row: DayRow): boolean => row.unit === 'NL/min' && !refills(row) && balanceCloses(row, registered);
  const delivery = middle((row) => (delivers(row) ? row.delivery?.value : undefined));
  const atMost = middle((row) => (delivers(row) && row.delivery !== null ? row.delivery.value + SURE_SE * row.delivery.se : undefined));
  const leastShare = limits.deliveryShare - DELIVERY_MARGIN;
  const isBelow = (share: number): boolean => share < leastShare + (wasLow() ? HOLDS_MARGIN : 0);
  const runS = meanRunS(last, registered.generator.tankLitres);
  const isLow = ratedNLPerMin !== undefined && atMost !== undefined && runS >= (last.every((row) => row.source === 'tank-pressure') ? REPORTS_TO_TELL : REPORTS_TO_RATE) * readEveryS(last) && isBelow(flowing(atMost, runS) / ratedNLPerMin) && isBelow((filledInAll(last.filter((row) => !refills(row)), registered) ?? 0) / ratedNLPerMin);
  // What lies about its limit is told once, and not each time that it dips.
  function wasLow(): boolean {
    const weeks = lastRows(rows, LATELY_DAYS, (row) => row.startMs >= sinceMs && delivers(row) && row.delivery !== null);
    return weeks.length > DAYS && median(weeks.map((row) => row.delivery!.value + SURE_SE * row.delivery!.se))! / ratedNLPerMin! < leastShare;
  }
  const everLow = isLow && rows.length < MOST_ROWS && sinceMs <= rows[0]!.startMs && [rows.slice(0, FIRST_DAYS), rows].every((some) => (median(some.flatMap((row) => (delivers(row) ? (row.delivery?.value ?? []) : []))) ?? Infinity) / ratedNLPerMin < leastShare);
  const ever = everLow ? ' It has been so since it was first heard: its rating or the size of its tank may be wrong in the registry.' : '';
  const nitrogen = middle((row) => (nitrogenSettled(row, nitrogenAt) && !refills(row) ? row.nitrogen?.value : null), LEAST_DAYS);
  if (runCounts && isLow) add('delivery', lostDelivery(drop, nitrogen === undefined ? undefined : nitrogen < nitrogenLimit, justServed), `It delivers ${delivery!.toFixed(1)} NL/min, ${Math.round((delivery! / ratedNLPerMin) * 100)} % of its rated ${ratedNLPerMin} NL/min; the limit is ${Math.round(limits.deliveryShare * 100)} %.${ever}`, ratedNLPerMin / delivery!);
  else if (nitrogen !== undefined && nitrogen < nitrogenLimit - NITROGEN_MARGIN) add('delivery', NITROGEN_LOW, `Nitrogen is ${(nitrogen * 100).toFixed(2)} %; the limit is ${nitrogenLimit * 100} %.`, (1 - nitrogen) / (1 - nitrogenLimit));
  const duty = middle((row) => row.dutyRatio);
  if (runCounts && duty !== undefined && duty > limits.dutyRatio) {
    // What it made before it ran so much says nothing of why it does.
    const made = median(last.flatMap((row) => (row.dutyRatio !== null && row.dutyRatio > limits.dutyRatio && row.unit === 'NL/min' ? (madeOn(row) ?? []) : [])));
    const share = made !== undefined && ratedNLPerMin !== undefined ? made / ratedNLPerMin : undefined;
    const says = `The compressor runs ${Math.round(duty * 100)} % of the time; the limit is ${Math.round(limits.dutyRatio * 100)} %.`;
    if (share !== undefined && share >= HEALTHY_SHARE) add('demand', shares({ leak: 9, 'bleed-left-open': 1 }), `${says} It delivers ${Math.round(share * 100)} % of its rated flow, so more is drawn.`, duty / limits.dutyRatio);
    else if (conditions.length === 0) add('duty', share === undefined ? (duty > ALL_DAY ? ALL_DAY_LONG : ANY_RUN_TIME) : lostDelivery(drop, nitrogen === undefined ? undefined : nitrogen < nitrogenLimit, justServed, last.some((row) => row.dutyRatio !== null && row.dutyRatio < limits.dutyRatio / 2)), says, duty / limits.dutyRatio);
  }
  return conditions.slice(0, 2);
}

/** Fewer reports of the tank in a run don't show how fast it rose. Common practice, no source. */
const REPORTS_TO_RATE = 2;
/** Where the tank alone tells of runs, they seem longer than they are by up to two reports. Common practice, no source. */
const REPORTS_TO_TELL = 3;
/** How a tank that is read by the clock is told: as often on most days, within this share. Common practice, no source. */
const BY_CLOCK_SHARE = 0.1;

/** How often the tank is read, s; 0 where it is told on change, which says nothing of how well a run is seen. */
function readEveryS(rows: readonly DayRow[]): number {
  const heard = rows.map((row) => row.heard['tank-pressure'] ?? 0);
  const [quarter, middle, most] = [0.25, 0.5, 0.75].map((share) => quantile(heard, share) ?? 0) as [number, number, number];
  return middle > 0 && most - quarter <= BY_CLOCK_SHARE * middle ? DAY_S / middle : 0;
}

/** Where starts aren't told, by how long a band takes at what is made. */
function meanRunS(rows: readonly DayRow[], tankLitres = 0): number {
  const sum = (of: (row: DayRow) => number): number => rows.reduce((total, row) => total + of(row), 0);
  const starts = sum((row) => row.starts);
  if (starts > 0) return sum((row) => row.runS) / starts;
  const fillsS = rows.flatMap(({ delivery, cutInKPa, cutOutKPa }) => (delivery === null || cutInKPa === null || cutOutKPa === null ? [] : [((cutOutKPa - cutInKPa) * tankLitres * NL_PER_LITRE_AND_KPA * 60) / delivery.value]));
  return median(fillsS.filter((one) => one > 0)) ?? Infinity;
}

/** A run makes nothing until its bowls and its membrane are filled, and a rating is of what flows then: of runs shorter than this it is a fifth and more, s. Common practice, no source. */
const SHORT_RUN_S = 300;
const DEAD_TIME_S = 60;

/** What flows once it flows, of what runs so long made in the mean. */
function flowing(nlPerMin: number, runS: number): number {
  return runS < SHORT_RUN_S ? nlPerMin / (1 - Math.min(0.5, DEAD_TIME_S / runS)) : nlPerMin;
}

/** Where bursts are more of what is drawn they go on in runs, and what they take there isn't seen to be made. Common practice, no source. */
const MOST_BURSTS = 0.4;
/** Where neither runs nor bursts are told, a tank that is read more rarely shows neither the end of a run nor what was drawn in it, s. Common practice, no source. */
const SEES_BURSTS_S = 240;
/** Each start fills the band: a day whose slopes say that so many times less was made is one that its samples don't show. Common practice, no source. */
const FILLED_TIMES = 1.15;

/** Whether a day's delivery may be held against a rating: the balance of its tank closes. */
export function balanceCloses(row: DayRow, registered: RegisteredGenerator): boolean {
  const isBlind = row.source === 'duty' && row.burstShare == null && DAY_S / Math.max(1, row.heard['tank-pressure'] ?? 0) > SEES_BURSTS_S;
  return !isBlind && (row.burstShare ?? 0) <= MOST_BURSTS && (row.delivery === null || (filledNLPerMin(row, registered) ?? 0) <= FILLED_TIMES * row.delivery.value);
}

/** The same of several days together: one that starts once or twice a day has no day of which it can be said. Infinite where they hold too few runs to tell. */
function filledInAll(rows: readonly DayRow[], registered: RegisteredGenerator): number | undefined {
  const sum = (of: (row: DayRow) => number): number => rows.reduce((total, row) => total + of(row), 0);
  const middle = (of: (row: DayRow) => number | null): number | null => median(rows.flatMap((row) => of(row) ?? [])) ?? null;
  const heard = { 'tank-pressure': sum((row) => row.heard['tank-pressure'] ?? 0) / Math.max(1, rows.length) };
  const starts = sum((row) => row.starts);
  // Of two runs nobody knows.
  if (starts > 0 && starts < LEAST_FILLS) return Infinity;
  return filledNLPerMin({ starts, runS: sum((row) => row.runS), cutInKPa: middle((row) => row.cutInKPa), cutOutKPa: middle((row) => row.cutOutKPa), heard }, registered);
}

/** What the counted starts of a day put into the tank, by its run time, NL/min: no less was made, however little a rarely read tank shows. `undefined` where starts, band or tank aren't known. */
function filledNLPerMin({ starts, runS, cutInKPa, cutOutKPa, heard }: Pick<DayRow, 'starts' | 'runS' | 'cutInKPa' | 'cutOutKPa' | 'heard'>, { generator }: RegisteredGenerator): number | undefined {
  const ownKPa = (cutOutKPa ?? NaN) - (cutInKPa ?? NaN) || 0;
  // Where runs show few samples the day's own band misses its ends.
  const isSparse = REPORTS_IN_RUN * (DAY_S / Math.max(1, heard['tank-pressure'] ?? 0)) > runS / starts;
  const bandKPa = ownKPa > 0 && !isSparse ? ownKPa : Math.max(ownKPa, (generator.cutOutKPa ?? NaN) - (generator.cutInKPa ?? NaN) || 0);
  if (starts < LEAST_FILLS || runS <= 0 || bandKPa <= 0 || generator.tankLitres === undefined) return undefined;
  return (starts * bandKPa * generator.tankLitres * NL_PER_LITRE_AND_KPA * 60) / runS;
}

/** Amount of a litre at 1 kPa and 20 °C, in litres at 0 °C and 101.325 kPa. */
const NL_PER_LITRE_AND_KPA = 273.15 / 293.15 / 101.325;
const DAY_S = 86_400;
/** A run with fewer samples than this may have begun and ended far from them. Common practice, no source. */
const REPORTS_IN_RUN = 4;
/** Fewer are too uncertain at the edges of a day. */
const LEAST_FILLS = 3;

/** Share of a day's running in one run from which on its other runs say nothing of it. Common practice, no source. */
const ONE_RUN_SHARE = 0.5;

/** What a day made while running: where one long run is most of it, what was drawn over the day by the share that it ran. */
function madeOn({ demand, delivery, dutyRatio, longestRunS, runS }: DayRow): number | undefined {
  return longestRunS > ONE_RUN_SHARE * runS && demand !== null ? demand.value / dutyRatio! : delivery?.value;
}

/** A generator that makes this share of its rating isn't what makes the compressor run. */
const HEALTHY_SHARE = 0.85;
/** A drop below this is that of clean elements, one above it of loaded ones, kPa; common practice, no source. */
const CLEAN_KPA = 25;
const LOADED_KPA = 35;

/** What takes delivery, by how often it happens, the drop over the elements and the nitrogen. Common practice, no source. */
function lostDelivery(dropKPa: number | undefined, lowNitrogen: boolean | undefined, justServed: boolean, comesAndGoes = false): CauseProbability[] {
  const loaded = dropKPa === undefined ? 1 : dropKPa > LOADED_KPA ? 3 : dropKPa < CLEAN_KPA ? 0.1 : 1;
  const fouled = lowNitrogen === undefined ? 1 : lowNitrogen ? 3 : 0.4;
  // Dirt under a valve's seat comes and goes; elements, wear and membranes don't.
  const lasting = comesAndGoes ? 0.3 : 1;
  return shares({ 'element-loading': 35 * loaded * lasting, 'compressor-side': 30 * lasting, 'drain-stuck-open': 20, 'membrane-decline': 15 * fouled, ...(justServed ? { 'bleed-left-open': 30 } : {}) });
}

const NITROGEN_LOW = shares({ 'membrane-decline': 6, 'compressor-side': 2, 'element-loading': 2 });
/** A day of which so much is run is as likely one that nothing stops. Common practice, no source. */
export const ALL_DAY = 0.97;
const ALL_DAY_LONG = shares({ 'runs-without-end': 40, leak: 25, 'element-loading': 10, 'compressor-side': 10, 'drain-stuck-open': 10, 'membrane-decline': 5 });
const ANY_RUN_TIME = shares({ leak: 40, 'element-loading': 20, 'compressor-side': 20, 'drain-stuck-open': 15, 'membrane-decline': 5 });

/** Weights as probabilities, the likeliest first. */
function shares(weights: Readonly<Partial<Record<Cause, number>>>): CauseProbability[] {
  const all = Object.entries(weights) as [Cause, number][];
  const total = all.reduce((sum, [, weight]) => sum + weight, 0);
  return all.map(([cause, weight]) => ({ cause, probability: weight / total })).sort((one, other) => other.probability - one.probability);
}

/** There is no healthy baseline to tell causes by: what the channels can't part is named as their group. */
function beyond(slot: Slot, causes: readonly CauseProbability[], says: string, size: number, sees: Sees): Condition {
  return nameCause(slot, { causes }, sees, { earliestMs: null, likelyMs: null, latestMs: null }, [{ says, for: causes[0]!.cause, weight: 1 }], size);
}
