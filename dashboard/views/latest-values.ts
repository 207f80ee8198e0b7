import type { LatestValue } from '../../shared/api.ts';
import type { Channel } from '../../shared/channels.ts';

const MINUTE_MS = 60_000;
/** States, counters and temperatures are sent on change or hourly, and hold 75 min. */
const SLOW_HOLDS_MS = 75 * MINUTE_MS;

/** What is said about a channel beside its value; from the table of channels. */
export type ChannelWords = { readonly label: string; readonly unit: string; /** Sent on change or hourly, not with every report. */ readonly slow: boolean };

/** Age up to which a value counts as present, ms: three reports, and never less than 5 min. */
export function freshForMs(reportEveryS: number): number {
  return Math.max(5 * MINUTE_MS, 3 * reportEveryS * 1000);
}

/**
 * The newest value of a channel with its unit and age. What is sent on change or hourly stays fresh for 75 min, but only
 * while the generator itself is heard: a last value is never shown as live.
 */
export function latestValue(params: {
  readonly channel: Channel;
  readonly value: number;
  readonly atMs: number;
  readonly words: ChannelWords;
  readonly reportEveryS: number;
  readonly lastHeardMs: number;
  readonly nowMs: number;
}): LatestValue {
  const { channel, value, atMs, words, nowMs } = params;
  const limitMs = freshForMs(params.reportEveryS);
  const heard = nowMs - params.lastHeardMs <= limitMs;
  const holdsMs = words.slow ? Math.max(limitMs, SLOW_HOLDS_MS) : limitMs;
  const fresh = nowMs - atMs <= holdsMs && (heard || !words.slow);
  return { channel, label: words.label, value, unit: words.unit, at: new Date(atMs).toISOString(), fresh, holdsS: holdsMs / 1000 };
}
