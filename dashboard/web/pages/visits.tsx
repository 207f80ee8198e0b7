import { useEffect, useState } from 'preact/hooks';
import type { Visit, VisitState } from '../../../shared/visit.ts';
import { weekdayWords } from '../../views/site-time.ts';
import { getAll } from '../api.ts';
import { useLive } from '../live.ts';
import { useResource } from '../use-resource.ts';
import type { Draft } from '../visit/draft.ts';
import { forgetDraft, loadDrafts } from '../visit/draft-store.ts';
import { sendWaiting } from '../visit/send-waiting.ts';
import { keepForLater } from '../visit/use-draft.ts';
import { visitNowMs } from '../visit/visit-clock.ts';
import { workOffline } from '../visit/work-offline.ts';

/** Visits that were planned or begun and are kept on this phone at sight, so that they open where there is no signal. */
const MOST_KEPT = 20;
/** A recorded visit leaves the phone this long after the server has all of it: both second looks are past. */
const FORGET_MS = 3 * 86_400_000;
const STATE_WORDS: Readonly<Record<VisitState, string>> = { draft: 'draft', planned: 'planned', 'under-way': 'under way', recorded: 'recorded', verified: 'verified', cancelled: 'cancelled' };

type Row = { readonly id: string; readonly href: string; readonly where: string; readonly says: string; readonly day: string };

/** What a technician opens in the morning: visits planned, and those that are on this phone. Works without signal. */
export function VisitsPage() {
  const [drafts, setDrafts] = useState<readonly Draft[] | undefined>(undefined);
  const trips = useResource<readonly Visit[]>('trips to do', async () => (await Promise.all((['planned', 'under-way'] as const).map((state) => getAll<Visit>('/trips', { state })))).flat());
  useLive('', { tick: trips.reload });
  const reload = (): void => void loadDrafts().then(setDrafts, () => setDrafts([]));
  useEffect(() => {
    document.title = 'Visits · Lull';
    workOffline();
    reload();
    // What was signed without signal goes from here too, whichever visit it is.
    const send = (): void => void sendWaiting().then(reload, () => undefined);
    send();
    window.addEventListener('online', send);
    return () => window.removeEventListener('online', send);
  }, []);
  useEffect(() => {
    const keep = async (): Promise<void> => {
      const known = await loadDrafts();
      for (const draft of known) if (draft.recordedAt !== null && draft.seq === draft.sentSeq && visitNowMs() - Date.parse(draft.recordedAt) > FORGET_MS) await forgetDraft(draft.id);
      // What the office took out of the plan and nobody began.
      for (const draft of known) if (trips.value !== undefined && draft.startedAt === null && draft.plan !== null && !trips.value.some((visit) => visit.id === draft.id)) await forgetDraft(draft.id);
      for (const visit of (trips.value ?? []).slice(0, MOST_KEPT)) if (!known.some((draft) => draft.id === visit.id && draft.revision === visit.revision)) await keepForLater(visit);
      reload();
    };
    keep().catch(() => undefined);
  }, [trips.value]);
  const rows = rowsOf(drafts ?? [], trips.value ?? []);
  const loading = drafts === undefined || (trips.value === undefined && trips.error === undefined);
  return (
    <div class="visit">
      <h1>Visits</h1>
      <p class="quiet">Those listed here open without signal once they were seen here with it. To begin one that nobody planned, open the page of the generator.</p>
      {trips.error !== undefined && <p class="problem" role="alert">No signal: {trips.error} What is on this phone is below.</p>}
      {loading && <p class="quiet">Loading the visits…</p>}
      {rows.length === 0 ? !loading && (
        <p>{trips.value === undefined ? 'No visit is on this phone.' : 'No visit is planned and none is on this phone.'}</p>
      ) : (
        <ul class="visit-rows">
          {rows.map((row) => (
            <li key={row.id}>
              <a href={row.href}>
                <strong>{row.where}</strong>
                <span class="under">{row.says}</span>
              </a>
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}

function rowsOf(drafts: readonly Draft[], trips: readonly Visit[]): readonly Row[] {
  const mine = new Map(drafts.map((draft) => [draft.id, draft]));
  const rows = trips.map((trip): Row => {
    const draft = mine.get(trip.id);
    return { id: trip.id, href: `/visits/${encodeURIComponent(trip.id)}`, day: trip.plannedFor ?? '', where: whereOf(draft, trip.site, trip.generators), says: [trip.plannedFor === null ? 'no day yet' : weekdayWords(trip.plannedFor), trip.plannedTime ?? '', trip.technician ?? 'nobody named', STATE_WORDS[trip.state], draft === undefined ? 'not on this phone yet' : stateOf(draft)].filter((text) => text !== '').join(', ') };
  });
  const alone = drafts.filter((draft) => !trips.some((trip) => trip.id === draft.id)).map((draft): Row => ({ id: draft.id, href: `/visits/${encodeURIComponent(draft.id)}`, day: draft.startedAt?.slice(0, 10) ?? draft.plan?.plannedFor ?? '', where: whereOf(draft, draft.site, draft.generators), says: stateOf(draft) }));
  return [...alone, ...rows].sort((a, b) => (a.day === b.day ? 0 : a.day < b.day ? -1 : 1));
}

function whereOf(draft: Draft | undefined, site: string, generators: readonly string[]): string {
  const cards = draft?.cards ?? {};
  return `${Object.values(cards)[0]?.detail.site.name ?? site}, ${generators.map((id) => cards[id]?.detail.generator.name ?? id).join(', ')}`;
}

function stateOf(draft: Draft): string {
  if (draft.startedAt === null) return 'on this phone';
  if (draft.signedAt === null) return draft.seq === draft.sentSeq ? 'begun on this phone' : 'begun on this phone, not all sent';
  return draft.recordedAt === null ? 'signed, waits for signal' : draft.seq === draft.sentSeq ? 'recorded' : 'a correction waits for signal';
}
