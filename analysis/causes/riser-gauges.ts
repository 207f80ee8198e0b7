import type { Channel } from '../../shared/channels.ts';
import type { Entry } from '../../shared/entry.ts';
import { DAY_MS } from '../../shared/time.ts';
import { median } from '../change/robust.ts';
import { certainCondition, type Condition } from './condition.ts';
import type { SpanDay } from './data-faults.ts';
import { setRightAt } from './mends.ts';

/*
 * One riser's gauge among several of the same supply: it stands elsewhere from one day to the next and stays there, while the
 * others are where they were. A riser that loses gas falls on; one that was shut off runs empty.
 */

/** Days that held, the days that must agree since, how far within a day a riser's pressure moves at most, and by how much one moves alone, kPa. Common practice, no source. */
const BEFORE_DAYS = 4;
const SINCE_DAYS = 2;
const SWING_KPA = 12;
const ALONE_KPA = 15;
const OTHERS_KPA = 5;
/** Tight piping that was topped up in a cold snap stands above its regulator once it is warm again: by 25 K a twelfth of its absolute pressure. */
const WARMS_SHARE = 0.09;
const ATMOSPHERE_KPA = 101;
/** Further down than this share it may be a riser that was shut off. */
const LEFT_SHARE = 0.6;

/** Risers' gauges that read off: where each stood before, kPa, since when, and since when it is back; plain JSON. */
export type RisersOff = Partial<Record<Channel, RiserOff>>;
type RiserOff = readonly [wasKPa: number, sinceMs: number, backMs: number | null];
/** A gauge that came back is no news of its own while the days before still hold the wrong values. */
const BACK_MS = 14 * DAY_MS;

/** Risers that read off now; one stays so until it is back, or until it runs down. @param days of the last week, the newest last. */
export function risersOff(days: readonly SpanDay[], before: RisersOff): RisersOff {
  const now: RisersOff = {};
  const endMs = days.at(-1)?.startMs ?? 0;
  for (const [channel, [wasKPa, sinceMs, backMs]] of Object.entries(before) as [Channel, RiserOff][]) {
    const isKPa = heldAt(days.at(-1), channel);
    const isBack = isKPa !== null && (Math.abs(isKPa - wasKPa) <= ALONE_KPA / 2 || isKPa <= LEFT_SHARE * wasKPa);
    if (backMs === null || endMs - backMs < BACK_MS) now[channel] = [wasKPa, sinceMs, backMs ?? (isBack ? endMs : null)];
  }
  const risers = ([...new Set(days.flatMap((day) => Object.keys(day.spans)))] as Channel[]).filter((channel) => channel.startsWith('system-pressure.'));
  const moves = risers.map((channel) => ({ channel, move: moveOf(days, channel) }));
  const off = moves.filter(({ move }) => move !== null && isAlone(move));
  const [first] = off;
  if (first === undefined || off.length > 1 || risers.length < 2 || now[first.channel] !== undefined) return now;
  const { wasKPa, isKPa } = first.move!;
  const others = moves.every((one) => one === first || (one.move !== null && Math.abs(one.move.isKPa - one.move.wasKPa) < OTHERS_KPA));
  if (others && isKPa > LEFT_SHARE * wasKPa) now[first.channel] = [wasKPa, days.at(-SINCE_DAYS)!.startMs, null];
  return now;
}

function isAlone({ wasKPa, isKPa }: NonNullable<ReturnType<typeof moveOf>>): boolean {
  return wasKPa - isKPa > ALONE_KPA || isKPa - wasKPa > Math.max(ALONE_KPA, WARMS_SHARE * (wasKPa + ATMOSPHERE_KPA));
}

/** The pressure at which a riser held for a day, or null where it swung or wasn't sent. */
function heldAt(day: SpanDay | undefined, channel: Channel): number | null {
  const span = day?.spans[channel];
  return span === undefined || span[1] - span[0] > SWING_KPA ? null : (span[0] + span[1]) / 2;
}

/** Where a riser held before and since; the day of the change swings by right. Null where it can't be said. */
function moveOf(days: readonly SpanDay[], channel: Channel): { readonly wasKPa: number; readonly isKPa: number } | null {
  const since = days.slice(-SINCE_DAYS).flatMap((day) => heldAt(day, channel) ?? []);
  const before = days.slice(0, -SINCE_DAYS - 1).flatMap((day) => heldAt(day, channel) ?? []);
  if (since.length < SINCE_DAYS || before.length < BEFORE_DAYS || Math.max(...since) - Math.min(...since) > OTHERS_KPA) return null;
  const wasKPa = median(before)!;
  return before.some((kPa) => Math.abs(kPa - wasKPa) > SWING_KPA) ? null : { wasKPa, isKPa: median(since)! };
}

/** A riser's gauge that reads off, said; one that a service set right is none. It hides nothing: the others and the tank speak for the supply. */
export function offRiserGauges(off: RisersOff, days: readonly SpanDay[], entries: readonly Entry[]): Condition[] {
  const first = (Object.entries(off) as [Channel, RiserOff][]).filter(([, [, sinceMs, backMs]]) => backMs === null && !setRightAt(entries, sinceMs)).sort((a, b) => a[1][1] - b[1][1] || (a[0] < b[0] ? -1 : 1))[0];
  if (first === undefined) return [];
  const [channel, [wasKPa, sinceMs]] = first;
  const isKPa = heldAt(days.at(-1), channel);
  const says = `The pressure of riser ${channel.slice('system-pressure.'.length)} went from ${Math.round(wasKPa)} kPa to ${isKPa === null ? 'another level' : `${Math.round(isKPa)} kPa`} from one day to the next, and the other risers are as they were: its gauge reads off, or somebody turned its regulator.`;
  return [{ ...certainCondition('sensor', 'sensor-fault', 0.85, sinceMs, says, false), aside: true }];
}
