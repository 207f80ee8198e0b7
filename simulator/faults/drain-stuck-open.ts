import { holeMm2 } from '../plant/gas.ts';
import { type FaultKind, means, severities } from './fault.ts';

/** Dirt keeps a bowl's drain from shutting: air is lost before the elements. Comes and goes with the dirt, or stays. */
export const drainStuckOpen: FaultKind = {
  cause: 'drain-stuck-open',
  variants: {
    float: {
      measure: 'gap in the seat, mm',
      severities: severities(means(0.3, 'a hair'), means(0.5, 'a grain of rust'), means(0.75, 'a flake of rust'), means(1.0, 'hangs open')),
      apply: (dep, size) => {
        dep.drainMm2 += holeMm2(size);
      },
    },
    timer: {
      measure: 'gap in the seat, mm, as a hole that is always open: a timed drain that opens too long',
      severities: severities(means(0.25, 'twice as long'), means(0.45, 'six times as long'), means(0.65, 'half of the time'), means(0.9, 'does not shut')),
      apply: (dep, size) => {
        dep.drainMm2 += holeMm2(size);
      },
    },
  },
};
