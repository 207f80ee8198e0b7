import type { VisitPhotoRow } from '../../../shared/issued-record.ts';
import { timeWords } from '../../views/site-time.ts';
import { get } from '../api.ts';
import { useResource } from '../use-resource.ts';

/** All photos of a visit that the server has, by whichever phone they came; a click opens one in its own size. */
export function VisitPhotos(props: { readonly visit: string; readonly zone: string; /** Changes when there may be more. */ readonly round: number | string }) {
  const path = `/trips/${encodeURIComponent(props.visit)}/photos`;
  const photos = useResource<readonly VisitPhotoRow[]>(`${path} ${props.round}`, () => get<readonly VisitPhotoRow[]>(path));
  const rows = photos.value ?? [];
  if (photos.error !== undefined) return <p class="quiet">Photos: {photos.error}</p>;
  if (photos.value === undefined) return null;
  return (
    <section class="visit-photos" aria-label="Photos of this visit">
      <h3>Photos of this visit ({rows.length})</h3>
      {rows.length === 0 ? <p class="quiet">The server has none.</p> : (
        <ul class="photo-list">
          {rows.map((photo) => (
            <li key={photo.id}>
              <a href={`/api/v1${path}/${encodeURIComponent(photo.id)}`} target="_blank" rel="noopener">
                <img src={`/api/v1${path}/${encodeURIComponent(photo.id)}`} alt={`${photo.generator}: ${photo.says}`} width={120} loading="lazy" />
              </a>
              <span class="under">
                {photo.generator}, {photo.says}, {timeWords(Date.parse(photo.at), props.zone)}
              </span>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
