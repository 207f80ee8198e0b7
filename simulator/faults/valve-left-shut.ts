import { type FaultKind, means, severities } from './fault.ts';

/** Made by a visit: the supply to a riser, or to all, stays shut. A valve is shut or it isn't: the severities differ in how many. */
export const valveLeftShut: FaultKind = {
  cause: 'valve-left-shut',
  variants: {
    supply: {
      measure: 'risers shut off',
      severities: severities(means(1, 'one riser'), means(2, 'two risers'), means(3, 'three risers'), means(32, 'every riser')),
      apply: (dep, size, fault) => {
        for (let index = 0; index < dep.valveShut.length; index += 1) {
          const from = fault.riser ?? 0;
          if (index >= from && index < from + Math.ceil(size)) dep.valveShut[index] = true;
        }
      },
    },
  },
};
