import type { DayRow } from '../../shared/cycle.ts';
import { cannotTell, type Sees } from '../../shared/distinguish.ts';
import type { Cause, Evidence } from '../../shared/finding.ts';
import type { RegisteredGenerator } from '../../shared/registry.ts';
import { median } from '../change/robust.ts';
import type { Condition, Slot } from './condition.ts';
import { isUsableDay } from './day-series.ts';

/** What is just at a limit must not come and go: 3 % of the rated delivery and 0.1 % nitrogen are what meters agree within. Common practice, no source. */
const DELIVERY_MARGIN = 0.03;
const NITROGEN_MARGIN = 0.001;
/** Days of which the middle one must be past a limit: three at least, and up to seven, so that what is near a limit doesn't come and go. */
const LEAST_DAYS = 3;
const DAYS = 7;

/**
 * Limits that hold whatever the baseline is, so that a generator which is bad when it is connected is found:
 * duty ratio, drop over the elements, nitrogen, share of the rated delivery (design, section 5). Days before `sinceMs`, the
 * last service, say nothing about now.
 */
export function absoluteLimits(rows: readonly DayRow[], registered: RegisteredGenerator, sees: Sees, sinceMs: number): Condition[] {
  const last = rows.filter((row) => row.startMs >= sinceMs && isUsableDay(row)).slice(-DAYS);
  if (last.length < LEAST_DAYS) return [];
  const { limits, nitrogenLimit, ratedNLPerMin, layout } = registered.generator;
  // With an air receiver the compressor's own run says little of what the membrane makes: `producing` must be sent.
  const runCounts = layout === 'direct' || last.some((row) => row.heard.producing !== undefined);
  const middle = (pick: (row: DayRow) => number | null | undefined): number | undefined => {
    const values = last.flatMap((row) => pick(row) ?? []);
    return values.length < 2 ? undefined : median(values);
  };
  const conditions: Condition[] = [];
  const add = (slot: Slot, causes: readonly (readonly [Cause, number])[], says: string, size: number): void => {
    conditions.push(beyond(slot, causes, says, size, sees));
  };
  const drop = middle((row) => row.elementDropKPa?.value);
  if (drop !== undefined && drop > limits.elementDropKPa) add('delivery', [['element-loading', 0.9], ['drain-stuck-closed', 0.1]], `The elements' pressure drop is ${Math.round(drop)} kPa; the limit is ${limits.elementDropKPa} kPa.`, drop / limits.elementDropKPa);
  const delivery = middle((row) => (row.unit === 'NL/min' ? row.delivery?.value : undefined));
  const share = delivery !== undefined && ratedNLPerMin !== undefined ? delivery / ratedNLPerMin : undefined;
  const nitrogen = middle((row) => row.nitrogen?.value);
  if (runCounts && share !== undefined && share < limits.deliveryShare - DELIVERY_MARGIN) add('delivery', DELIVERY_LOST, `It delivers ${delivery!.toFixed(1)} NL/min, ${Math.round(share * 100)} % of its rated ${ratedNLPerMin} NL/min; the limit is ${Math.round(limits.deliveryShare * 100)} %.`, 1 / share);
  else if (nitrogen !== undefined && nitrogen < nitrogenLimit - NITROGEN_MARGIN) add('delivery', NITROGEN_LOW, `Nitrogen is ${(nitrogen * 100).toFixed(2)} %; the limit is ${nitrogenLimit * 100} %.`, (1 - nitrogen) / (1 - nitrogenLimit));
  const duty = middle((row) => row.dutyRatio);
  if (runCounts && duty !== undefined && duty > limits.dutyRatio) {
    const healthyDelivery = share !== undefined && share >= 0.85;
    const says = `The compressor runs ${Math.round(duty * 100)} % of the time; the limit is ${Math.round(limits.dutyRatio * 100)} %.`;
    if (healthyDelivery) add('demand', [['leak', 0.9], ['bleed-left-open', 0.1]], `${says} It delivers ${Math.round(share * 100)} % of its rated flow, so more is drawn.`, duty / limits.dutyRatio);
    else if (conditions.length === 0) add('duty', ANY_RUN_TIME, says, duty / limits.dutyRatio);
  }
  return conditions.slice(0, 2);
}

const DELIVERY_LOST: readonly (readonly [Cause, number])[] = [['element-loading', 0.35], ['compressor-side', 0.3], ['drain-stuck-open', 0.2], ['membrane-decline', 0.15]];
const NITROGEN_LOW: readonly (readonly [Cause, number])[] = [['membrane-decline', 0.6], ['compressor-side', 0.2], ['element-loading', 0.2]];
const ANY_RUN_TIME: readonly (readonly [Cause, number])[] = [['leak', 0.4], ['element-loading', 0.2], ['compressor-side', 0.2], ['drain-stuck-open', 0.15], ['membrane-decline', 0.05]];

/** There is no healthy baseline to tell causes by: unless one is near sure, the group is named. */
function beyond(slot: Slot, causes: readonly (readonly [Cause, number])[], says: string, size: number, sees: Sees): Condition {
  const [cause, probability] = causes[0]!;
  const named = probability >= 0.85;
  const evidence: Evidence[] = [{ says, for: named ? cause : 'undetermined', weight: 1 }, ...(named ? [] : cannotTell(sees).map((text) => ({ says: `${text.charAt(0).toUpperCase()}${text.slice(1)}.`, for: 'undetermined' as const, weight: 0 })))];
  return { slot, cause: named ? cause : 'undetermined', causes: causes.map(([one, chance]) => ({ cause: one, probability: chance })), among: named ? null : causes.map(([one]) => one), missingChannels: [], onset: { earliestMs: null, likelyMs: null, latestMs: null }, evidence, urgent: false, size };
}
