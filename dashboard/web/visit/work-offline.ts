/**
 * Let visits open without signal: a service worker keeps the files of the pages, for addresses below /visits only, so that
 * every other page is always the server's. Without HTTPS, except on this machine itself, browsers have none.
 */
export function workOffline(): void {
  if (!('serviceWorker' in navigator)) return;
  navigator.serviceWorker.register('/service-worker.js', { scope: '/visits' }).catch(() => undefined);
}
