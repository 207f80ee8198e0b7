import type { Entry } from './entry.ts';
import type { GeneratorKey } from './ids.ts';
import { DAY_MS, isoFromMs } from './time.ts';

/** The last finished service of a generator: when it ended, and when that became known to us. */
export type LastService = { readonly endedAt: string; readonly recordedMs: number };
export type LastServices = Map<GeneratorKey, LastService>;

/** Work that was recorded longer ago isn't being checked any more: entries from so long back are enough to ask for. */
export const SERVED_WITHIN_MS = 60 * DAY_MS;

/** Take another entry into account; a test, a plan and an earlier service change nothing. */
export function addService(served: LastServices, entry: Entry, nowMs: number): void {
  const key = `${entry.site}/${entry.generator}` as GeneratorKey;
  const [endedMs, before] = [Date.parse(entry.finishedAt ?? entry.startedAt), served.get(key)];
  if (entry.kind !== 'service' || endedMs > nowMs || (before !== undefined && endedMs < Date.parse(before.endedAt))) return;
  served.set(key, { endedAt: isoFromMs(endedMs), recordedMs: Date.parse(entry.recordedAt) });
}

export function lastServices(entries: readonly Entry[], nowMs: number): LastServices {
  const served: LastServices = new Map();
  for (const entry of entries) addService(served, entry, nowMs);
  return served;
}
