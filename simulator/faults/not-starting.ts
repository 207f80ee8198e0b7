import { type FaultKind, means, severities } from './fault.ts';

/** The motor doesn't answer the pressure switch: a contactor that sticks now and then, or for good. With the shape `comes-and-goes` it is the share of the time that matters. */
export const notStarting: FaultKind = {
  cause: 'not-starting',
  variants: {
    contactor: {
      measure: 'blocked when 0.5 or more',
      severities: severities(means(0.6, 'does not start'), means(0.7, 'does not start'), means(0.85, 'does not start'), means(1, 'does not start')),
      apply: (dep, size) => void (dep.startBlocked ||= size >= 0.5),
    },
  },
};
