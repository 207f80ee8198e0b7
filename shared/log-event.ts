import type { Entry } from './entry.ts';
import type { FindingAction } from './finding.ts';
import type { GeneratorKey } from './ids.ts';
import type { ReadingBatch } from './reading-batch.ts';
import type { RegistryChange } from './registry.ts';

/** A gateway said that it is there or (by its will) not; `atMs` is receipt. */
export type PresenceEvent = { readonly atMs: number; readonly site: string; readonly gateway: string; readonly online: boolean; readonly generators: readonly GeneratorKey[] };

/**
 * What analysis is a fold over, in order of receipt (design, section 4.3). Batches are sorted by `receivedMs`;
 * no event is earlier than one handed over before it.
 */
export type LogEvent =
  | { readonly kind: 'readings'; readonly batch: ReadingBatch }
  | { readonly kind: 'presence'; readonly event: PresenceEvent }
  | { readonly kind: 'entry'; readonly atMs: number; readonly entry: Entry }
  | { readonly kind: 'registry'; readonly atMs: number; readonly change: RegistryChange }
  | { readonly kind: 'closing'; readonly atMs: number; readonly action: FindingAction }
  | { readonly kind: 'quarantine'; readonly atMs: number; readonly generator: GeneratorKey; readonly reason: string; readonly count: number };
