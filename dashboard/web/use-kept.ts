import { useCallback, useRef, useState } from 'preact/hooks';

/*
 * What is typed into a form and not sent yet is kept in this browser, so that neither a page that is drawn anew nor a browser
 * that goes away loses it. It goes with the sending, with "Cancel", or after a week. The browser writes it to disk within seconds,
 * which is enough at a desk; a visit on a phone is kept with each key (visit/draft-store.ts).
 */

const PREFIX = 'lull.typed.';
const KEPT_MS = 7 * 86_400_000;

type Kept = { readonly atMs: number; readonly value: unknown };

function readKept(name: string): unknown {
  try {
    const text = window.localStorage.getItem(PREFIX + name);
    return text === null ? undefined : (JSON.parse(text) as Kept).value;
  } catch {
    return undefined;
  }
}

function writeKept(name: string, value: unknown): void {
  try {
    window.localStorage.setItem(PREFIX + name, JSON.stringify({ atMs: Date.now(), value } satisfies Kept));
  } catch {
    // A browser that keeps nothing, or has no room, keeps it as long as the page stands.
  }
}

function dropKept(name: string): void {
  try {
    window.localStorage.removeItem(PREFIX + name);
  } catch {
    // There is nothing then.
  }
}

/** Once when the pages are opened: what nobody came back to within a week. */
export function forgetOldTyping(): void {
  try {
    for (const key of Object.keys(window.localStorage).filter((one) => one.startsWith(PREFIX))) {
      const kept = JSON.parse(window.localStorage.getItem(key) ?? '{}') as Partial<Kept>;
      if (!(Date.now() - (kept.atMs ?? 0) < KEPT_MS)) window.localStorage.removeItem(key);
    }
  } catch {
    // Tidied another time.
  }
}

/** Whether something is kept under that name, so that its form is shown open. */
export function isKept(name: string): boolean {
  return readKept(name) !== undefined;
}

export type KeptState<T> = { readonly value: T; readonly set: (value: T) => void; /** Sent, or given up: begin anew with this, which isn't kept until it changes. */ readonly forget: (fresh: T) => void; /** It was there when the form opened. */ readonly found: boolean };

/**
 * State of a form, kept under `name` (one form, one name; a component that takes another name needs a key) from its first change
 * on. A text replaces `initial`; of an object only the fields that `initial` has are taken, each if it is of the same kind.
 */
export function useKept<T extends string | object>(name: string, initial: () => T): KeptState<T> {
  const first = useRef<{ readonly value: T; readonly found: boolean } | undefined>(undefined);
  first.current ??= withKept(readKept(name), initial());
  const [value, setValue] = useState<T>(first.current.value);
  const set = useCallback((next: T): void => {
    setValue(next);
    writeKept(name, next);
  }, [name]);
  const forget = useCallback((fresh: T): void => {
    setValue(fresh);
    dropKept(name);
  }, [name]);
  return { value, set, forget, found: first.current.found };
}

function withKept<T extends string | object>(kept: unknown, fresh: T): { readonly value: T; readonly found: boolean } {
  if (typeof fresh === 'string') return typeof kept === 'string' && kept !== '' ? { value: kept as T, found: true } : { value: fresh, found: false };
  if (typeof kept !== 'object' || kept === null) return { value: fresh, found: false };
  const fields = Object.entries(fresh).map(([field, value]: [string, unknown]): [string, unknown] => {
    const known = (kept as Record<string, unknown>)[field];
    return [field, typeof known === typeof value && Array.isArray(known) === Array.isArray(value) && known !== null ? known : value];
  });
  return { value: Object.fromEntries(fields) as T, found: true };
}
