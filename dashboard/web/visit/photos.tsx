import { useEffect, useState } from 'preact/hooks';
import type { Draft, PhotoDraft } from './draft.ts';
import { keepPhoto, loadPhotos } from './draft-store.ts';
import { smallPhoto } from './small-photo.ts';
import { freshId, visitNowMs } from './visit-clock.ts';

const MOST_PHOTOS = 12;

/** Photos, made small and kept on this phone until the server has them. */
export function Photos(props: { readonly draft: Draft; readonly generator: string; readonly says: string; readonly taken: () => void }) {
  const { draft } = props;
  const [photos, setPhotos] = useState<readonly PhotoDraft[]>([]);
  const [said, setSaid] = useState('');
  const load = (): void => void loadPhotos(draft.id).then(setPhotos, () => setSaid('This phone keeps no photos.'));
  useEffect(load, [draft.id, draft.sentSeq]);
  const take = async (file: File | undefined): Promise<void> => {
    if (file === undefined) return;
    try {
      await keepPhoto({ id: freshId('photo'), visit: draft.id, generator: props.generator, at: new Date(visitNowMs()).toISOString(), says: props.says, jpegBase64: await smallPhoto(file), sent: false });
      setSaid('');
      load();
      props.taken();
    } catch {
      setSaid('This picture could not be taken in. Try another.');
    }
  };
  const mine = photos.filter((photo) => photo.generator === props.generator && photo.says === props.says);
  return (
    <div class="photos">
      <label class="button photo-button">
        Take a photo {props.says}
        <input type="file" accept="image/*" capture="environment" class="hidden-words" disabled={photos.length >= MOST_PHOTOS} onChange={(event) => void take(event.currentTarget.files?.[0])} />
      </label>
      {said !== '' && <p class="problem" role="alert">{said}</p>}
      {mine.length > 0 && (
        <ul class="photo-list">
          {mine.map((photo) => (
            <li key={photo.id}>
              <img src={`data:image/jpeg;base64,${photo.jpegBase64}`} alt={`Photo ${photo.says}`} width={120} />
              <span class="under">{photo.refused ?? (photo.sent ? 'sent' : 'on this phone')}</span>
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}
