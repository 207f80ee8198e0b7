import { type FaultKind, means, severities } from './fault.ts';

/** Dust, oil or damp loads the particulate and the coalescing element faster than running hours alone would. */
export const elementLoading: FaultKind = {
  cause: 'element-loading',
  variants: {
    fast: {
      measure: 'times the usual loading an hour',
      severities: severities(means(4, 'damp cellar: a life in a quarter of its hours'), means(10, 'works in the room'), means(22, 'oil carried over'), means(45, 'a life in a week or two')),
      apply: (dep, size) => {
        dep.loadingRate *= Math.max(1, size);
      },
    },
  },
};
