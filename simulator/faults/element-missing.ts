import { type FaultKind, means, severities } from './fault.ts';

/** Made by a visit: a bowl is closed without its element. What the element held back ages the membrane, weeks later. Or elements are logged as changed and are still the old ones: nothing moves that should have. */
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
    'not-changed': {
      measure: 'logged as changed and left in place when above 0; the visit names the parts',
      severities: severities(means(0.6, 'it is so'), means(0.7, 'it is so'), means(0.85, 'it is so'), means(1, 'it is so')),
      apply: () => undefined,
    },
  },
};
