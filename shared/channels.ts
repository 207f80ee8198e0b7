import { isId } from './ids.ts';

/** What a channel measures; decides which units can be converted to what we keep. */
export type Quantity = 'state' | 'ratio' | 'duration' | 'count' | 'pressure' | 'temperature' | 'relative-humidity' | 'current';

export type BaseChannel = keyof typeof CHANNELS;
/** A channel as it is kept: a base channel, or `system-pressure.<riser>`. */
export type Channel = BaseChannel | `system-pressure.${string}`;

export type ChannelRule = {
  readonly quantity: Quantity;
  /** The unit that values are kept in, for people. */
  readonly keptUnit: string;
  /** SenML unit that a gateway sends; `null` for states, which come as `vb`. */
  readonly senmlUnit: string | null;
  /** A value outside is no measurement of this channel and waits in quarantine as `out-of-range`. In kept units. */
  readonly possible: readonly [number, number];
  readonly label: string;
};

const STATE = { quantity: 'state', keptUnit: '0/1', senmlUnit: null, possible: [0, 1] } as const;
const PRESSURE = { quantity: 'pressure', keptUnit: 'kPa', senmlUnit: 'Pa' } as const;
const TEMPERATURE = { quantity: 'temperature', keptUnit: '°C', senmlUnit: 'Cel' } as const;

/** Every channel, what it is kept as, and what can be possible in it (design, section 5). */
export const CHANNELS = {
  running: { ...STATE, label: 'compressor running' },
  producing: { ...STATE, label: 'membrane valve open' },
  duty: { quantity: 'ratio', keptUnit: 'ratio', senmlUnit: '/', possible: [0, 1], label: 'duty ratio as sent' },
  'run-time': { quantity: 'duration', keptUnit: 's', senmlUnit: 's', possible: [0, 1e10], label: 'hour meter' },
  starts: { quantity: 'count', keptUnit: 'count', senmlUnit: 'count', possible: [0, 1e9], label: 'start counter' },
  power: { ...STATE, label: 'mains present' },
  'tank-pressure': { ...PRESSURE, possible: [-105, 2500], label: 'tank pressure' },
  'discharge-pressure': { ...PRESSURE, possible: [-105, 2500], label: 'pressure before the elements' },
  'feed-pressure': { ...PRESSURE, possible: [-105, 2500], label: 'pressure after the elements' },
  'system-pressure': { ...PRESSURE, possible: [-105, 2500], label: 'piping pressure' },
  nitrogen: { quantity: 'ratio', keptUnit: 'ratio', senmlUnit: '/', possible: [0, 1.02], label: 'nitrogen' },
  oxygen: { quantity: 'ratio', keptUnit: 'ratio', senmlUnit: '/', possible: [-0.02, 1], label: 'oxygen' },
  'room-temperature': { ...TEMPERATURE, possible: [-60, 90], label: 'room temperature' },
  'tank-temperature': { ...TEMPERATURE, possible: [-60, 120], label: 'tank temperature' },
  'pipe-temperature': { ...TEMPERATURE, possible: [-60, 120], label: 'piping temperature' },
  'outdoor-temperature': { ...TEMPERATURE, possible: [-70, 70], label: 'outdoor temperature' },
  'discharge-temperature': { ...TEMPERATURE, possible: [-60, 300], label: 'discharge temperature' },
  humidity: { quantity: 'relative-humidity', keptUnit: '%', senmlUnit: '%RH', possible: [0, 100.5], label: 'room humidity' },
  'motor-current': { quantity: 'current', keptUnit: 'A', senmlUnit: 'A', possible: [-1, 500], label: 'motor current' },
} as const satisfies Record<string, ChannelRule>;

/** The base channel of a kept channel name. */
export function baseChannel(channel: Channel): BaseChannel {
  return channel.startsWith('system-pressure.') ? 'system-pressure' : (channel as BaseChannel);
}

export function channelRule(channel: Channel): ChannelRule {
  return CHANNELS[baseChannel(channel)];
}

/** Read a channel's name; `undefined` if it is none of ours. */
export function parseChannel(name: string): Channel | undefined {
  if (Object.hasOwn(CHANNELS, name)) return name as BaseChannel;
  const riser = name.startsWith('system-pressure.') ? name.slice('system-pressure.'.length) : '';
  return isId(riser) ? (name as Channel) : undefined;
}
