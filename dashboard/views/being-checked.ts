import type { Finding } from '../../shared/finding.ts';
import { clockWords, dateWords } from './site-time.ts';

/** A finding as far as its line must know of work: the state, and when the last service since it was found ended. */
export type DoneWork = { readonly state: Finding['state'] | null; readonly servedAt: string | null };

const HOUR_MS = 3_600_000;
/** The looks back at a visit that come by themselves; then one whenever a day closes. */
const LOOK_HOURS = [4, 24] as const;
/** After that, what is still found is found anew by what was seen since. */
const FRESH_MS = 24 * HOUR_MS;

/** The end of the last service of the generator, where it came after the finding. */
export function servedSince(finding: Pick<Finding, 'openedAt'>, servedAt: string | null): string | null {
  return servedAt !== null && Date.parse(servedAt) > Date.parse(finding.openedAt) ? servedAt : null;
}

/** The work is done and what was found isn't seen any more: nobody needs to go at once, whatever the cause. */
export function isBeingChecked({ state }: Pick<DoneWork, 'state'>): boolean {
  return state === 'verifying';
}

/** `29 Nov, 14:30`; a list has no room for the present year. */
function momentWords(ms: number, zone: string, nowMs: number): string {
  return `${dateWords(ms, zone, nowMs)}, ${clockWords(ms, zone)}`;
}

/** When the work ended, and when it is looked at again. */
export function checkedWords({ servedAt }: Pick<DoneWork, 'servedAt'>, zone: string, nowMs: number): string {
  if (servedAt === null) return 'it closes once readings show that it helped';
  const doneMs = Date.parse(servedAt);
  const next = LOOK_HOURS.map((hours) => doneMs + hours * HOUR_MS).find((atMs) => atMs > nowMs);
  const until = next === undefined ? 'looked at again as each day ends, until enough is seen' : `looked at again ${momentWords(next, zone, nowMs)}`;
  return `work ended ${momentWords(doneMs, zone, nowMs)}; ${until}`;
}

/** What a line says of the work: that it is being checked, or, for a day, that it is done and what was found is still seen. */
export function workWords({ state, servedAt }: DoneWork, zone: string, nowMs: number): string | null {
  if (isBeingChecked({ state })) return `the work is done and being checked: ${checkedWords({ servedAt }, zone, nowMs)}`;
  if (state === 'closed' || servedAt === null || nowMs - Date.parse(servedAt) > FRESH_MS) return null;
  return `work ended ${momentWords(Date.parse(servedAt), zone, nowMs)}; not seen yet that it helped`;
}
