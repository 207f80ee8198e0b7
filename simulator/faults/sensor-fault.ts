import { CHANNELS, baseChannel, type Channel } from '../../shared/channels.ts';
import { type FaultKind, means, severities } from './fault.ts';

/** Full scale of a severity of 1, in the channel's own unit. */
const SCALES: Readonly<Record<string, number>> = { pressure: 100, ratio: 0.02, temperature: 15, 'relative-humidity': 40, current: 3 };

function scale(channel: Channel): number {
  return SCALES[CHANNELS[baseChannel(channel)].quantity] ?? 1;
}

const sizes = severities(means(0.08, 'within the scatter of a week'), means(0.2, 'plain beside another gauge'), means(0.5, 'the balance no longer closes'), means(1, 'leaves what is possible'));

/** One sensor lies: it freezes, stands off, or drifts (use the shape `ramp`). An ageing oxygen cell reads less oxygen, so nitrogen looks better. */
export const sensorFault: FaultKind = {
  cause: 'sensor-fault',
  variants: {
    offset: { measure: 'share of the scale', severities: sizes, apply: (dep, size, fault) => void (fault.channel !== undefined && (dep.sensor = { channel: fault.channel, kind: 'offset', size: size * scale(fault.channel) })) },
    drift: { measure: 'share of the scale', severities: sizes, apply: (dep, size, fault) => void (fault.channel !== undefined && (dep.sensor = { channel: fault.channel, kind: 'drift', size: size * scale(fault.channel) })) },
    freeze: { measure: 'frozen when above 0', severities: sizes, apply: (dep, size, fault) => void (fault.channel !== undefined && size > 0 && (dep.sensor = { channel: fault.channel, kind: 'freeze', size: 0 })) },
  },
};
