import { StoreError } from '../../shared/errors.ts';
import type { ReadingStore } from '../../shared/store/reading-store.ts';

export type FailingStore = ReadingStore & { failing: boolean; refusals: number; afterwards: boolean };

/** The store given, which refuses to take readings while `failing`; with `afterwards` only after it has kept them. */
export function failingStore(store: ReadingStore): FailingStore {
  const wrapped: FailingStore = {
    ...store,
    failing: false,
    refusals: 0,
    afterwards: false,
    async append(batch) {
      if (wrapped.failing && wrapped.afterwards) await store.append(batch);
      if (wrapped.failing) {
        wrapped.refusals += 1;
        throw new StoreError('the disk is full');
      }
      return store.append(batch);
    },
  };
  return wrapped;
}
