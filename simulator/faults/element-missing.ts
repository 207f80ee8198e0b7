import { type FaultKind, means, severities } from './fault.ts';

/** Made by a visit: a bowl is closed without its element. What the element held back ages the membrane, weeks later. */
export const elementMissing: FaultKind = {
  cause: 'element-missing',
  variants: {
    coalescing: {
      measure: 'share of the permeance that the membrane has lost by now',
      severities: severities(means(0.005, 'just put together'), means(0.03, 'some weeks'), means(0.08, 'some months'), means(0.16, 'half a year')),
      apply: (dep, size) => {
        dep.elementMissing = true;
        dep.permeance *= 1 - size;
      },
    },
  },
};
