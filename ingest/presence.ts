import { type GeneratorKey, isId } from '../shared/ids.ts';
import type { PresenceEvent } from '../shared/log-event.ts';

/** A gateway has at most so many generators. */
const MAX_GENERATORS = 500;

/**
 * Read a gateway's presence message or will: `{"online":true,"generators":["gen-1"]}`. Offline time is receipt.
 * Gives the sentence of what is wrong otherwise.
 */
export function readPresence(payload: unknown, site: string, gateway: string, receivedMs: number): PresenceEvent | { readonly says: string } {
  if (typeof payload !== 'object' || payload === null || Array.isArray(payload)) return { says: 'presence must be a JSON object such as {"online":true,"generators":["gen-1"]}' };
  const { online, generators = [] } = payload as { online?: unknown; generators?: unknown };
  if (typeof online !== 'boolean') return { says: 'presence must say "online": true or false' };
  if (!Array.isArray(generators) || generators.length > MAX_GENERATORS || !generators.every((id) => typeof id === 'string' && isId(id))) {
    return { says: `"generators" of a presence must list the ids of at most ${MAX_GENERATORS} generators` };
  }
  return { atMs: receivedMs, site, gateway, online, generators: generators.map((id: string) => `${site}/${id}` as GeneratorKey) };
}

/** Whether a gateway says the same again, as a retained message does at each subscription. */
export function samePresence(a: PresenceEvent, b: PresenceEvent): boolean {
  return a.online === b.online && a.generators.length === b.generators.length && a.generators.every((key, index) => key === b.generators[index]);
}
