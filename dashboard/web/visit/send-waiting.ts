import { keepDraft, loadDraft, loadDrafts } from './draft-store.ts';
import { sendVisit } from './send-visit.ts';

/** The name under which the browser is asked to wake us when there is signal again. */
export const SYNC_TAG = 'lull-visits';

/**
 * Send every visit on this phone that the server doesn't have as it is now; gives how many still wait for signal. Runs in a page
 * and in the service worker, also at the same time: the server knows a visit again by its id and by what it says.
 */
export async function sendWaiting(): Promise<number> {
  let waiting = 0;
  for (const draft of await loadDrafts()) {
    if (draft.startedAt === null || draft.seq === draft.sentSeq || draft.refused !== null) continue;
    const sent = await sendVisit(draft);
    // What was typed while it was on its way is kept, and is sent the next time.
    const latest = (await loadDraft(draft.id)) ?? draft;
    if (sent.kind === 'kept') await keepDraft({ ...latest, sentSeq: draft.seq, revision: sent.visit.revision, plan: sent.visit, recordedAt: sent.visit.recordedAt, refused: null });
    else if (sent.kind === 'refused') await keepDraft({ ...latest, refused: sent.says });
    else waiting += 1;
  }
  return waiting;
}
