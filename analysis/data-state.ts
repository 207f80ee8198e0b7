import type { Channel } from '../shared/channels.ts';
import type { DayRow } from '../shared/cycle.ts';
import type { Entry } from '../shared/entry.ts';
import type { DataState } from '../shared/finding.ts';
import type { RegisteredGenerator } from '../shared/registry.ts';
import { isSilent } from '../shared/reporting.ts';
import { HOUR_MS } from '../shared/time.ts';
import { isTest } from './causes/mends.ts';

/** A test that nobody said the end of is taken as four hours; common practice, no source. */
const UNENDED_MS = 4 * HOUR_MS;

export type HeardOf = { readonly registered: RegisteredGenerator; readonly entries: readonly Entry[]; readonly history: readonly DayRow[]; readonly noPower: boolean; readonly learning: boolean; readonly lastHeardMs: number; readonly reportEveryS: number };

/** Data state of a generator; where several hold, the later in the list of the design wins. */
export function dataStateOf(heard: HeardOf, nowMs: number): DataState {
  if (heard.registered.generator.outOfService) return 'out-of-service';
  if (heard.entries.some((entry) => isTestAt(entry, nowMs))) return 'under-test';
  if (heard.noPower) return 'no-power';
  if (heard.lastHeardMs === 0 || isSilent(heard.lastHeardMs, heard.reportEveryS, nowMs)) return 'not-reporting';
  if (hasSilentChannel(heard.history)) return 'partly-reporting';
  return heard.learning ? 'learning' : 'reporting';
}

/** When work that somebody logged is taken to end, ms. */
export function endsMs({ startedAt, finishedAt }: Entry): number {
  return finishedAt === undefined ? Date.parse(startedAt) + UNENDED_MS : Date.parse(finishedAt);
}

function isTestAt(entry: Entry, nowMs: number): boolean {
  return isTest(entry) && Date.parse(entry.startedAt) <= nowMs && nowMs < endsMs(entry);
}

/** A channel that was heard on at least five of the seven days before is silent on the newest. */
function hasSilentChannel(history: readonly DayRow[]): boolean {
  const last = history.slice(-8);
  const newest = last.pop();
  if (newest === undefined || last.length < 7) return false;
  const often = new Map<string, number>();
  for (const row of last) for (const channel of Object.keys(row.heard)) often.set(channel, (often.get(channel) ?? 0) + 1);
  return [...often].some(([channel, days]) => days >= 5 && newest.heard[channel as Channel] === undefined);
}
