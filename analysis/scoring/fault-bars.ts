import { familyOf } from '../../shared/finding.ts';
import type { Sees } from '../../shared/distinguish.ts';
import { DAY_MS, HOUR_MS } from '../../shared/time.ts';
import type { JudgedFault } from './judge-generator.ts';
import { quantileOf } from './quantile.ts';
import { type StatedChange, statedAt } from './stated-changes.ts';
import type { TrueFault } from './truth.ts';
import { type DayEffect, effectsIn, type TrueDays } from './true-days.ts';

/** Where a fault stands to the bars of diagnosis: how large it was for this generator, and how large or how late when it was found. Null = the bar doesn't ask. */
export type FaultBars = {
  /** It was larger, for 10 days on end, than the smallest change that the generator states it would show. */
  readonly exceeds: boolean | null;
  /** Of a step of six cycle scatters or more: the later of 12 h and five cycles. */
  readonly abruptWithinH: number | null;
  /** Of what a visit left shut or open: by when it is to be known, h from its onset. */
  readonly dueWithinH: number | null;
  /** Of a fault that grows and was found: its effect then, |ln|, and the larger of 8 % and two day scatters. */
  readonly effectWhenFound: number | null;
  readonly effectBar: number | null;
};
export type BarsFrame = { readonly sees: Sees; readonly untilMs: number; readonly stated: readonly StatedChange[]; readonly days: TrueDays | undefined };

const STATED_DAYS = 10;
/** Five times what a small oxygen cell scatters. */
const NITROGEN_LOST = 0.002;
const ABRUPT_SCATTERS = 6;
const ABRUPT_DAYS = 3;
const LEAST_WITHIN_H = 12;
const CYCLES = 5;
const LEAST_EFFECT = Math.log(1.08);
const DAY_SCATTERS = 2;
const BEFORE_FOUND_MS = 3 * DAY_MS;

export function faultBars(judged: JudgedFault, frame: BarsFrame): FaultBars {
  const { fault } = judged;
  const family = familyOf(fault.cause);
  if (family !== 'demand' && family !== 'delivery') return { exceeds: null, abruptWithinH: null, dueWithinH: null, effectWhenFound: null, effectBar: null };
  const stated = statedAt(frame.stated, Date.parse(fault.onset));
  return { exceeds: exceeds(judged, frame, stated), abruptWithinH: abruptWithinH(fault, frame, stated), dueWithinH: dueWithinH(fault), ...whenFound(judged, frame, stated) };
}

function spanOf(fault: TrueFault, untilMs: number): readonly [fromMs: number, toMs: number] {
  return [Date.parse(fault.onset), fault.end === null ? untilMs : Date.parse(fault.end)];
}

function exceeds({ fault, outcome }: JudgedFault, { sees, days, untilMs }: BarsFrame, stated: StatedChange | undefined): boolean | null {
  if (fault.byItself === true) return outcome !== 'unknowable';
  // Elements by the drop over them, 35 kPa over clean, which is when the truth calls them knowable.
  if (fault.cause === 'element-loading' && sees.elementPressures) return fault.knowableAt !== null;
  if (days?.without === undefined) return null;
  const effects = effectsIn(days, ...spanOf(fault, untilMs));
  const lasts = (size: (one: DayEffect) => number | null, bar: number | null | undefined): boolean => typeof bar === 'number' && effects.some((_, from) => from + STATED_DAYS <= effects.length && effects.slice(from, from + STATED_DAYS).every((one) => (size(one) ?? -Infinity) >= bar));
  const minus = (value: number | null): number | null => (value === null ? null : -value);
  return lasts((one) => one.demand, stated?.demand) || lasts((one) => minus(one.delivery), stated?.delivery) || (sees.purity && lasts((one) => minus(one.nitrogen), NITROGEN_LOST));
}

/** The middle of a few days, whichever way it moved. */
function middle(effects: readonly DayEffect[], series: 'demand' | 'delivery'): number {
  return Math.abs(quantileOf(effects.flatMap((one) => one[series] ?? []), 0.5) ?? 0);
}

function abruptWithinH(fault: TrueFault, { days, untilMs }: BarsFrame, stated: StatedChange | undefined): number | null {
  const cycles = stated?.cycles;
  if (fault.shape !== 'step' || fault.byItself === true || days === undefined || cycles === undefined || cycles === null) return null;
  const [fromMs, toMs] = spanOf(fault, untilMs);
  const effects = effectsIn(days, fromMs, Math.min(toMs, fromMs + (ABRUPT_DAYS + 1) * DAY_MS));
  const large = (series: 'demand' | 'delivery', scatter: number | null): boolean => scatter !== null && scatter > 0 && middle(effects, series) >= ABRUPT_SCATTERS * scatter;
  return large('demand', cycles.demandScatter) || large('delivery', cycles.deliveryScatter) ? Math.max(LEAST_WITHIN_H, (CYCLES * DAY_MS) / HOUR_MS / cycles.perDay) : null;
}

/** What is received at its moment is folded at the next tick but one. */
const TICKS_H = 1 / 3;

function dueWithinH({ dueAt, onset }: TrueFault): number | null {
  return typeof dueAt === 'string' ? (Date.parse(dueAt) - Date.parse(onset)) / HOUR_MS + TICKS_H : null;
}

function whenFound({ fault, foundMs }: JudgedFault, { days }: BarsFrame, stated: StatedChange | undefined): Pick<FaultBars, 'effectWhenFound' | 'effectBar'> {
  if (fault.shape !== 'ramp' || fault.byItself === true || foundMs === null || days?.without === undefined) return { effectWhenFound: null, effectBar: null };
  const effects = effectsIn(days, Math.max(Date.parse(fault.onset), foundMs - BEFORE_FOUND_MS - DAY_MS), foundMs);
  if (effects.length === 0) return { effectWhenFound: null, effectBar: null };
  const [demand, delivery] = [middle(effects, 'demand'), middle(effects, 'delivery')];
  const scatter = demand >= delivery ? stated?.demandScatter : stated?.deliveryScatter;
  return { effectWhenFound: Math.max(demand, delivery), effectBar: Math.max(LEAST_EFFECT, DAY_SCATTERS * (scatter ?? 0)) };
}
