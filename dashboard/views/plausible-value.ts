import type { Channel } from '../../shared/channels.ts';

export type Plausibility = { readonly plausible: boolean; readonly plausibleSays: string };

/** A span in which a channel usually reads, in kept units, and what a value outside it most often means. Common practice, no source. */
type Usual = { readonly from: number; readonly to: number; readonly below: string; readonly above: string };

const TANK: Usual = { from: 30, to: 1300, below: 'an empty tank, or a gateway that sends bar or psi and says Pa', above: 'absolute pressure or another unit than the pack says' };
const FEED: Usual = { from: -10, to: 1500, below: 'an absolute sensor read as gauge, or a broken wire', above: 'another unit than the pack says' };
const AMBIENT: Usual = { from: -40, to: 55, below: 'a broken wire', above: 'degrees Fahrenheit sent as Celsius' };

const USUAL: Readonly<Partial<Record<string, Usual>>> = {
  'tank-pressure': TANK,
  'discharge-pressure': FEED,
  'feed-pressure': FEED,
  'system-pressure': { from: 30, to: 700, below: 'piping without pressure, or a gateway that sends bar or psi and says Pa', above: 'another unit than the pack says' },
  nitrogen: { from: 0.7, to: 1, below: 'oxygen sent as nitrogen, or per cent taken for a ratio', above: 'a sensor that wants calibration' },
  oxygen: { from: 0, to: 0.25, below: 'a sensor that wants calibration', above: 'nitrogen sent as oxygen' },
  'room-temperature': AMBIENT,
  'pipe-temperature': AMBIENT,
  'outdoor-temperature': AMBIENT,
  'tank-temperature': { ...AMBIENT, to: 80 },
  'discharge-temperature': { from: -40, to: 220, below: 'a broken wire', above: 'degrees Fahrenheit sent as Celsius' },
  humidity: { from: 1.5, to: 100, below: 'a ratio sent as per cent', above: 'a wet or broken sensor' },
  'motor-current': { from: -0.5, to: 120, below: 'a clamp put on the wrong way', above: 'milliamperes sent as amperes' },
};

/** Whether the newest value of a channel looks as if its unit was understood. A hint for the person who connects a gateway, no finding. */
export function plausibleValue(channel: Channel, value: number): Plausibility {
  const usual = USUAL[channel.split('.')[0] ?? channel];
  if (usual === undefined) return { plausible: true, plausibleSays: 'any value of this channel is usual' };
  if (value >= usual.from && value <= usual.to) return { plausible: true, plausibleSays: `within what is usual here: ${usual.from} to ${usual.to}` };
  return { plausible: false, plausibleSays: `unusual here (usual is ${usual.from} to ${usual.to}): may be ${value < usual.from ? usual.below : usual.above}` };
}
