import { CHANNELS, type Channel, type ChannelRule } from '../shared/channels.ts';
import type { QuarantineReason } from '../shared/quarantine.ts';
import { isoFromMs } from '../shared/time.ts';
import { type UnitRejection, unitsOf } from '../shared/units.ts';

/** Why something was not taken, with the sentence for a person. */
export type Refusal = { readonly reason: QuarantineReason; readonly channel: string | null; readonly says: string };

/** Our clock's and the device's may differ by so much before its time is not believed. */
export const MOST_AHEAD_MINUTES = 10;
export const MOST_OLD_DAYS = 400;

export function refuseUnit(channel: Channel, rule: ChannelRule, unit: string | undefined, rejected: UnitRejection): Refusal {
  const accepted = unitsOf(rule.quantity).join(', ');
  const shown = JSON.stringify(unit?.slice(0, 40));
  if (rejected === 'unit-unclear') {
    return { reason: 'unit-unclear', channel, says: `unit "%" of ${channel} can mean 0..1 or 0..100, and the values don't tell yet. They wait here and are released when it shows; or set percentAs for the channel in the registry, or send "/" or "/100".` };
  }
  if (rejected === 'no-unit') return { reason: 'unknown-unit', channel, says: `${channel} came without a unit. Let the gateway send u or bu: one of ${accepted}.` };
  const what = rejected === 'wrong-quantity' ? `unit ${shown} does not measure ${rule.quantity.replace('-', ' ')}, which ${channel} is` : `unit ${shown} of ${channel} is not known here`;
  return { reason: 'unknown-unit', channel, says: `${what}. Let the gateway send one of ${accepted}.` };
}

export function refuseRange(channel: Channel, rule: ChannelRule, value: number): Refusal {
  const [least, most] = rule.possible;
  const hint = rule.quantity === 'pressure' ? ' Check the unit, and whether the pressure is absolute (registry: channels, absolute).' : rule.quantity === 'state' ? ' Send a state as vb true or false.' : ' Check the unit and the sensor.';
  return { reason: 'out-of-range', channel, says: `${channel} would be ${Number(value.toPrecision(6))} ${rule.keptUnit}; possible is ${least} to ${most} ${rule.keptUnit}.${hint}` };
}

export function refuseClock(channel: Channel, atMs: number, nowMs: number): Refusal {
  const time = Number.isFinite(atMs) && Math.abs(atMs) <= 8.64e15 ? isoFromMs(atMs) : `${atMs / 1000} s`;
  return atMs > nowMs
    ? { reason: 'clock-ahead', channel, says: `${channel} is dated ${time}, which is more than ${MOST_AHEAD_MINUTES} minutes ahead of our ${isoFromMs(nowMs)}. Set the gateway's clock (NTP), or send times relative to now.` }
    : { reason: 'too-old', channel, says: `${channel} is dated ${time}, more than ${MOST_OLD_DAYS} days before our ${isoFromMs(nowMs)}. Set the gateway's clock; history is brought in with the import command.` };
}

export function refuseChannel(name: string): Refusal {
  return { reason: 'unknown-channel', channel: name.slice(0, 128), says: `channel ${JSON.stringify(name.slice(0, 80))} is none of ours; the rest of the pack was taken. Channels are: ${Object.keys(CHANNELS).join(', ')}, system-pressure.<riser>.` };
}

export function refuseKind(channel: Channel, rule: ChannelRule): Refusal {
  return { reason: 'malformed', channel, says: rule.quantity === 'state' ? `${channel} is a state: send vb true or false.` : `${channel} is a number: send it as v with a unit.` };
}
