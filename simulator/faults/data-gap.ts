import { type FaultKind, means, severities } from './fault.ts';

/** The gateway measures and sends nothing; what happened meanwhile is lost. */
export const dataGap: FaultKind = {
  cause: 'data-gap',
  variants: {
    gateway: {
      measure: 'silent when 0.5 or more',
      severities: severities(means(0.6, 'silent'), means(0.7, 'silent'), means(0.85, 'silent'), means(1, 'silent')),
      apply: (dep, size) => void (dep.silent ||= size >= 0.5),
    },
  },
};
