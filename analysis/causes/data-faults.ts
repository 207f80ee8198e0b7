import { type Channel, baseChannel, CHANNELS } from '../../shared/channels.ts';
import type { Sees } from '../../shared/distinguish.ts';
import type { CauseProbability } from '../../shared/finding.ts';
import { HOUR_MS } from '../../shared/time.ts';
import { certainCondition, type Condition } from './condition.ts';
import { lyingBy } from './lying-gauges.ts';
import { nameCause } from './name-cause.ts';
import type { UsualCycle } from './recent-cycles.ts';

/*
 * Faults of instruments and of the data, looked for before anything else: a frozen gauge must not become a leak.
 */

/** What a channel did in the present day of the fold: [least, most, number of values, how many of them in runs]. Plain JSON. */
export type ChannelSpan = [least: number, most: number, count: number, inRuns: number];
/** One closed day of spans, with the starts of the day. */
export type SpanDay = { readonly startMs: number; readonly starts: number; readonly spans: Readonly<Partial<Record<Channel, ChannelSpan>>> };

/** Channels that move whenever the compressor cycles, and by how much at least; common practice, no source. */
const MOVES_WITH_RUNS: Partial<Record<Channel, number>> = { 'tank-pressure': 20, 'discharge-pressure': 20, 'feed-pressure': 20, nitrogen: 0.0002, oxygen: 0.0002, 'motor-current': 0.5 };
/** Channels that move with the weather, and their least usual span in a day: one that doesn't move at all for two days stands still. Common practice, no source. */
const MOVES_WITH_DAYS: Partial<Record<string, number>> = { 'room-temperature': 0.8, 'pipe-temperature': 0.8, 'outdoor-temperature': 0.8, humidity: 5 };
const STILL_DAYS = 2;
const LEAST_VALUES = 20;
const LEAST_DAYS = 5;
/** Air that is as good as saturated stays so for days. */
const SATURATED_PERCENT = 95;
/** Where runs are short and reports rare, a gauge may be heard in rests alone, in which it is still by right. */
const LEAST_IN_RUNS = 3;
const SILENT_FINDING_MS = 6 * HOUR_MS;

/** Whether a value surely came in a run: it is no older than runs become. Behind a stop whose message got lost a rest looks like a run, in which every gauge stands still. */
export function surelyInRun({ phase, sinceMs }: { readonly phase: 0 | 1 | null; readonly sinceMs: number }, usual: UsualCycle | null, atMs: number): boolean {
  return phase === 1 && (usual === null || atMs - sinceMs <= 1000 * usual.longestRunS);
}

/** Keep the span of a channel's values in the present day. */
export function widenSpan(spans: Partial<Record<Channel, ChannelSpan>>, channel: Channel, value: number, inRun: boolean): void {
  const span = spans[channel];
  if (span === undefined) spans[channel] = [value, value, 1, inRun ? 1 : 0];
  else {
    if (value < span[0]) span[0] = value;
    if (value > span[1]) span[1] = value;
    span[2] += 1;
    if (inRun) span[3] += 1;
  }
}

/** Channels that stand still, and since when; plain JSON. */
export type Frozen = Partial<Record<Channel, number>>;

/**
 * Gauges that have not moved for a whole day in which the compressor started at least three times, though they moved on
 * most earlier such days; one stays frozen until it moves again. Price: a healthy gauge would have to be still within a tenth
 * of its usual span for a day.
 */
export function frozenNow(days: readonly SpanDay[], before: Frozen, tankStepKPa: number): Frozen {
  const last = days.at(-1);
  if (last === undefined) return before;
  const now: Frozen = {};
  for (const [channel, span] of Object.entries(last.spans) as [Channel, ChannelSpan][]) {
    if (isStillForDays(days, channel, before[channel] !== undefined)) now[channel] = before[channel] ?? days.at(-STILL_DAYS)!.startMs;
    const least = MOVES_WITH_RUNS[channel];
    if (least === undefined || (channel === 'motor-current' && motorStays(last))) continue;
    const since = before[channel];
    const still = span[1] - span[0] < least / 10;
    if (since !== undefined && (still || (last.starts < 3 && span[1] - span[0] < least))) now[channel] = since;
    else if (channel === 'tank-pressure' && last.starts < 3 && tankStandsStill(days, span, tankStepKPa)) now[channel] = last.startMs;
    else if (still && last.starts >= 3 && span[2] >= 12 && isHeardMoving(channel, span[3]) && movedBefore(days.slice(0, -1), channel, least)) now[channel] = last.startMs;
    else if (still && last.starts > 0 && last.starts < 3) {
      const first = stillThroughStarts(days, channel, least);
      if (first !== undefined) now[channel] = first.startMs;
    }
  }
  return now;
}

