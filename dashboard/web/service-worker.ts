import { sendWaiting, SYNC_TAG } from './visit/send-waiting.ts';

/*
 * Sends visits that wait once there is signal, and keeps the files of the pages for addresses below /visits. The list of files is written in by the build; with every build it
 * changes, and with it this file, which is how a browser learns that there is something new. Data are never kept here: drafts
 * stand in the page's own database.
 */

type Waiting = Event & { waitUntil(work: Promise<unknown>): void };
type Asked = Event & { readonly request: Request; respondWith(answer: Promise<Response>): void };
type Scope = { addEventListener(type: 'install' | 'activate', listener: (event: Waiting) => void): void; addEventListener(type: 'fetch', listener: (event: Asked) => void): void; addEventListener(type: 'sync', listener: (event: Waiting & { readonly tag: string }) => void): void; skipWaiting(): Promise<void>; readonly clients: { claim(): Promise<void> }; readonly location: Location };

const scope = self as unknown as Scope;
/** Replaced by the build with the names of its files and their hash. */
const FILES = '__FILES__'.split(' ');
const CACHE = 'lull-__HASH__';
const PAGE = '/';

scope.addEventListener('install', (event) => event.waitUntil(keepFiles()));
scope.addEventListener('activate', (event) => event.waitUntil(takeOver()));
scope.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== scope.location.origin || url.pathname.startsWith('/api/')) return;
  if (request.mode === 'navigate') {
    if (url.pathname === '/visits' || url.pathname.startsWith('/visits/')) event.respondWith(kept(PAGE, request));
  } else if (FILES.includes(url.pathname)) event.respondWith(kept(url.pathname, request));
});

scope.addEventListener('sync', (event) => {
  if (event.tag === SYNC_TAG) event.waitUntil(sendAll());
});

/** A refusal of this promise makes the browser try again later. */
async function sendAll(): Promise<void> {
  const waiting = await sendWaiting();
  if (waiting > 0) throw new Error(`${waiting} visits still wait for signal`);
}

async function keepFiles(): Promise<void> {
  const cache = await caches.open(CACHE);
  await cache.addAll([PAGE, ...FILES].map((path) => new Request(path, { cache: 'reload' })));
  await scope.skipWaiting();
}

/** What an older build kept goes once this one has all of its own. */
async function takeOver(): Promise<void> {
  for (const name of await caches.keys()) if (name.startsWith('lull-') && name !== CACHE) await caches.delete(name);
  await scope.clients.claim();
}

async function kept(path: string, request: Request): Promise<Response> {
  return (await (await caches.open(CACHE)).match(path)) ?? (await fetch(request));
}
