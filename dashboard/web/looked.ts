/** Until when this browser's reader has seen what was found; what was found after it is new to them. */
const LOOKED = 'lull.looked-at';

export function lookedAtMs(): number | undefined {
  try {
    const kept = Number(window.localStorage.getItem(LOOKED));
    return kept > 0 ? kept : undefined;
  } catch {
    return undefined;
  }
}

export function rememberLooked(atMs: number): void {
  try {
    window.localStorage.setItem(LOOKED, String(Math.round(atMs)));
  } catch {
    // A browser that keeps nothing shows everything as seen.
  }
}
