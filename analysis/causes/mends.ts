import type { Part } from '../../shared/registry.ts';

/** Work on these takes demand away by right. */
export const MENDS_DEMAND: ReadonlySet<Part> = new Set(['o-rings', 'check-valve', 'regulator', 'drain']);