/** Behind an air receiver the motor may run through every rest; then its current stands still by right. */
function motorStays({ spans: { running } }: SpanDay): boolean {
  return running !== undefined && running[0] === running[1];
}

/** Whether what moves with the weather has the same value since two days, though on every day before it moved, and by its usual span on most. */
function isStillForDays(days: readonly SpanDay[], channel: Channel, already: boolean): boolean {
  const least = MOVES_WITH_DAYS[baseChannel(channel)];
  if (least === undefined) return false;
  const spanOf = (day: SpanDay): number | undefined => ((day.spans[channel]?.[2] ?? 0) < LEAST_VALUES ? undefined : day.spans[channel]![1] - day.spans[channel]![0]);
  const last = days.slice(-STILL_DAYS).map(spanOf);
  if (already) return last.at(-1) === undefined || last.at(-1) === 0;
  if (last.length < STILL_DAYS || !last.every((span) => span === 0) || (channel === 'humidity' && days.at(-1)!.spans[channel]![1] >= SATURATED_PERCENT)) return false;
  const earlier = days.slice(0, -STILL_DAYS).flatMap((day) => spanOf(day) ?? []);
  return earlier.length >= LEAST_DAYS && earlier.every((span) => span > 0) && earlier.filter((span) => span >= least).length >= 0.7 * earlier.length;
}

/** The first of the last days through whose starts, three in all, it stood at one value, though on nearly every day with a start before it moved: where a day has one start or two. */
function stillThroughStarts(days: readonly SpanDay[], channel: Channel, least: number): SpanDay | undefined {
  const level = days.at(-1)!.spans[channel]![0];
  const lastMoved = days.findLastIndex(({ spans: { [channel]: span } }) => span === undefined || span[1] - span[0] >= least / 10 || Math.abs(span[0] - level) >= least / 10);
  const still = days.slice(lastMoved + 1);
  const sum = (of: (day: SpanDay) => number): number => still.reduce((total, day) => total + of(day), 0);
  if (still.length < STILL_DAYS || sum((day) => day.starts) < 3 || sum((day) => day.spans[channel]![2]) < 12 || !isHeardMoving(channel, sum((day) => day.spans[channel]![3]))) return undefined;
  const earlier = days.slice(0, lastMoved + 1).flatMap(({ starts, spans: { [channel]: span } }) => (starts > 0 && span !== undefined ? [span[1] - span[0]] : []));
  return earlier.length >= 3 && earlier.filter((move) => move >= least).length >= 0.8 * earlier.length ? still[0] : undefined;
}

/** Whether a gauge was heard when it should have moved: in runs, the tank's in rests as well, as it falls in them. */
function isHeardMoving(channel: Channel, inRuns: number): boolean {
  return channel === 'tank-pressure' || inRuns >= LEAST_IN_RUNS;
}

function movedBefore(days: readonly SpanDay[], channel: Channel, least: number): boolean {
  const earlier = days.filter((day) => day.starts >= 3 && (day.spans[channel]?.[2] ?? 0) >= 12);
  const moved = earlier.filter((day) => day.spans[channel]![1] - day.spans[channel]![0] >= least);
  return earlier.length >= 3 && moved.length >= earlier.length * 0.7;
}

/** A gauge that resolves this scatters by itself, and no tank holds within it for a day. */
const FINE_STEP_KPA = 1;
const STILL_VALUES = 48;

