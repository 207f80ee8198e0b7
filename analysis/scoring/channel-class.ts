import type { BaseChannel } from '../../shared/channels.ts';

/** Channel sets as the bars of diagnosis part them. */
export const CHANNEL_CLASSES = ['all channels', 'run state + tank + nitrogen', 'duty + tank + nitrogen', 'others'] as const;
export type ChannelClass = (typeof CHANNEL_CLASSES)[number];

const ALL: readonly BaseChannel[] = ['running', 'tank-pressure', 'discharge-pressure', 'feed-pressure', 'system-pressure', 'nitrogen'];

/** More channels than a class asks for change nothing: what it can tell apart is the same. */
export function channelClassOf(channels: readonly BaseChannel[]): ChannelClass {
  const has = (...some: readonly BaseChannel[]): boolean => some.every((channel) => channels.includes(channel));
  if (has(...ALL)) return 'all channels';
  if (has('running', 'tank-pressure', 'nitrogen')) return 'run state + tank + nitrogen';
  return has('duty', 'tank-pressure', 'nitrogen') ? 'duty + tank + nitrogen' : 'others';
}
