import { holeMm2 } from '../plant/gas.ts';
import { type FaultKind, means, severities } from './fault.ts';

/** A hole in what is held at pressure. Flow goes with area, so it is the area that grows. Sizes are those of a generator of about 28 NL/min. */
export const leak: FaultKind = {
  cause: 'leak',
  variants: {
    piping: {
      measure: 'diameter of the hole in the piping, mm',
      severities: severities(means(0.15, 'a weeping joint: under 0.5 NL/min'), means(0.3, 'a loose coupling: 1.7 NL/min'), means(0.48, 'a split gasket: 4.5 NL/min'), means(0.75, 'a cracked fitting: 11 NL/min')),
      apply: (dep, size, fault) => {
        const riser = fault.riser ?? 0;
        dep.pipeLeakMm2[riser] = (dep.pipeLeakMm2[riser] ?? 0) + holeMm2(size);
      },
    },
    tank: {
      measure: 'diameter of the hole at the tank, mm',
      severities: severities(means(0.1, 'a weeping thread: 0.4 NL/min'), means(0.2, 'a worn seat: 1.7 NL/min'), means(0.33, 'a drain left ajar: 4.6 NL/min'), means(0.5, 'a sample bleed open: 10.5 NL/min')),
      apply: (dep, size) => {
        dep.tankLeakMm2 += holeMm2(size);
      },
    },
  },
};
