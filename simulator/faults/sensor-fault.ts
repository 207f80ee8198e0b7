import { CHANNELS, baseChannel, type Channel } from '../../shared/channels.ts';
import { type FaultKind, means, severities } from './fault.ts';

/** Full scale of a severity of 1, in the channel's own unit. */
const SCALES: Readonly<Record<string, number>> = { pressure: 100, ratio: 0.02, temperature: 15, 'relative-humidity': 40, current: 3 };

function scale(channel: Channel): number {
  // A cell that ages gives less current: less oxygen is read than there is.
  return (SCALES[CHANNELS[baseChannel(channel)].quantity] ?? 1) * (channel === 'oxygen' ? -1 : 1);
}

const sizes = severities(means(0.08, 'within the scatter of a week'), means(0.2, 'plain beside another gauge'), means(0.5, 'the balance no longer closes'), means(1, 'leaves what is possible'));

const present = severities(means(0.6, 'it is so'), means(0.7, 'it is so'), means(0.85, 'it is so'), means(1, 'it is so'));

/** One sensor lies: it freezes, stands off, drifts (use the shape `ramp`), sends a wrong unit, reads absolute pressure for gauge, or has its wires swapped with another; or the names or wires of two generators are exchanged as a whole. An ageing oxygen cell reads less oxygen, and follows it later, so nitrogen looks better. */
export const sensorFault: FaultKind = {
  cause: 'sensor-fault',
  variants: {
    offset: { measure: 'share of the scale', severities: sizes, apply: (dep, size, fault) => void (fault.channel !== undefined && (dep.sensor = { channel: fault.channel, kind: 'offset', size: size * scale(fault.channel) })) },
    drift: { measure: 'share of the scale', severities: sizes, apply: (dep, size, fault) => void (fault.channel !== undefined && (dep.sensor = { channel: fault.channel, kind: 'offset', size: size * scale(fault.channel) })) },
    unit: {
      measure: 'share of the value lost',
      severities: severities(means(0.0193, 'kgf/cm² taken for bar'), means(0.1, 'span set a tenth too short'), means(0.5, 'half of the span'), means(0.855, 'psi sent as kPa')),
      apply: (dep, size, fault) => void (fault.channel !== undefined && (dep.sensor = { channel: fault.channel, kind: 'scale', size })),
    },
    absolute: { measure: 'reads from vacuum when above 0', severities: present, apply: (dep, size, fault) => void (fault.channel !== undefined && size > 0 && (dep.sensor = { channel: fault.channel, kind: 'absolute', size: 1 })) },
    swapped: { measure: 'wires of two sensors exchanged when above 0', severities: present, apply: (dep, size, fault) => void (fault.channel !== undefined && fault.otherChannel !== undefined && size > 0 && (dep.sensor = { channel: fault.channel, kind: 'swap', size: 1, other: fault.otherChannel })) },
    ageing: {
      drawn: false, measure: 'share of the cell\'s answer lost',
      severities: severities(means(0.1, 'within what a cell is calibrated to'), means(0.25, 'due for a change'), means(0.45, 'past its life'), means(0.65, 'hardly answers')),
      apply: (dep, size, fault) => void (fault.channel !== undefined && (dep.sensor = { channel: fault.channel, kind: 'ageing', size })),
    },
    exchanged: { drawn: false, measure: 'sent under the name of another generator when above 0', severities: present, apply: (dep, size, fault) => void (fault.otherGenerator !== undefined && size > 0 && (dep.exchanged = true)) },
    freeze: { measure: 'frozen when above 0', severities: sizes, apply: (dep, size, fault) => void (fault.channel !== undefined && size > 0 && (dep.sensor = { channel: fault.channel, kind: 'freeze', size: 0 })) },
  },
};
