import { type Channel, baseChannel, CHANNELS } from '../../shared/channels.ts';
import { HOUR_MS } from '../../shared/time.ts';
import { certainCondition, type Condition } from './condition.ts';

/*
 * Faults of instruments and of the data, looked for before anything else: a frozen gauge must not become a leak.
 */

/** What a channel did in the present day of the fold: [least, most, number of values]. Plain JSON. */
export type ChannelSpan = [least: number, most: number, count: number];
/** One closed day of spans, with the starts of the day. */
export type SpanDay = { readonly startMs: number; readonly starts: number; readonly spans: Readonly<Partial<Record<Channel, ChannelSpan>>> };

/** Channels that move whenever the compressor cycles, and by how much at least; common practice, no source. */
const MOVES_WITH_RUNS: Partial<Record<Channel, number>> = { 'tank-pressure': 20, 'discharge-pressure': 20, 'feed-pressure': 20, nitrogen: 0.0002, oxygen: 0.0002, 'motor-current': 0.5 };
const SILENT_FINDING_MS = 6 * HOUR_MS;

/** Keep the span of a channel's values in the present day. */
export function widenSpan(spans: Partial<Record<Channel, ChannelSpan>>, channel: Channel, value: number): void {
  const span = spans[channel];
  if (span === undefined) spans[channel] = [value, value, 1];
  else {
    if (value < span[0]) span[0] = value;
    if (value > span[1]) span[1] = value;
    span[2] += 1;
  }
}

/**
 * A gauge that has not moved for a whole day in which the compressor started at least three times, though it moved on
 * earlier such days. Price: a healthy gauge would have to be still within a tenth of its usual span for a day.
 */
export function frozenSensors(days: readonly SpanDay[]): Condition[] {
  const last = days.at(-1);
  if (last === undefined || last.starts < 3) return [];
  const frozen: Condition[] = [];
  for (const [channel, span] of Object.entries(last.spans) as [Channel, ChannelSpan][]) {
    const least = MOVES_WITH_RUNS[channel];
    if (least === undefined || span[2] < 12 || span[1] - span[0] >= least / 10) continue;
    const earlier = days.slice(0, -1).filter((day) => day.starts >= 3 && (day.spans[channel]?.[2] ?? 0) >= 12);
    const moved = earlier.filter((day) => day.spans[channel]![1] - day.spans[channel]![0] >= least);
    if (earlier.length >= 3 && moved.length >= earlier.length * 0.7) {
      const since = days.findLast((day) => moved.includes(day))!.startMs;
      frozen.push(certainCondition('sensor', 'sensor-fault', 0.95, since, `The ${CHANNELS[baseChannel(channel)].label} has stood at ${Math.round(span[1] * 1000) / 1000} through ${last.starts} starts of the compressor; before, it moved with every one.`, false));
    }
  }
  return frozen.slice(0, 1);
}

/** Values that can't be came in numbers: a gauge, a wire or a unit is wrong. */
export function impossibleValues(refusedToday: number, sinceMs: number): Condition[] {
  return refusedToday < 20 ? [] : [certainCondition('sensor', 'sensor-fault', 0.9, sinceMs, `${refusedToday} readings of this generator were refused today because such values can't be; Gateways lists them.`, false)];
}

/** Nothing has been heard: for how long, and what the gateway's own presence says. */
export function silence(nowMs: number, lastHeardMs: number, reportEveryS: number, gatewayOffline: boolean): Condition[] {
  const silentMs = nowMs - lastHeardMs;
  if (silentMs < Math.max(3 * reportEveryS * 1000, SILENT_FINDING_MS)) return [];
  const says = `Nothing has been heard for ${Math.round(silentMs / HOUR_MS)} h; it usually reports every ${Math.round(reportEveryS / 60)} min.${gatewayOffline ? ' Its gateway is offline: power or network at the site.' : ''}`;
  return [certainCondition('data', 'data-gap', 0.99, lastHeardMs, says, false)];
}
