import { type FaultKind, means, severities } from './fault.ts';

/** The pressure switch doesn't open at cut-out: the relief valve holds the tank, and the compressor runs. */
export const runsWithoutEnd: FaultKind = {
  cause: 'runs-without-end',
  variants: {
    switch: {
      measure: 'welded when 0.5 or more',
      severities: severities(means(0.6, 'does not stop'), means(0.7, 'does not stop'), means(0.85, 'does not stop'), means(1, 'does not stop')),
      apply: (dep, size) => void (dep.stopBlocked ||= size >= 0.5),
    },
  },
};
