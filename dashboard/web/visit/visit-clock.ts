import { serverNowMs } from '../live.ts';

/** How far this phone's clock is from the server's, remembered: it goes on while there is no signal. */
const OFFSET = 'lull.clockOffsetMs';

/** Now, by the server's clock if it was ever heard; a phone whose own clock is wrong would else put a visit on the wrong day. */
export function visitNowMs(): number {
  const heardMs = serverNowMs();
  if (heardMs !== undefined) {
    remember(heardMs - Date.now());
    return heardMs;
  }
  return Date.now() + remembered();
}

function remember(offsetMs: number): void {
  try {
    window.localStorage.setItem(OFFSET, String(Math.round(offsetMs)));
  } catch {
    // Then the phone's own clock goes on.
  }
}

function remembered(): number {
  try {
    const value = Number(window.localStorage.getItem(OFFSET) ?? '0');
    return Number.isFinite(value) ? value : 0;
  } catch {
    return 0;
  }
}

/** An id for a visit or a photo made on this phone; the server never sees two alike. */
export function freshId(kind: 'visit' | 'photo'): string {
  const bytes = crypto.getRandomValues(new Uint8Array(10));
  return `${kind}-${[...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('')}`;
}
