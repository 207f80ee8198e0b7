import { useEffect, useRef, useState } from 'preact/hooks';
import type { LiveReading, Status } from '../../shared/api.ts';
import { get } from './api.ts';

/*
 * One stream of server-sent events for the page. The page's clock is the server's: with simulated readings a second there
 * may be a minute, and the machine at the desk may be wrong by hours.
 */

type Listener = { readonly tick?: () => void; readonly readings?: (readings: readonly LiveReading[]) => void };

let source: EventSource | undefined;
let sourceQuery: string | undefined;
let status: { readonly value: Status; readonly heardMs: number } | undefined;
let connected = false;
let lostAtMs: number | undefined;
const CONNECT_AGAIN_MS = 5000;
const listeners = new Set<Listener>();
const statusListeners = new Set<() => void>();

function tellStatus(): void {
  for (const listener of statusListeners) listener();
}

function takeStatus(value: Status): void {
  status = { value, heardMs: performance.now() };
  tellStatus();
}

/** Open the stream, or open it anew for another generator: `?site=&generator=` adds that one's readings. */
function connect(query: string): void {
  if (source !== undefined && sourceQuery === query) return;
  source?.close();
  sourceQuery = query;
  source = new EventSource(`/api/v1/live${query}`);
  source.addEventListener('open', () => {
    // What ticked while the line was down was missed: load anew.
    if (lostAtMs !== undefined) for (const listener of listeners) listener.tick?.();
    connected = true;
    lostAtMs = undefined;
    tellStatus();
  });
  source.addEventListener('error', () => {
    connected = false;
    lostAtMs ??= performance.now();
    tellStatus();
    // A refused stream is not tried again by the browser, unlike a broken one.
    const closed = source;
    if (closed?.readyState === EventSource.CLOSED) {
      window.setTimeout(() => {
        if (source !== closed) return;
        source = undefined;
        connect(query);
      }, CONNECT_AGAIN_MS);
    }
  });
  source.addEventListener('status', (event) => takeStatus(JSON.parse(event.data) as Status));
  source.addEventListener('tick', () => {
    for (const listener of listeners) listener.tick?.();
  });
  source.addEventListener('reading', (event) => {
    const readings = JSON.parse(event.data) as readonly LiveReading[];
    for (const listener of listeners) listener.readings?.(readings);
  });
}

/** Now, by the server's clock; `undefined` until it was heard. */
export function serverNowMs(): number | undefined {
  return status && Date.parse(status.value.nowAt) + (performance.now() - status.heardMs) * status.value.timeScale;
}

export type LiveStatus = {
  readonly status: Status | undefined;
  /** How long nothing has been heard from the server, by stream and status both, ms; a status comes every 2 s. */
  readonly silentForMs: number;
};

/** The newest status, and whether the line stands. The first is fetched, since the stream sends one only every 2 s. */
export function useStatus(): LiveStatus {
  const [, setRound] = useState(0);
  useEffect(() => {
    const listener = (): void => setRound((round) => round + 1);
    statusListeners.add(listener);
    if (status === undefined) get<Status>('/status').then(takeStatus, () => undefined);
    // A page that wants no ticks hears the status all the same: without a stream the server would seem silent.
    if (source === undefined) connect('');
    return () => {
      statusListeners.delete(listener);
    };
  }, []);
  const nowMs = performance.now();
  return { status: status?.value, silentForMs: Math.max(lostAtMs === undefined || connected ? 0 : nowMs - lostAtMs, status === undefined ? 0 : nowMs - status.heardMs) };
}

/** The server's time, renewed every `everyMs` of its own for ages, at most once a second; the browser's own until the server was heard. */
export function useNowMs(everyMs = 5000): number {
  const [nowMs, setNowMs] = useState(() => serverNowMs() ?? Date.now());
  const timeScale = status?.value.timeScale ?? 1;
  useEffect(() => {
    const renew = (): void => {
      if (status !== undefined) statusListeners.delete(renew);
      setNowMs(serverNowMs() ?? Date.now());
    };
    const timer = window.setInterval(renew, Math.max(1000, everyMs / timeScale));
    if (status === undefined) statusListeners.add(renew);
    return () => {
      window.clearInterval(timer);
      statusListeners.delete(renew);
    };
  }, [everyMs, timeScale]);
  return nowMs;
}

/** Keep the stream open for this page, and hear its ticks and readings. Ticks are handed on at most once a second. */
export function useLive(query: string, listener: Listener): void {
  const newest = useRef(listener);
  newest.current = listener;
  useEffect(() => {
    let waiting: number | undefined;
    const mine: Listener = {
      tick: () => {
        waiting ??= window.setTimeout(() => {
          waiting = undefined;
          newest.current.tick?.();
        }, 1000);
      },
      readings: (readings) => newest.current.readings?.(readings),
    };
    listeners.add(mine);
    connect(query);
    return () => {
      listeners.delete(mine);
      if (waiting !== undefined) window.clearTimeout(waiting);
    };
  }, [query]);
}
