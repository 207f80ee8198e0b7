import { type FaultKind, means, severities } from './fault.ts';

/** The motor's protector opens before cut-out is reached, cools for twelve minutes and lets it go on. */
export const stopsShort: FaultKind = {
  cause: 'stops-short',
  variants: {
    protector: {
      measure: 'a tenth of the minutes by which a run falls short of ten',
      severities: severities(means(0.2, 'opens after 8 min'), means(0.4, 'after 6 min'), means(0.6, 'after 4 min'), means(0.8, 'after 2 min')),
      apply: (dep, size) => void (dep.tripsAfterMin = Math.max(0.5, 10 * (1 - size))),
    },
  },
};
