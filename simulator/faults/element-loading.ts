import { type FaultKind, means, severities } from './fault.ts';

/** Dust, oil or damp loads the particulate and the coalescing element faster than running hours alone would. */
export const elementLoading: FaultKind = {
  cause: 'element-loading',
  variants: {
    fast: {
      measure: 'times the usual loading an hour',
      severities: severities(means(3, 'damp cellar'), means(6, 'works in the room'), means(12, 'oil carried over: a life in two hundred hours'), means(30, 'a life in eighty hours')),
      apply: (dep, size) => {
        dep.loadingRate *= Math.max(1, size);
      },
    },
  },
};
