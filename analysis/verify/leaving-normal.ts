import type { Channel } from '../../shared/channels.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { MINUTE_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { insideOf, slopeWindows, type Usual, usualOf } from './slope-windows.ts';
import { RISE_KPA, restsOfTank, type Sample, type Span, spansOf, type Tracks, tracksOf } from './tracks.ts';

/** Gas in the tank warms in a run and settles after it (design, section 6). */
export const SETTLE_MS = 3 * MINUTE_MS;

/** What one generator does in good order, as far as the days given show it. */
export type LeavingNormal = {
  readonly tracks: Tracks;
  readonly tank: readonly Sample[];
  readonly rests: readonly Span[];
  readonly runs: readonly Span[];
  readonly days: readonly { readonly startMs: number; readonly endMs: number }[];
  /** Starts and stops are sent, so that lengths can be told. */
  readonly switches: boolean;
  readonly restMin: Usual | undefined;
  readonly runMin: Usual | undefined;
  readonly middleRestMin: number | undefined;
};

/** Channel that says whether nitrogen is made: with an air receiver the membrane valve's, not the compressor's. */
export function switchTrack(tracks: Tracks): readonly Sample[] {
  return tracks.get('producing') ?? tracks.get('running') ?? [];
}

/** The piping's channels, one a riser. */
export function pipingChannels(tracks: Tracks): Channel[] {
  return [...tracks.keys()].filter((channel) => channel === 'system-pressure' || channel.startsWith('system-pressure.')).sort();
}

/** Learn from readings of good days: those that were spent holding, before anything was found to be wrong. */
export function leavingNormal(batches: readonly ReadingBatch[], days: readonly { readonly startMs: number; readonly endMs: number }[]): LeavingNormal {
  const tracks = tracksOf(batches);
  const tank = tracks.get('tank-pressure') ?? [];
  const states = switchTrack(tracks);
  const spans = insideOf(states.length > 0 ? spansOf(states, days.at(-1)?.endMs ?? 0) : restsOfTank(tank), days);
  const whole = (running: boolean): number[] => spans.filter((span) => span.running === running && span.began && span.ended).map((span) => (span.toMs - span.fromMs) / MINUTE_MS);
  return {
    tracks, tank, days,
    rests: spans.filter((span) => !span.running),
    runs: spans.filter((span) => span.running && span.began),
    switches: states.length > 0,
    restMin: usualOf(whole(false)),
    runMin: usualOf(whole(true)),
    middleRestMin: median(whole(false)),
  };
}

/** Fall of the tank over so many minutes of settled rest, kPa/min, > 0 falling. */
export function usualFall(normal: LeavingNormal, minutes: number): Usual | undefined {
  const settleMs = normal.switches ? SETTLE_MS : 0;
  return usualOf(slopeWindows(normal.tank, normal.rests, minutes * MINUTE_MS, settleMs, RISE_KPA).map((window) => -window.slope));
}

const LENGTHS_MIN = [15, 30, 60, 120, 240, 480, 720, 1440] as const;
/** With its supply shut a tank loses only its own small leak: a fall below this share of the usual one looks shut. */
export const SHUT_SHARE = 0.5;

/** The shortest rest in which a shut supply would show here, min; `undefined` where not even a day of rest does. */
export function minutesUntilDemandShows(normal: LeavingNormal): number | undefined {
  return LENGTHS_MIN.find((minutes) => {
    const usual = usualFall(normal, minutes);
    return usual !== undefined && usual.low > SHUT_SHARE * usual.middle;
  });
}
