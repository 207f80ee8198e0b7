import type { Entry } from '../../shared/entry.ts';
import { DAY_MS, MINUTE_MS } from '../../shared/time.ts';
import { freshValue, hours, LATE_START_KPA, type Normal, type Present } from './clock-view.ts';
import { certainCondition, type Condition, mixedCondition } from './condition.ts';
import { kPaText } from './evidence.ts';

/*
 * A compressor that is called and doesn't start; and one that was believed dead and only starts lower than it did.
 */

/** Gateways repeat the state of the mains each hour. Common practice, no source. */
const POWER_WAIT_MS = 50 * MINUTE_MS;
/** Run states are said again each hour: a rest that only the tank tells of waits for the next word. Common practice, no source. */
const WORD_WAIT_MS = 65 * MINUTE_MS;
/** An hour meter that was heard and hasn't moved for so long says that nothing runs. */
const METER_STANDS_MS = 50 * MINUTE_MS;
/** Counters may come so late. Common practice, no source. */
const METER_LATE_MS = 75 * MINUTE_MS;
/** A start that comes late by so little may be a set point that was lowered: that is waited for; common practice, no source. */
const FAR_BELOW_KPA = 70;
/** One that comes late by less is waited for longer. */
const NEAR_KPA = 25;
/** Where the tank's gauge jumped only the clock is left: so many of the longest usual rests. */
const JUMPED_RESTS = 1.5;

/** The tank is below its usual start, and nothing starts. */
export function notStarting(present: Present, normal: Normal): Condition[] {
  const usualStartKPa = normal.cycles.usual?.startKPa ?? normal.cutInKPa;
  const cutInKPa = usualStartKPa === null ? normal.setStartKPa : Math.min(usualStartKPa, normal.setStartKPa ?? Infinity);
  const tankKPa = freshValue(present.tankKPa, present.tankAtMs, present.frontierMs);
  const stands = present.running === true && present.motorOn === false;
  if ((present.running === true && !stands) || present.belowSinceMs === null || tankKPa === null || cutInKPa === null) return [];
  const belowMs = present.frontierMs - present.belowSinceMs;
  // The word that the mains went may be lost: where they are told of, the next word is waited for.
  if (present.power === true && present.powerHeardMs !== null && present.powerHeardMs < present.belowSinceMs && belowMs < POWER_WAIT_MS) return [];
  // A tank that falls though the last word was a start: more may be drawn than is made.
  if (present.restUnsaid && belowMs < WORD_WAIT_MS) return [];
  // Counters come late: without a run state a low tank may well be a run under way, unless the hour meter was heard and stood still.
  // A duty ratio of nothing says as much as an hour meter that stands.
  const { toldRest } = present;
  const stillMs = present.meterStillMs ?? (toldRest === null ? null : toldRest.heardMs - toldRest.sinceMs);
  if (present.running === null && (stillMs === null || Math.min(stillMs, belowMs) < METER_STANDS_MS)) return [];
  // A meter that went on while the tank was so low: it does start, and the tank's gauge lies or more is drawn than is made.
  if (present.running === null && stillMs! < belowMs - METER_LATE_MS) return [];
  const belowKPa = cutInKPa - tankKPa;
  if (belowMs < (belowKPa > FAR_BELOW_KPA ? 10 : belowKPa > NEAR_KPA ? 25 : 180) * MINUTE_MS) return [];
  const restsSinceMs = present.sinceMs ?? present.crestAtMs;
  if (present.belowSuddenly && restsSinceMs !== null && present.frontierMs - restsSinceMs < JUMPED_RESTS * 1000 * (normal.cycles.usual?.longestRestS ?? 0)) return [];
  const says = `The tank is at ${kPaText(tankKPa)}, below its usual start at ${kPaText(cutInKPa)} for ${hours(belowMs)}, and the compressor has not started.`;
  return [certainCondition('running', 'not-starting', 0.95, present.belowSinceMs, says, true)];
}

/** So many starts, alike within so much, are a switch that is set lower, and none that sticks; lower by more is a tank that was empty as it came back. Common practice, no source. */
const LOWER_STARTS = 2;
const ALIKE_KPA = 15;
const MOST_LOWER_KPA = 150;
/** So long that is said in place of a start that failed; the days know then. */
const SAID_FOR_MS = DAY_MS;

/** It was said that it doesn't start, and since then it starts lower, time after time: the same finding says so. */
export function startsLower(present: Present, { cycles }: Normal, entries: readonly Entry[]): Condition[] {
  const { missedStartMs } = present;
  const usualKPa = cycles.usual?.startKPa ?? null;
  if (missedStartMs === null || usualKPa === null || entries.some((entry) => entry.kind === 'service' && Date.parse(entry.finishedAt ?? entry.startedAt) > missedStartMs)) return [];
  const starts = [...cycles.last.filter(([startMs]) => startMs > missedStartMs).map(([startMs, , , kPa]) => [startMs, kPa] as const), ...(present.startedMs !== null && present.startedMs > missedStartMs && present.startedMs !== cycles.last.at(-1)?.[0] ? [[present.startedMs, present.startKPa] as const] : [])];
  const last = starts.slice(-LOWER_STARTS);
  const lower = last.flatMap(([, kPa]) => (kPa === null || usualKPa - kPa < LATE_START_KPA || usualKPa - kPa > MOST_LOWER_KPA ? [] : [kPa]));
  if (lower.length < LOWER_STARTS || Math.max(...lower) - Math.min(...lower) > ALIKE_KPA || present.frontierMs - starts[LOWER_STARTS - 1]![0] > SAID_FOR_MS) return [];
  const says = `It does start: at ${lower.map(kPaText).join(' and ')}, where it started at ${kPaText(usualKPa)}. The start is set lower, or the tank's gauge reads less.`;
  return [{ ...mixedCondition('running', [['set-point-changed', 0.85], ['sensor-fault', 0.1], ['not-starting', 0.05]], missedStartMs, [{ says, for: 'set-point-changed', weight: 2.5 }]), urgent: false }];
}
