import type { Channel } from '../../shared/channels.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { MINUTE_MS } from '../../shared/time.ts';

/** One measured value: [device time, value]. */
export type Sample = readonly [atMs: number, value: number];
/** The readings of one generator by channel, each in order of device time. */
export type Tracks = ReadonlyMap<Channel, readonly Sample[]>;

/** Rows of batches in order of device time, channel by channel. */
export function tracksOf(batches: readonly ReadingBatch[]): Tracks {
  const tracks = new Map<Channel, Sample[]>();
  for (const batch of batches) {
    for (let row = 0; row < batch.atMs.length; row += 1) {
      const { channel } = batch.series[batch.seriesIndex[row]!]!;
      const track = tracks.get(channel) ?? [];
      tracks.set(channel, track);
      track.push([batch.atMs[row]!, batch.value[row]!]);
    }
  }
  for (const track of tracks.values()) track.sort((a, b) => a[0] - b[0]);
  return tracks;
}

/** The samples of a track with fromMs ≤ time ≤ toMs. */
export function within(track: readonly Sample[] | undefined, fromMs: number, toMs: number): readonly Sample[] {
  if (track === undefined) return [];
  return track.slice(firstAt(track, fromMs), firstAt(track, toMs + 1));
}

/** Index of the first sample at or after a time. */
function firstAt(track: readonly Sample[], ms: number): number {
  let low = 0;
  let high = track.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (track[middle]![0] < ms) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** A run or a rest. `began` and `ended`: its edge was seen, and isn't a gap in the data or the end of what is known. */
export type Span = { readonly running: boolean; readonly fromMs: number; readonly toMs: number; readonly began: boolean; readonly ended: boolean };

/** A state is not believed longer than this without being repeated (design, section 5). */
const STATE_HOLDS_MS = 75 * MINUTE_MS;

/** Runs and rests from a channel that says so, in order, up to `toMs`. */
export function spansOf(states: readonly Sample[], toMs: number): Span[] {
  const spans: Span[] = [];
  let open: { running: boolean; fromMs: number; heardMs: number; began: boolean } | undefined;
  const close = (atMs: number, ended: boolean): void => {
    if (open !== undefined && atMs > open.fromMs) spans.push({ running: open.running, fromMs: open.fromMs, toMs: atMs, began: open.began, ended });
  };
  for (const [atMs, value] of states) {
    const running = value === 1;
    const lost = open !== undefined && atMs - open.heardMs > STATE_HOLDS_MS;
    if (open !== undefined && !lost && open.running === running) {
      open.heardMs = atMs;
      continue;
    }
    close(lost ? open!.heardMs : atMs, !lost);
    open = { running, fromMs: atMs, heardMs: atMs, began: open !== undefined && !lost };
  }
  if (open !== undefined) close(Math.min(toMs, open.heardMs + STATE_HOLDS_MS), false);
  return spans;
}

/**
 * Rests from the tank's pressure alone, where starts and stops aren't sent: stretches without a rise. The interval after a
 * rise belongs to the run that may have gone on in it. Edges are no times of switches, so no span has one.
 */
export function restsOfTank(tank: readonly Sample[]): Span[] {
  const spans: Span[] = [];
  let fromMs: number | undefined;
  let afterRise = true;
  const close = (atMs: number): void => {
    if (fromMs !== undefined && atMs > fromMs) spans.push({ running: false, fromMs, toMs: atMs, began: false, ended: false });
    fromMs = undefined;
  };
  for (let index = 1; index < tank.length; index += 1) {
    const [beforeMs, before] = tank[index - 1]!;
    const [atMs, value] = tank[index]!;
    const rises = value - before > RISE_KPA || atMs - beforeMs > STATE_HOLDS_MS;
    if (rises) close(beforeMs);
    else if (!afterRise && fromMs === undefined) fromMs = beforeMs;
    afterRise = rises;
  }
  close(tank.at(-1)?.[0] ?? 0);
  return spans;
}

/** A tank that rises by more than this between two readings is being filled; less is the gauge and the warming of a room. */
export const RISE_KPA = 3;
