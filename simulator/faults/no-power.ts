import { type FaultKind, means, severities } from './fault.ts';

/** No mains. A gateway with a `power` channel has a battery and says so; another falls silent. */
export const noPower: FaultKind = {
  cause: 'no-power',
  variants: {
    breaker: {
      measure: 'off when 0.5 or more',
      severities: severities(means(0.6, 'off'), means(0.7, 'off'), means(0.85, 'off'), means(1, 'off')),
      apply: (dep, size) => void (dep.powerOff ||= size >= 0.5),
    },
  },
};
