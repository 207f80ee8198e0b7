import type { GeneratorKey } from '../shared/ids.ts';
import type { Opened } from './judge-packet.ts';

/** Under which generator the readings are kept that arrive under this id; the registry's `publishesAs` says so. */
export type KeptAs = (published: GeneratorKey) => GeneratorKey;

export const AS_PUBLISHED: KeptAs = (published) => published;

/**
 * What a packet holds, under the generator that it belongs to. Two generators whose gateways were exchanged, or one whose gateway
 * got a new id, keep their histories this way: the log, and all that is folded from it, knows only the kept id.
 */
export function underKeptId(opened: Opened, keptAs: KeptAs): Opened {
  if (opened.kind === 'readings') return { ...opened, generator: keptAs(opened.generator) };
  if (opened.kind === 'presence') return { ...opened, event: { ...opened.event, generators: opened.event.generators.map(keptAs) } };
  if (opened.kind === 'refused' && opened.generator !== null) return { ...opened, generator: keptAs(opened.generator) };
  return opened;
}
