import type { Visit } from '../../../shared/visit.ts';
import { post, RequestError } from '../api.ts';
import type { Draft, PhotoDraft } from './draft.ts';
import { keepPhoto, loadPhotos } from './draft-store.ts';
import { bodyOf } from './visit-body.ts';

/** A line that neither answers nor breaks is given up after this, ms; what was sent may have arrived, and is sent again. */
const PATIENCE_MS = 45_000;

/** What came of a sending: the server has it, it said no, or it wasn't reached and will be tried again. */
export type Sent = { readonly kind: 'kept'; readonly visit: Visit } | { readonly kind: 'refused'; readonly says: string } | { readonly kind: 'unreached' };

/**
 * Send a draft as it is, then its photos. The server knows it again by its id and by what it says, so that a sending whose
 * answer was lost is simply sent again. A photo that doesn't go through never holds up the visit.
 */
export async function sendVisit(draft: Draft): Promise<Sent> {
  let visit: Visit;
  try {
    visit = await post<Visit>(`/trips/${encodeURIComponent(draft.id)}/work`, bodyOf(draft), AbortSignal.timeout(PATIENCE_MS));
  } catch (error) {
    const says = refusal(error);
    return says === undefined ? { kind: 'unreached' } : { kind: 'refused', says };
  }
  for (const photo of await loadPhotos(draft.id)) if (!photo.sent && photo.refused === undefined) await sendPhoto(photo, draft.technician);
  return { kind: 'kept', visit };
}

/** The server's no in its own words; `undefined` when it was not reached, or is not itself and may be later. */
function refusal(error: unknown): string | undefined {
  if (!(error instanceof RequestError) || error.status === undefined || error.status >= 500 || error.status === 429) return undefined;
  return error.message;
}

async function sendPhoto(photo: PhotoDraft, technician: string): Promise<void> {
  const { id, generator, at, says, jpegBase64 } = photo;
  try {
    await post(`/trips/${encodeURIComponent(photo.visit)}/photos`, { id, generator, at, says, jpegBase64, by: technician.trim() === '' ? 'not named' : technician.trim() }, AbortSignal.timeout(PATIENCE_MS));
    await keepPhoto({ ...photo, sent: true });
  } catch (error) {
    const refused = refusal(error);
    if (refused !== undefined) await keepPhoto({ ...photo, refused });
  }
}
