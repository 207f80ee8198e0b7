import type { Cause, ClosingReason, Finding, FindingState } from '../../shared/finding.ts';
import type { NoticeChange } from '../../shared/notice.ts';

/** What of a finding was last looked at. */
export type Seen = { readonly state: FindingState; readonly cause: Cause; readonly shelved: boolean; readonly reason: ClosingReason | null };

export function seenOf(finding: Finding): Seen {
  return { state: finding.state, cause: finding.cause, shelved: finding.shelvedUntil !== null, reason: finding.closedReason };
}

/**
 * What happened to a finding since it was last looked at, as one change: of several the one that says most.
 * A finding that opened and closed unseen (while notices were held) is no news: `undefined`.
 */
export function changeOf(before: Seen | undefined, finding: Finding): NoticeChange | undefined {
  const now = seenOf(finding);
  if (before === undefined) return now.state === 'closed' ? undefined : 'opened';
  if (before.state !== 'closed' && now.state === 'closed') return 'closed';
  if (before.state === 'closed') return now.state === 'closed' ? undefined : 'reopened';
  if (before.cause !== now.cause) return 'cause-changed';
  if (before.shelved !== now.shelved) return now.shelved ? 'shelved' : 'off-the-shelf';
  if (before.state === now.state) return undefined;
  // The work did not help: that is as if it opened again, whoever took it before.
  if (before.state === 'verifying') return 'reopened';
  if (now.state === 'acknowledged') return before.state === 'new' ? 'acknowledged' : undefined;
  return now.state === 'planned' || now.state === 'verifying' ? now.state : undefined;
}
