import type { Draft, PhotoDraft } from './draft.ts';

/*
 * Drafts on the phone itself. Each change is written at once and on disk when the promise resolves ("strict"): a battery
 * that dies takes at most the key that was just pressed.
 */

const NAME = 'lull-visits';
let opened: Promise<IDBDatabase> | undefined;

function open(): Promise<IDBDatabase> {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.addEventListener('upgradeneeded', () => {
      request.result.createObjectStore('drafts', { keyPath: 'id' });
      request.result.createObjectStore('photos', { keyPath: 'id' }).createIndex('visit', 'visit');
    });
    request.addEventListener('success', () => resolve(request.result));
    request.addEventListener('error', () => reject(request.error ?? new Error('this browser keeps no drafts')));
  });
  return opened;
}

async function within<T>(store: 'drafts' | 'photos', mode: IDBTransactionMode, work: (store: IDBObjectStore) => IDBRequest<T>): Promise<T> {
  const db = await open();
  return await new Promise<T>((resolve, reject) => {
    const transaction = db.transaction(store, mode, { durability: 'strict' });
    const request = work(transaction.objectStore(store));
    transaction.addEventListener('complete', () => resolve(request.result));
    transaction.addEventListener('abort', () => reject(transaction.error ?? new Error('the draft could not be kept')));
  });
}

export async function loadDraft(id: string): Promise<Draft | undefined> {
  return (await within('drafts', 'readonly', (store) => store.get(id) as IDBRequest<Draft | undefined>)) ?? undefined;
}
export function loadDrafts(): Promise<readonly Draft[]> {
  return within('drafts', 'readonly', (store) => store.getAll() as IDBRequest<Draft[]>);
}
export async function keepDraft(draft: Draft): Promise<void> {
  await within('drafts', 'readwrite', (store) => store.put(draft));
}
export async function forgetDraft(id: string): Promise<void> {
  for (const photo of await loadPhotos(id)) await within('photos', 'readwrite', (store) => store.delete(photo.id));
  await within('drafts', 'readwrite', (store) => store.delete(id));
}
export function loadPhotos(visit: string): Promise<readonly PhotoDraft[]> {
  return within('photos', 'readonly', (store) => store.index('visit').getAll(visit) as IDBRequest<PhotoDraft[]>);
}
export async function keepPhoto(photo: PhotoDraft): Promise<void> {
  await within('photos', 'readwrite', (store) => store.put(photo));
}

/** Ask the browser not to clear us when its disk runs full; without an answer drafts are kept as long as it likes. */
export async function askToPersist(): Promise<void> {
  try {
    await navigator.storage.persist();
  } catch {
    // Older browsers have no such question.
  }
}
