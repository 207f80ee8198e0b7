import { holeMm2 } from '../plant/gas.ts';
import { type FaultKind, means, severities } from './fault.ts';

/** The valve between membrane and tank doesn't shut: nitrogen goes back and out through the membrane while the compressor rests. */
export const checkValveLeaking: FaultKind = {
  cause: 'check-valve-leaking',
  variants: {
    seat: {
      measure: 'diameter of the gap in the seat, mm',
      severities: severities(means(0.12, 'a grain on the seat'), means(0.22, 'a worn seat'), means(0.33, 'a broken spring'), means(0.48, 'hardly holds back')),
      apply: (dep, size) => {
        dep.checkLeakMm2 += holeMm2(size);
      },
    },
  },
};
