import type { GeneratorKey } from './ids.ts';
import type { RegistryChange, SiteRecord } from './registry.ts';

/** Of each site the change that holds now: the one valid latest, of those the one known latest. */
export function newestChanges(changes: readonly RegistryChange[]): ReadonlyMap<string, RegistryChange> {
  const newest = new Map<string, RegistryChange>();
  for (const change of changes) {
    const known = newest.get(change.site.id);
    if (known === undefined || replaces(change, known)) newest.set(change.site.id, change);
  }
  return newest;
}

/** Whether a change takes the place of one that is known of the same site. */
export function replaces(change: RegistryChange, known: RegistryChange): boolean {
  return change.validFromMs > known.validFromMs || (change.validFromMs === known.validFromMs && change.recordedAtMs >= known.recordedAtMs);
}

/** From the key that a gateway publishes under to the key that its readings are kept under; only those that differ. */
export function keptKeys(sites: readonly SiteRecord[]): ReadonlyMap<GeneratorKey, GeneratorKey> {
  return new Map(sites.flatMap((site) => site.generators.flatMap((one) => (one.publishesAs === undefined || one.publishesAs === one.id ? [] : [[`${site.id}/${one.publishesAs}` as GeneratorKey, `${site.id}/${one.id}` as GeneratorKey] as const]))));
}
