import type { GeneratorKey } from '../shared/ids.ts';
import { type GapState, heardAt, reportEveryS, startGaps } from '../shared/reporting.ts';
import type { RegistryLookup } from './accept.ts';

const MAX_GENERATORS = 20_000;

export type Heard = { readonly lastHeardMs: number; readonly reportEveryS: number };
/** When each generator was last heard and how often it reports. */
export type HeardBook = {
  hear(generator: GeneratorKey, receivedMs: number): void;
  of(generator: GeneratorKey): Heard | undefined;
  /** States that changed since the last call, to be saved. */
  takeChanged(): readonly (readonly [GeneratorKey, GapState])[];
};

/** @param saved states by generator, as `takeChanged` gave them. */
export function createHeardBook(registry: RegistryLookup, saved: Iterable<readonly [GeneratorKey, GapState]> = []): HeardBook {
  const states = new Map<GeneratorKey, GapState>(saved);
  const changed = new Set<GeneratorKey>();
  return {
    hear(generator, receivedMs) {
      let state = states.get(generator);
      if (state === undefined) {
        if (states.size >= MAX_GENERATORS) return;
        state = startGaps();
        states.set(generator, state);
      }
      heardAt(state, receivedMs);
      changed.add(generator);
    },
    of(generator) {
      const state = states.get(generator);
      if (state === undefined) return undefined;
      return { lastHeardMs: state.lastMs, reportEveryS: reportEveryS(state, registry(generator)?.generator.reportEveryS) };
    },
    takeChanged() {
      const taken = [...changed].flatMap((generator) => {
        const state = states.get(generator);
        return state === undefined ? [] : [[generator, state] as const];
      });
      changed.clear();
      return taken;
    },
  };
}
