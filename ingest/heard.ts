import type { GeneratorKey } from '../shared/ids.ts';
import { DEFAULT_REPORT_EVERY_S, reportEveryFromGaps } from '../shared/reporting.ts';
import type { RegistryLookup } from './accept.ts';

/** Packets closer than this are one hearing, s: a burst of late ones says nothing about how often a gateway reports. */
const ONE_HEARING_S = 5;
const GAPS_REMEMBERED = 200;
const GAPS_BETWEEN_SORTS = 20;
const MAX_GENERATORS = 20_000;

export type Heard = { readonly lastHeardMs: number; readonly reportEveryS: number };
/** What survives a restart, by generator; plain JSON. */
export type HeardState = { firstMs: number; lastMs: number; gapsS: number[]; everyS: number };

/** When each generator was last heard and how often it reports. */
export type HeardBook = {
  hear(generator: GeneratorKey, receivedMs: number): void;
  of(generator: GeneratorKey): Heard | undefined;
  /** States that changed since the last call, to be saved. */
  takeChanged(): readonly (readonly [GeneratorKey, HeardState])[];
};

/** @param saved states by generator, as `takeChanged` gave them. */
export function createHeardBook(registry: RegistryLookup, saved: Iterable<readonly [GeneratorKey, HeardState]> = []): HeardBook {
  const states = new Map<GeneratorKey, HeardState>(saved);
  const changed = new Set<GeneratorKey>();
  return {
    hear(generator, receivedMs) {
      const state = states.get(generator);
      if (state === undefined) {
        if (states.size < MAX_GENERATORS) states.set(generator, { firstMs: receivedMs, lastMs: receivedMs, gapsS: [], everyS: DEFAULT_REPORT_EVERY_S });
      } else {
        step(state, receivedMs);
      }
      changed.add(generator);
    },
    of(generator) {
      const state = states.get(generator);
      if (state === undefined) return undefined;
      return { lastHeardMs: state.lastMs, reportEveryS: registry(generator)?.generator.reportEveryS ?? state.everyS };
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

/** Take one hearing into the state; the quantile is worked out anew every 20 gaps, as sorting each time would cost more than decoding. */
function step(state: HeardState, receivedMs: number): void {
  const gapS = (receivedMs - state.lastMs) / 1000;
  state.lastMs = Math.max(state.lastMs, receivedMs);
  if (gapS < ONE_HEARING_S) return;
  state.gapsS.push(Math.round(gapS));
  if (state.gapsS.length > GAPS_BETWEEN_SORTS && state.gapsS.length % GAPS_BETWEEN_SORTS !== 0) return;
  state.everyS = reportEveryFromGaps(state.gapsS, (state.lastMs - state.firstMs) / 1000);
  if (state.gapsS.length >= GAPS_REMEMBERED) state.gapsS.splice(0, GAPS_REMEMBERED / 2);
}
