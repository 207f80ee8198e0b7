import { type FaultKind, means, severities } from './fault.ts';

/** Another supply (a fill bypass, shop air) holds the piping; the generator has nothing to do. */
export const supplyBypassed: FaultKind = {
  cause: 'supply-bypassed',
  variants: {
    bypass: {
      measure: 'risers held by another supply',
      severities: severities(means(1, 'one riser'), means(2, 'two risers'), means(3, 'three risers'), means(32, 'every riser')),
      apply: (dep, size, fault) => {
        for (let index = 0; index < dep.bypassed.length; index += 1) {
          const from = fault.riser ?? 0;
          if (index >= from && index < from + Math.ceil(size)) dep.bypassed[index] = true;
        }
      },
    },
  },
};
