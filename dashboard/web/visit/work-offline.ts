import { SYNC_TAG } from './send-waiting.ts';

type WithSync = ServiceWorkerRegistration & { readonly sync?: { register(tag: string): Promise<void> } };

/**
 * Let visits open without signal: a service worker keeps the files of the pages, for addresses below /visits only, so that
 * every other page is always the server's. Without HTTPS, except on this machine itself, browsers have none.
 */
export function workOffline(): void {
  if (!('serviceWorker' in navigator)) return;
  navigator.serviceWorker.register('/service-worker.js', { scope: '/visits' }).catch(() => undefined);
}

/**
 * Ask the browser to send what waits as soon as there is signal, also when the page is shut by then. Where it knows no such thing
 * the pages send it themselves when they are open.
 */
export function askToSync(): void {
  if (!('serviceWorker' in navigator)) return;
  const ask = async (): Promise<void> => {
    const registration: WithSync | undefined = await navigator.serviceWorker.getRegistration('/visits');
    await registration?.sync?.register(SYNC_TAG);
  };
  ask().catch(() => undefined);
}
