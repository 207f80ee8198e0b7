import type { DayRow } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { Finding } from '../shared/finding.ts';
import type { LogEvent, PresenceEvent } from '../shared/log-event.ts';
import { generatorsOf, type RegisteredGenerator } from '../shared/registry.ts';
import type { HotState, RecordStore } from '../shared/store/record-store.ts';
import { tickAfter, TICK_MS } from '../shared/time.ts';
import { DAY_WAITS_MS } from './cycles/descriptors.ts';
import type { WatchState } from './generator-watch.ts';
import { readWatch } from './saved-state.ts';

/** An event that isn't readings, with its receipt. */
export type TimedEvent = { readonly atMs: number } & Exclude<LogEvent, { readonly kind: 'readings' }>;

/** What an analysis that starts again takes up: what was known at the oldest save, and what came after it. */
export type Past = {
  /** The fold goes on from here; 0 when nothing was saved. */
  readonly fromMs: number;
  readonly lastTickMs: number;
  readonly registered: readonly RegisteredGenerator[];
  readonly closed: readonly Finding[];
  readonly saved: readonly { readonly hot: HotState; readonly state: WatchState; readonly history: readonly DayRow[] }[];
  readonly entries: readonly Entry[];
  readonly presenceBefore: readonly PresenceEvent[];
  readonly events: readonly TimedEvent[];
};

/** Read it from the records. Readings are read by the caller, from `fromMs` on. */
export async function loadPast(records: RecordStore): Promise<Past> {
  const hotStates = await records.hotStates();
  const lastTickMs = await records.lastTickMs();
  const hasState = new Set(hotStates.map((hot) => hot.generator));
  // A generator that was heard first since the oldest save has no state yet, only a mark that it is to be folded.
  const unsaved = (await records.dirty()).filter((mark) => !hasState.has(mark.generator)).map((mark) => tickAfter(mark.receivedMs) - TICK_MS);
  const oldestMs = Math.min(...hotStates.map((hot) => hot.tickMs), ...(hotStates.length > 0 ? unsaved : []));
  const fromMs = Number.isFinite(oldestMs) ? oldestMs : 0;
  const events: TimedEvent[] = [];
  const registered: RegisteredGenerator[] = [];
  for (const change of await records.registryChanges()) {
    if (change.recordedAtMs < fromMs || fromMs === 0) registered.push(...generatorsOf({ sites: [change.site] }));
    else events.push({ kind: 'registry', atMs: change.recordedAtMs, change });
  }
  const presence = await records.presenceSince(0);
  for (const event of presence) if (event.atMs >= fromMs) events.push({ kind: 'presence', atMs: event.atMs, event });
  for (const action of await records.actions({ fromMs })) if (action.action === 'close') events.push({ kind: 'closing', atMs: action.atMs, action });
  const saved = [];
  for (const hot of hotStates) {
    const state = readWatch(hot.state);
    const rows = await records.days({ generator: hot.generator });
    saved.push({ hot, state, history: rows.filter((row) => !row.provisional && row.endMs + DAY_WAITS_MS <= state.fold.frontierMs) });
  }
  const closed = (await records.findings({ open: false })).filter((finding) => finding.state === 'closed');
  return { fromMs, lastTickMs, registered, closed, saved, entries: await records.entries(), presenceBefore: presence.filter((event) => event.atMs < fromMs), events };
}