/** Where the tank alone tells of starts, one that stands still to the last digit for a day, within its usual band, shows none: no tank does that, whatever is drawn. One that ran empty or was vented may. */
function tankStandsStill(days: readonly SpanDay[], span: ChannelSpan, stepKPa: number): boolean {
  const { spans } = days.at(-1)!;
  const leastKPa = Math.min(...days.slice(0, -1).flatMap((day) => day.spans['tank-pressure']?.[0] ?? []));
  return stepKPa > 0 && stepKPa <= FINE_STEP_KPA && spans.running === undefined && spans.producing === undefined && span[1] === span[0] && span[0] >= leastKPa && span[2] >= STILL_VALUES && movedBefore(days.slice(0, -1), 'tank-pressure', MOVES_WITH_RUNS['tank-pressure']!);
}

/** Frozen gauges, said, the tank's first. */
export function frozenSensors(frozen: Frozen, days: readonly SpanDay[]): Condition[] {
  const last = days.at(-1);
  if (last === undefined) return [];
  const tankFirst = (channel: Channel): number => (channel === 'tank-pressure' ? 0 : 1);
  const ordered = (Object.entries(frozen) as [Channel, number][]).sort((a, b) => tankFirst(a[0]) - tankFirst(b[0]) || a[1] - b[1] || (a[0] < b[0] ? -1 : 1));
  return ordered.map(([channel, sinceMs]) => frozenSensor(channel, sinceMs, last));
}

function frozenSensor(channel: Channel, sinceMs: number, last: SpanDay): Condition {
  const { label, keptUnit } = CHANNELS[baseChannel(channel)];
  const stands = last.spans[channel]?.[1];
  const byWeather = MOVES_WITH_DAYS[baseChannel(channel)] !== undefined;
  const says = `The ${label} stands still${stands === undefined ? '' : ` at ${Math.round(stands * 1000) / 1000} ${keptUnit}`} ${byWeather ? 'for two days or more; before, it moved every day' : last.starts < 3 ? 'for a day or more; before, it moved with every start' : 'while the compressor starts and stops; before, it moved with every start'}.`;
  return { ...certainCondition('sensor', 'sensor-fault', 0.95, sinceMs, says, false), ...(byWeather ? { aside: true } : {}), ...(channel === 'tank-pressure' ? { ofTank: true } : byWeather ? {} : { lying: lyingBy([channel]) }) };
}

/** Values that can't be came in numbers: a gauge, a wire or a unit is wrong. */
export function impossibleValues(refusedToday: number, sinceMs: number): Condition[] {
  return refusedToday < 20 ? [] : [certainCondition('sensor', 'sensor-fault', 0.9, sinceMs, `${refusedToday} readings of this generator were refused today because such values can't be; Gateways lists them.`, false)];
}

/** What silence comes from where the mains aren't sent. Common practice, no source. */
const MAY_BE: readonly CauseProbability[] = [{ cause: 'data-gap', probability: 0.8 }, { cause: 'no-power', probability: 0.2 }];

/** Nothing has been heard: for how long, and what the gateway's own presence says. */
export function silence(nowMs: number, { lastHeardMs, reportEveryS, gatewayOffline, sees }: { readonly lastHeardMs: number; readonly reportEveryS: number; readonly gatewayOffline: boolean; readonly sees: Sees }): Condition[] {
  if (lastHeardMs === 0) return [];
  const silentMs = nowMs - lastHeardMs;
  if (silentMs < Math.max(3 * reportEveryS * 1000, SILENT_FINDING_MS)) return [];
  const says = `Nothing has been heard for ${Math.round(silentMs / HOUR_MS)} h; it usually reports every ${Math.round(reportEveryS / 60)} min.${gatewayOffline ? ' Its gateway is offline: power or network at the site.' : ''}`;
  if (sees.power) return [certainCondition('data', 'data-gap', 0.99, lastHeardMs, says, false)];
  return [nameCause('data', { causes: MAY_BE }, sees, { earliestMs: lastHeardMs, likelyMs: lastHeardMs, latestMs: lastHeardMs }, [{ says, for: 'data-gap', weight: 0 }], 1)];
}
